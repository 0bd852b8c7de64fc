"""After a discharge by command: what the patient writes later, and being taken back."""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path

import pytest
from world import Voice, World, world_at

WORRY = "my whole calf is swollen and tender since yesterday"
ENDED = "Your plan here has ended, so I take no numbers and give no advice."


@pytest.fixture
async def discharged(tmp_path: Path) -> AsyncIterator[tuple[World, Voice, Voice]]:
    """Ilse, and Ana whom she has discharged on the first day."""
    world = world_at(tmp_path / "clinic.db")
    async with world.stage:
        ilse, ana = await world.clinician("Ilse"), await world.patient("Ana")
        await ana.says("2 10")
        await ilse.says("discharge Ana")
        await ilse.says("yes")
        ana.hears()
        yield world, ilse, ana


async def test_the_clinician_is_shown_the_summary(world: World) -> None:
    """As the patient was told it; by whom stands in the audit."""
    ilse, ana = await world.clinician("Ilse"), await world.patient("Ana")
    ana.hears()
    await ilse.says("discharge Ana")

    said = await ilse.says("yes")

    (told,) = ana.hears()
    assert said == [f"Done: the treatment of Ana has ended. Ana was told:\n{told}"]
    (row,) = await world.rows("SELECT person FROM audit WHERE action = 'patient discharged'")
    assert row == {"person": 1}


async def test_who_sent_stop_is_discharged_without_a_word(world: World) -> None:
    """The clinician has the summary and hears that it was not sent."""
    ilse, ana = await world.clinician("Ilse"), await world.patient("Ana")
    await ana.says("stop")
    ilse.hears()
    await ilse.says("I have it 1")
    await ilse.says("closed 1 spoke to them")
    await ilse.says("discharge Ana")
    ana.hears()

    said = await ilse.says("yes")

    assert "Ana sent STOP and was not told. The summary:" in said[0]
    assert ana.hears() == []


async def test_a_closed_question_that_waits_keeps_the_treatment_going(world: World) -> None:
    """Nobody is let go before it is answered."""
    ilse, ana = await world.clinician("Ilse"), await world.patient("Ana")
    await ana.says("8 30")

    said = await ilse.says("discharge Ana")

    assert "was asked about a warning sign" in said[0]


async def test_numbers_are_no_answers_and_are_told_so_once_a_day(
    discharged: tuple[World, Voice, Voice],
) -> None:
    """One plain reply with whom to call; the words are on the clinic's list; nothing is decided."""
    world, ilse, ana = discharged
    before = await world.answers(ana), len(await world.decisions(ana))

    first = await ana.says("4 20")
    second = await ana.says("done")
    third = await ana.says("the garden looks lovely")
    await world.at("12:00", days=1)
    next_day = await ana.says("4 20")

    assert len(first) == len(next_day) == 1
    assert first[0].startswith(ENDED)
    assert "020 7946 0141" in first[0]
    assert second == third == []
    assert (await world.answers(ana), len(await world.decisions(ana))) == before
    assert "Ana: 4 messages" in (await ilse.says("who needs me?"))[0]


async def test_a_sign_is_still_seen_and_its_end_promises_no_plan(
    discharged: tuple[World, Voice, Voice],
) -> None:
    """Told at once, escalated; closed, the patient is not told to go on with a plan."""
    world, ilse, ana = discharged

    said = await ana.says(WORRY)
    await ilse.says("I have it")
    ana.hears()
    await ilse.says("closed sent on")
    await ilse.says("yes")

    assert "seen by a doctor today" in said[0]
    assert [e.sign for e in await world.escalations(ana)] == ["leg-clot"]
    assert ana.hears()[0].startswith("Ilse has looked at what you wrote.")


async def test_a_closed_question_is_put_again_and_its_answer_counts(
    discharged: tuple[World, Voice, Voice],
) -> None:
    """What is no answer has the question again; yes is the sign, as ever."""
    world, _ilse, ana = discharged

    await ana.says("my calf feels warm, is that normal")
    again = await ana.says("thanks")
    answered = await ana.says("yes")

    assert again[0].endswith("NO.")
    assert "seen by a doctor today" in answered[0]
    assert [e.sign for e in await world.escalations(ana)] == ["leg-clot"]


@pytest.mark.parametrize(
    ("text", "reply"),
    [
        pytest.param(
            "please call me", "I am telling Ilse that you want to talk", id="asks for a person"
        ),
        pytest.param("help", ENDED, id="HELP"),
        pytest.param("start", ENDED, id="START"),
        pytest.param("plan", ENDED, id="asks for the plan"),
        pytest.param("why", ENDED, id="asks for the reason"),
    ],
)
async def test_what_is_answered_after_the_end(
    discharged: tuple[World, Voice, Voice], text: str, reply: str
) -> None:
    """A person when asked for one; no plan, no advice."""
    _world, _ilse, ana = discharged

    said = await ana.says(text)

    assert len(said) == 1
    assert said[0].startswith(reply)


async def test_stop_is_honoured_and_silence_follows(
    discharged: tuple[World, Voice, Voice],
) -> None:
    """One confirmation, and no word after it."""
    _world, _ilse, ana = discharged

    stopped = await ana.says("stop")
    later = await ana.says("5 20")

    assert len(stopped) == 1
    assert later == []


async def test_days_of_silence_after_the_end_raise_nothing(
    discharged: tuple[World, Voice, Voice],
) -> None:
    """Neither by themselves nor when the patient asks for somebody much later."""
    world, _ilse, ana = discharged
    await world.at("12:00", days=9)

    await ana.says("please call me")

    assert [e.sign for e in await world.escalations(ana)] == ["asks-for-a-person"]


async def test_take_back_goes_on_where_it_stopped(
    discharged: tuple[World, Voice, Voice],
) -> None:
    """The patient is told; numbers are answers again the next morning; twice is refused."""
    world, ilse, ana = discharged

    done = await ilse.says("take back Ana")
    told = ana.hears()
    twice = await ilse.says("take back Ana")
    await world.at("08:00")
    asked = ana.hears()
    await ana.says("3 10")

    assert done[0].startswith("Done.")
    assert told == [
        "Ilse has started your plan again, from where you stopped. From now on I ask you again."
    ]
    assert twice == ["Not done: Ana has not been discharged."]
    assert "First-step pain" in asked[-1]
    assert len([key for key in await world.answers(ana) if key[0] == "first-step-pain"]) == 2
