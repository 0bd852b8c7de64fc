"""What waits for a YES: asked about, kept for a quarter of an hour, carried out once."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from world import Voice, World, world_at

from bot.operations.erasure import erase
from bot.store import people

BIG = "level Ana 3 1"
NOTHING = "Not done: nothing waits for a YES or a NO."


ASKED_FIRST = ("level Ana 2 2", BIG, "hops Ana yes", "limit Ana 5", "discharge Ana")
DONE_AT_ONCE = (
    "level Ana 1 1", "level Ana 1 2", "level Ana 2 1", "hops Ana no", "limit Ana 4", "limit Ana 2",
    "rest Ana",
)  # fmt: skip


async def test_what_is_bold_or_final_is_asked_about_first(world: World) -> None:
    """Until the YES nothing has changed and the patient hears nothing; all else is done at once."""
    ilse = await world.clinician("Ilse")
    ana = await world.patient()
    ana.hears()
    before = await world.episode(ana), await world.position(ana)

    for words in ASKED_FIRST:
        said = await ilse.says(words)
        assert said[0].startswith("Not done yet."), words
        assert "Reply YES within 15 minutes" in said[0], words
        assert ana.hears() == []
        assert (await world.episode(ana), await world.position(ana)) == before
    for words in DONE_AT_ONCE:
        assert "Reply YES" not in (await ilse.says(words))[0], words


async def test_yes_carries_it_out_once(world: World) -> None:
    """The second YES finds nothing to say yes to."""
    ilse = await world.clinician("Ilse")
    ana = await world.patient()
    ana.hears()
    asked = await ilse.says(BIG)

    first, second = await ilse.says("YES"), await ilse.says("YES")

    assert "Ana would go from level 1, dose 1 to level 3, dose 1." in asked[0]
    assert "level 3, dose 1" in first[0]
    assert second == [NOTHING]
    assert await world.position(ana) == (3, 1)
    assert len(ana.hears()) == 1


async def test_a_yes_out_of_the_blue_says_so(world: World) -> None:
    """Nothing was asked."""
    ilse = await world.clinician("Ilse")

    assert await ilse.says("yes") == [NOTHING]


@pytest.mark.parametrize(
    ("minutes", "is_done"),
    [
        pytest.param(15, True, id="at"),
        pytest.param(16, False, id="over"),
    ],
)
async def test_a_yes_counts_for_a_quarter_of_an_hour(
    world: World, minutes: int, is_done: bool
) -> None:
    """A late one changes nothing and says why; the next one finds nothing."""
    ilse = await world.clinician("Ilse")
    ana = await world.patient()
    await ilse.says(BIG)
    await world.goes_to(world.now + timedelta(minutes=minutes))

    said = await ilse.says("yes")
    again = await ilse.says("yes")

    assert ("asked more than 15 minutes ago" in said[0]) is not is_done
    assert again == [NOTHING]
    assert (await world.position(ana) == (3, 1)) is is_done


async def test_anything_else_drops_it(world: World) -> None:
    """It is read as what it is, and the YES after it has nothing."""
    ilse = await world.clinician("Ilse")
    ana = await world.patient()

    for between in ("no", "show Ana", "level Ana 1 2", "what was that?", "tell Ana:"):
        await ilse.says("hops Ana yes")
        await ilse.says(between)
        assert await ilse.says("yes") == [NOTHING], between
    assert not (await world.episode(ana)).hops_allowed


async def test_a_yes_belongs_to_the_clinician_who_was_asked(world: World) -> None:
    """Another clinician's YES, and the patient's, do nothing; the first one's still counts."""
    ilse, bram = await world.clinician("Ilse"), await world.clinician("Bram")
    ana = await world.patient()
    await ilse.says(BIG)

    foreign = await bram.says("yes")
    await ana.says("yes")
    stood = await world.position(ana)
    await ilse.says("yes")

    assert foreign == [NOTHING]
    assert stood == (1, 1)
    assert await world.position(ana) == (3, 1)


async def test_a_yes_is_void_where_the_plan_has_changed_since(world: World) -> None:
    """Of two clinicians' YES one is carried out; the other is told, and may look first."""
    ilse, bram = await world.clinician("Ilse"), await world.clinician("Bram")
    ana = await world.patient()
    await ilse.says(BIG)
    await bram.says("level Ana 1 2")

    void = await ilse.says("yes")
    again = await ilse.says(BIG)
    await bram.says("discharge Ana")
    await bram.says("yes")
    refused = await ilse.says("yes")

    assert void[0].startswith("Not done: the plan of Ana has changed since you were asked")
    assert "Ana would go from level 1, dose 2 to level 3, dose 1." in again[0]
    assert refused == void
    assert await world.position(ana) == (1, 2)


async def test_the_button_answers_its_own_question_only(world: World) -> None:
    """An old Yes means nothing, and leaves the newer question waiting."""
    ilse = await world.clinician("Ilse")
    ana = await world.patient()
    await ilse.says("discharge Ana")
    old = _yes_button(world, ilse)
    await ilse.says("limit Ana 5")

    await world.stage.say("chat", "ilse", "Yes", pressed=old)
    late = ilse.hears()
    await ilse.presses("Yes")

    assert late == ["Not done: that question is over."]
    episode = await world.episode(ana)
    assert (episode.discharged, episode.pain_limit) == (False, 5)


def _yes_button(world: World, voice: Voice) -> str:
    shown = [o for o in world.outgoing if o.address == voice.address and o.choices][-1]
    return str(shown.choices[0][0].payload)


async def test_no_is_a_button_too(world: World) -> None:
    """It drops the question, and says so."""
    ilse = await world.clinician("Ilse")
    await world.patient()
    await ilse.says(BIG)

    assert await ilse.presses("No") == ["Dropped. Nothing was changed."]


async def test_a_restart_between_asking_and_yes_loses_nothing(tmp_path: Path) -> None:
    """The question stands in the store."""
    path = tmp_path / "clinic.db"
    first = world_at(path)
    async with first.stage:
        await first.patient()
        ilse = await first.clinician("Ilse")
        await ilse.says(BIG)
        now = first.now
    second = world_at(path, start=now + timedelta(minutes=1))
    async with second.stage:
        said = await Voice(second, "Ilse").says("yes")

        assert "level 3, dose 1" in said[0]
        assert await second.position(Voice(second, "Ana")) == (3, 1)


async def test_erasing_the_patient_takes_the_question_along(world: World) -> None:
    """No command about somebody who is gone stays behind."""
    ilse = await world.clinician("Ilse")
    await world.patient()
    await ilse.says(BIG)

    await world.stage.run(lambda s: erase(s, people.patients_named(s, "Ana")[0], world.now))

    assert await world.rows("SELECT * FROM confirmations") == []
    assert await ilse.says("yes") == [NOTHING]
