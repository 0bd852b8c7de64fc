"""Escalations end with a person, and make few alarms: joined words, the daily list, who holds what,
the rota, and whoever cannot be reached."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from typing import Any

import pytest
from world import MONDAY, Voice, World, world_at

from bot.clinic import Shift
from bot.escalations.rota import is_on_duty, next_list_at
from bot.rehearsal.clinic import ZONE, made_up_clinic
from bot.store import people
from bot.store.people import Role
from rules.working_hours import WorkingHours

WORRY = "my whole calf is swollen and tender since yesterday"
AGAIN = "my calf is more swollen and tender now"
SNAP = "heard a loud snap and now i cant push off that foot at all"
CAN_WAIT = "both heels are stiff for over an hour"


async def person(world: World, name: str, role: Role) -> Voice:
    """Somebody of the clinic with any role, on the chat."""

    def add(store: Any) -> None:
        added = people.add(store, role, name, world.now, zone=ZONE)
        people.add_contact(store, added.id, "chat", name.lower(), world.now)

    await world.stage.run(add)
    return Voice(world, name)


async def erased(world: World, name: str) -> None:
    """The clinician's data is gone; only the row is left."""
    sql = "UPDATE people SET erased_at = '2026-03-02' WHERE name = :name"
    await world.stage.run(lambda s: s.change(sql, {"name": name}) and None)


# Joined words


async def test_the_same_sign_again_joins_and_the_holder_hears_it_once(world: World) -> None:
    """No new matter and no new chase: whoever has it is told the new words, once."""
    ilse, bram = await world.clinician("Ilse"), await world.clinician("Bram")
    patient = await world.patient()
    await patient.says(WORRY)
    await ilse.says("I have it 1")

    await patient.says(AGAIN)
    await world.at("16:00")

    heard = [text for text in ilse.hears() if AGAIN in text]
    assert len(heard) == 1
    assert "1 (Ana), which you have" in heard[0]
    assert len(await world.escalations(patient)) == 1
    assert bram.hears() == []


@pytest.mark.parametrize(
    ("later", "matters"),
    [
        pytest.param(timedelta(hours=12, seconds=-1), 1, id="just within twelve hours"),
        pytest.param(timedelta(hours=12), 2, id="at twelve hours"),
        pytest.param(timedelta(hours=12, seconds=1), 2, id="over twelve hours"),
    ],
)
async def test_after_the_window_the_same_sign_is_a_new_matter(
    world: World, later: timedelta, matters: int
) -> None:
    """Twelve hours after "I have it", a same-day sign is chased anew."""
    ilse = await world.clinician("Ilse")
    patient = await world.patient()
    await patient.says(WORRY)
    await ilse.says("I have it 1")

    await world.goes_to(world.now + later)
    await patient.says(AGAIN)

    assert len(await world.escalations(patient)) == matters


async def test_a_more_urgent_sign_never_joins_a_lesser_one(world: World) -> None:
    """A snap after a swollen calf is an alarm of its own."""
    ilse = await world.clinician("Ilse")
    patient = await world.patient()
    await patient.says(WORRY)
    await ilse.says("I have it 1")

    await patient.says(SNAP)

    assert any("EMERGENCY" in text or "SAME DAY" in text for text in ilse.hears())
    assert len(await world.escalations(patient)) == 2


async def test_new_words_that_cannot_reach_the_holder_are_chased(world: World) -> None:
    """The holder's telephone is dead: the words become a matter, and go down the rota."""
    ilse, bram = await world.clinician("Ilse", ("chat",)), await world.clinician("Bram")
    patient = await world.patient()
    await patient.says(WORRY)
    await ilse.says("I have it 1")
    world.stage.chat.closed_addresses.add("ilse")
    bram.hears()

    await patient.says(AGAIN)

    assert any(AGAIN in text for text in bram.hears())
    assert len(await world.escalations(patient)) == 2


