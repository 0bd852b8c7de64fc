"""A number that may be a slip of the finger: asked back before anything rests on it, taken back by
its correction, told the same day where nobody answers. The next three mornings are played."""

from __future__ import annotations

import pytest
from world import Voice, World


async def some_days(world: World, *, until_slip: str = "07:30") -> tuple[Voice, Voice]:
    """Ilse, and Ana with six quiet days behind her and the morning's questions before her."""
    ilse, ana = await world.clinician("Ilse"), await world.patient("Ana")
    for day in range(6):
        await world.at("07:30")
        await ana.says("2 10")
        if day % 2 == 0:
            await world.at("19:05")
            for reply in ("3 2 1 3", "no 0"):
                await ana.says(reply)
    await world.at(until_slip)
    ana.hears()
    ilse.hears()
    return ilse, ana


async def loads(world: World, ana: Voice) -> list[bool]:
    """On which of the next three mornings there is a session, or rest for a day between two."""
    on = []
    for _ in range(3):
        await world.at("07:30")
        said = " ".join(await ana.says("2 10"))
        if "orst" in said and "Sets" not in said:
            await ana.says("2")
        action, reason = await world.decision(ana)
        on.append(action != "stop" and reason != "warning-sign")
    return on


# What Ana writes at 07:30, what is asked back, and what she writes at 07:31.
SLIPS = {
    "one key too many": ("11 10", "11 of 10, is that right?", ("1 10",)),
    "ten for one": ("10 10", "10 of 10, is that right?", ("1 10",)),
    "said to be wrong": ("10 10", "10 of 10", ("no", "1 10")),
    "said in passing": ("10 10", "10 of 10", ("sorry i meant 1",)),
    "taken for right by mistake": ("10 10", "10 of 10", ("yes", "sorry 1 10")),
    "the same, sent again": ("10 10", "10 of 10", ("yes", "1 10")),
}


@pytest.mark.parametrize(("typed", "asked", "then"), SLIPS.values(), ids=SLIPS)
async def test_a_slip_and_its_correction_leave_nothing_behind(
    world: World, typed: str, asked: str, then: tuple[str, ...]
) -> None:
    """It is asked back; put right, it leaves no alarm, no stop and no number."""
    ilse, ana = await some_days(world)
    said = await ana.says(typed)
    assert [asked in one for one in said] == [True]
    assert ilse.hears() == []
    await world.at("07:31")
    for reply in then:
        await ana.says(reply)
    kept = await world.answers(ana)
    assert kept["first-step-pain", world.now.date()] == 1
    told = " ".join(ilse.hears())
    assert ("has corrected the number" in told) == ("yes" in then)
    assert all(one.closed_at is not None for one in await world.escalations(ana))
    assert (await world.decision(ana))[0] != "stop"
    assert await loads(world, ana) == [True] * 3
    assert "SAME DAY" not in " ".join(ilse.hears())


async def test_a_step_back_that_rested_on_the_slip_is_taken_back(world: World) -> None:
    """The place on the ladder is the one before."""
    _ilse, ana = await some_days(world)
    await world.put_at(ana, 3, 1)
    await ana.says("7 40")
    before = await world.decision(ana)
    await world.at("07:31")
    await ana.says("sorry 1 10")
    assert await world.decision(ana) != before
    assert await world.position(ana) == (3, 1)


@pytest.mark.parametrize("typed", ["10 10", "11 10"])
async def test_silence_lets_the_number_stand_and_tells_it_the_same_day(
    world: World, typed: str
) -> None:
    """Unanswered for an hour it is no slip."""
    ilse, ana = await some_days(world)
    await ana.says(typed)
    await world.at("08:29")
    assert (ilse.hears(), ana.hears()) == ([], [])
    await world.at("08:31")
    assert "SAME DAY. Ana" in ilse.hears()[0]
    assert "seen by a doctor today" in ana.hears()[0]
    assert (await world.answers(ana))["first-step-pain", world.now.date()] == 10
    assert [one.tier.value for one in await world.escalations(ana)] == ["same day"]
    assert await loads(world, ana) == [False] * 3


async def test_what_words_tell_beside_the_number_is_not_asked_back(world: World) -> None:
    """A warning sign in words waits for nothing."""
    ilse, ana = await some_days(world)
    said = " ".join(await ana.says("10 my calf is swollen and hot"))
    assert "seen by a doctor today" in said
    assert "is that right" not in said
    assert "SAME DAY. Ana" in ilse.hears()[0]


async def test_ten_is_no_surprise_after_six(world: World) -> None:
    """What is no leap is raised at once."""
    ilse, ana = await some_days(world)
    await ana.says("6 20")
    await world.at("07:30")
    assert "is that right" not in " ".join(await ana.says("10 30"))
    assert "SAME DAY. Ana" in ilse.hears()[0]


# What Ana writes after 10 was told; none of it is a slip of the number alone.
STAYS = {
    "two hours later": ("09:35", "sorry 1 10"),
    "a lesser alarm": ("07:32", "sorry 9 10"),
}


@pytest.mark.parametrize(("clock", "text"), STAYS.values(), ids=STAYS)
async def test_an_alarm_stays_where_the_correction_does_not_end_it(
    world: World, clock: str, text: str
) -> None:
    """It comes too late, or is still too high."""
    _ilse, ana = await some_days(world)
    for reply in ("10 10", "yes", "no", "no", "no"):
        await ana.says(reply)
    await world.at(clock)
    await ana.says(text)
    assert all(one.closed_at is None for one in await world.escalations(ana))
    assert await loads(world, ana) == [False] * 3


async def test_words_that_were_added_are_never_taken_back(world: World) -> None:
    """A number that is put right does not unsay them."""
    _ilse, ana = await some_days(world)
    for reply in ("10 10", "yes", "no", "no", "no"):
        await ana.says(reply)
    await ana.says("the pain is unbearable")
    await ana.says("sorry 1 10")
    assert [one.closed_at for one in await world.escalations(ana)] == [None]