async def test_what_the_daily_look_finds_again_is_not_told_again(world: World) -> None:
    """Silence that goes on, with a clinician on it, makes no message a day."""
    ilse = await world.clinician("Ilse")
    patient = await world.patient()
    await world.at("08:20", days=4)
    (matter,) = await world.escalations(patient)
    await ilse.says(f"I have it {matter.id}")

    await world.at("20:00", days=1)

    assert matter.sign == "silence"
    assert ilse.hears() == []
    assert len(await world.escalations(patient)) == 1


# The daily list


async def test_a_notice_waits_for_the_list_and_comes_once_in_four_weeks(world: World) -> None:
    """Mornings answered, no session ever: told on the next working day, and four weeks later."""
    ilse = await world.clinician("Ilse")
    patient = await world.patient()
    listed, raised = [], []
    for _ in range(22):  # every other morning, the first on day 2
        await patient.says("2 10")
        await world.at("08:30", days=1)
        raised.append(len(await world.escalations(patient)))
        if said := ilse.hears():
            listed += said
            number = raised[-1]
            await ilse.says(f"I have it {number}")
            await ilse.says(f"closed {number} spoke to them")

    assert (raised.index(1), raised.index(2), raised[-1]) == (6, 20, 2)
    assert {one.sign for one in await world.escalations(patient)} == {"not-exercising"}
    assert [text.split(":")[0] for text in listed] == ["For today, 1"] * 2
    assert "1 Ana: 0 of 7 sessions done in 14 days, since Mon 16 Mar" in listed[0]


async def test_what_can_wait_comes_in_one_list_a_quarter_after_opening(world: World) -> None:
    """Two matters, one message, each with its number; nothing before the next morning."""
    ilse = await world.clinician("Ilse")
    ana, bea = await world.patient("Ana"), await world.patient("Bea")
    await ana.says(CAN_WAIT)
    await bea.says(CAN_WAIT)
    await world.goes_to(datetime(2026, 3, 3, 8, 14, 59, tzinfo=UTC))
    before = ilse.hears()

    await world.goes_to(datetime(2026, 3, 3, 8, 15, tzinfo=UTC))

    (listed,) = ilse.hears()
    assert before == []
    assert "1 Ana:" in listed
    assert "2 Bea:" in listed
    assert "I HAVE THEM ALL" in listed


async def test_i_have_them_all_takes_all_that_waits_alarms_first(world: World) -> None:
    """All that whoever says it was told of, each named; who hears nothing is named as well."""
    ilse = await world.clinician("Ilse")
    ana, bea, cleo = [await world.patient(name) for name in ("Ana", "Bea", "Cleo")]
    await ana.says(CAN_WAIT)
    await bea.says("stop")
    await world.at("08:20")
    await cleo.says(WORRY)

    said = await ilse.says("I have them all")

    taken = [(await world.escalations(one))[0].acknowledged_at for one in (ana, bea, cleo)]
    assert 'You have 3 (Cleo), 1 (Ana), 2 (Bea). The others were told: "Ilse' in said[0]
    assert "Bea sent STOP or cannot be reached here" in said[0]
    assert None not in taken


async def test_nobody_takes_all_of_what_only_others_were_told_of(world: World) -> None:
    """Refused, and an alarm that waits is named and left alone; where nothing waits, said so."""
    await world.clinician("Ilse")
    bram = await world.clinician("Bram")
    patient = await world.patient()
    nothing = await bram.says("I have them all")
    await patient.says(WORRY)

    said = await bram.says("I have them all")

    assert "nothing that was sent to you" in nothing[0]
    assert "say which one, with its number: 1 (Ana)" in said[0]
    assert (await world.escalations(patient))[0].acknowledged_at is None


async def test_nobody_is_sent_two_lists_a_day_and_the_chase_goes_on(world: World) -> None:
    """First Ilse, four hours later Bram, the next days again, in the end everyone; never Done."""
    ilse, bram = await world.clinician("Ilse"), await world.clinician("Bram")
    patient = await world.patient()
    await patient.says(CAN_WAIT)

    days = []
    for _ in range(4):
        await world.at("20:00", days=0 if days else 1)
        days.append((len(ilse.hears()), len(bram.hears())))

    lists = await world.rows("SELECT text FROM outbox WHERE escalation = 1 ORDER BY id")
    assert all(max(counts) <= 1 for counts in days[:3])
    assert days[0] == (1, 1)
    assert any("NOBODY HAS TAKEN IT YET" in row["text"] for row in lists)
    assert (await world.escalations(patient))[0].acknowledged_at is None


async def test_a_list_whose_channel_is_dead_goes_to_the_next_at_once(world: World) -> None:
    """All that was in it is told on the other channel, the same morning."""
    ilse = await world.clinician("Ilse")
    ana, bea = await world.patient("Ana"), await world.patient("Bea")
    await ana.says(CAN_WAIT)
    await bea.says(CAN_WAIT)
    world.stage.chat.closed_addresses.add("ilse")

    await world.at("08:16")

    (listed,) = [text for text in ilse.hears() if text.startswith("For today")]
    assert "1 Ana:" in listed
    assert "2 Bea:" in listed


@pytest.mark.parametrize(
    ("at", "expected"),
    [
        pytest.param("2026-03-02T08:14", "2026-03-02T08:15", id="before the hour"),
        pytest.param("2026-03-02T08:15", "2026-03-02T08:15", id="at the hour"),
        pytest.param("2026-03-02T08:16", "2026-03-03T08:15", id="after the hour"),
        pytest.param("2026-03-06T12:00", "2026-03-09T08:15", id="over a weekend"),
    ],
)
def test_the_hour_of_the_list(at: str, expected: str) -> None:
    """A quarter of an hour after opening, on working days only."""
    found = next_list_at(datetime.fromisoformat(f"{at}+00:00"), WorkingHours(ZONE))

    assert found == datetime.fromisoformat(f"{expected}+00:00")


# Who holds what


async def test_after_i_have_it_a_button_closes_it(world: World) -> None:
    """One press shows what the patient will get, YES closes, and words may be added after."""
    ilse = await world.clinician("Ilse")
    patient = await world.patient()
    await patient.says(WORRY)
    await ilse.presses("I have it")

    shown = await ilse.presses("Sent on")
    said = await ilse.presses("Yes")
    noted = await ilse.says("note 1 calf is soft")

    (told,) = patient.hears()[-1:]
    assert told in shown[0]
    assert f'closed: sent on. Ana was told: "{told}"' in said[0]
    assert "Kept with 1" in noted[0]
    assert (await world.escalations(patient))[0].closed_at is not None


async def test_a_late_acknowledgement_hears_that_it_is_closed(world: World) -> None:
    """Nothing is opened again."""
    ilse, bram = await world.clinician("Ilse"), await world.clinician("Bram")
    patient = await world.patient()
    await patient.says(WORRY)
    await ilse.says("closed 1 rest until Friday")
    await ilse.says("yes")

    said = await bram.says("I have it 1")

    assert said == ["Ilse closed 1 (Ana) before: rest. Nothing was changed."]


async def test_anyone_of_the_clinic_may_close_and_the_holder_hears_it(world: World) -> None:
    """In the holder's absence; who closed it stands in the history."""
    ilse, bram = await world.clinician("Ilse"), await world.clinician("Bram")
    patient = await world.patient()
    await patient.says(WORRY)
    await ilse.says("I have it 1")
    patient.hears()

    await bram.says("closed 1 stays stopped")
    await bram.says("yes")

    (told,) = patient.hears()
    assert ilse.hears() == [
        f'Bram has closed 1 (Ana), which you had: stays stopped. Ana was told: "{told}"'
    ]
    assert "closed Bram: stays stopped" in (await ilse.says("history 1"))[0]


async def test_a_holder_who_leaves_gives_the_matter_back(world: World) -> None:
    """Whoever is next in the rota is told at once; the one who left is not."""
    ilse, bram = await world.clinician("Ilse"), await world.clinician("Bram")
    patient = await world.patient()
    await patient.says(WORRY)
    await ilse.says("I have it 1")
    bram.hears()

    await erased(world, "Ilse")
    await world.goes_to(world.now + timedelta(minutes=31))

    assert any("SAME DAY" in text for text in bram.hears())
    assert (await world.escalations(patient))[0].acknowledged_at is None


async def test_a_clinician_who_opted_out_is_not_told(world: World) -> None:
    """The next one is told at once instead."""
    ilse, bram = await world.clinician("Ilse"), await world.clinician("Bram")
    patient = await world.patient()
    sql = "UPDATE people SET opted_out_at = '2026-03-02T09:00:00Z' WHERE name = 'Ilse'"
    await world.stage.run(lambda s: s.change(sql, {}) and None)

    await patient.says(WORRY)

    assert ilse.hears() == []
    assert len(bram.hears()) == 1


async def test_the_notice_says_all_that_a_clinician_needs(world: World) -> None:
    """Who, their words, since when, three days in one line, what they were told, what to do."""
    ilse = await world.clinician("Ilse")
    patient = await world.patient()

    await patient.says(WORRY)

    (notice,) = ilse.hears()
    for part in ("Ana", WORRY, "Mon 02 Mar 09:00", "Sun no answer", "Was told:", "Suggested:"):
        assert part in notice


async def test_the_history_shows_each_step_and_who(world: World) -> None:
    """Raised, told, acknowledged, closed, with names; the list without a number."""
    ilse = await world.clinician("Ilse")
    patient = await world.patient()
    await patient.says(WORRY)
    await ilse.says("I have it 1")
    await ilse.says("closed 1 not worrying, all well")
    await ilse.says("yes")

    (one,) = await ilse.says("history 1")
    (every,) = await ilse.says("history")

    for step in (
        "raised",
        "told Ilse on chat",
        "acknowledged Ilse",
        "closed Ilse: not worrying all well",
    ):
        assert step in one
    assert "Ana" in every
    assert every.endswith("closed")


# The rota

WEEK = frozenset(range(5))


@pytest.mark.parametrize(
    ("now", "on_duty"),
    [
        pytest.param("2026-03-02T17:59", False, id="just before the shift"),
        pytest.param("2026-03-02T18:00", True, id="as it begins"),
        pytest.param("2026-03-03T07:59", True, id="just before its end the next morning"),
        pytest.param("2026-03-03T08:00", False, id="at its end"),
        pytest.param("2026-03-07T03:00", True, id="the night after Friday"),
        pytest.param("2026-03-08T03:00", False, id="the night after Saturday"),
        pytest.param("2026-03-04T20:00", False, id="a day off"),
    ],
)
def test_a_shift_over_midnight(now: str, on_duty: bool) -> None:
    """It belongs to the day on which it begins."""
    off = frozenset({datetime(2026, 3, 4, tzinfo=UTC).date()})
    shift = Shift("Ilse", time(18), time(8), WEEK, off)
    at = datetime.fromisoformat(f"{now}+00:00")

    found = is_on_duty((shift,), "Ilse", at, made_up_clinic().zone_info)

    assert found == on_duty


@pytest.mark.parametrize(
    ("opens", "first"),
    [
        pytest.param(time(8), "bram", id="who is on duty is told first"),
        pytest.param(time(12), "ilse", id="nobody on duty: all, in their order"),
    ],
)
async def test_whoever_is_on_duty_is_told(tmp_path: Path, opens: time, first: str) -> None:
    """The rota decides at the moment of the alarm."""
    shift = Shift("Bram", opens, time(18), WEEK)
    world = world_at(tmp_path / "w.sqlite", MONDAY, replace(made_up_clinic(), rota=(shift,)))
    async with world.stage:
        await world.clinician("Ilse")
        await world.clinician("Bram")
        patient = await world.patient()

        await patient.says(WORRY)

        told = [line.address for line in world.lines if "SAME DAY" in line.text]
    assert told == [first]
