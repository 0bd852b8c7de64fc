"""What follows a worry until it is over: each tier, each ending, and the next three mornings.

Where loading is stopped there is never a session, and never a word that the patient may go on.
"""

from __future__ import annotations

import asyncio
import shutil
from collections.abc import AsyncIterator, Sequence
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import pytest
from world import MONDAY, Voice, World, world_at

from rules.history import Tier
from rules.lexicon import shipped_lexicon
from rules.screening import tier_asked

# A sentence that tells of each sign at each of its tiers, and one that only a question can settle.
TOLD = {
    ("tendon-rupture", "emergency"): "felt a snap",
    ("lung-clot", "emergency"): "coughed up blood",
    ("leg-clot", "same day"): "my calf is swollen",
    ("spreading-infection", "emergency"): "red line going up from the blister",
    ("local-infection", "same day"): "there is pus",
    ("fracture", "same day"): "car ran over my foot",
    ("fluoroquinolone", "same day"): "levofloxacin day 3",
    ("corticosteroid", "next working day"): "had a jab in my heel",
    ("inflammatory", "next working day"): "both heels are stiff for over an hour",
    ("inflammatory", "same day"): "red painful eye",
    ("lumps-and-cholesterol", "next working day"): "cholesterol came back 9.1",
    ("nerve", "next working day"): "burning feet at night",
    ("nerve", "same day"): "can't feel the edge of my foot properly",
    ("motor-loss", "same day"): "I cant lift my toes",
    ("motor-loss", "emergency"): "cant move either foot",
    ("cauda-equina", "emergency"): "no feeling when I wipe",
    ("limb-ischaemia", "emergency"): "no pulse foot",
    ("crisis", "emergency"): "i want to die",
    ("low-mood", "next working day"): "im not coping",
    ("systemic", "next working day"): "clothes hanging off me",
    ("systemic", "same day"): "running a fever",
    ("severe-pain", "same day"): "im in agony",
}
ASKED = {
    "tendon-rupture": "i think i tore something",
    "lung-clot": "heart keeps racing",
    "leg-clot": "calf feels heavy",
    "spreading-infection": "Wound is not looking nice sir",
    "local-infection": "my heel is red",
    "fracture": "i fell over",
    "fluoroquinolone": "on antibiotics again",
    "corticosteroid": "had an injection last week",
    "inflammatory": "my eye is a bit red",
    "lumps-and-cholesterol": "found a lump",
    "nerve": "fizzy feeling in sole every eve, tendon itself 2/10",
    "motor-loss": "i keep tripping",
    "cauda-equina": "wiped and felt nothing",
    "limb-ischaemia": "my foot is cold",
    "crisis": "ive had enough",
    "low-mood": "bit fed up",
    "systemic": "aches at night",
    "severe-pain": "the pain makes me vomit",
}
# A late yes to these raises an emergency even where a clinician has closed what was asked.
EMERGENCIES = {
    text
    for sign, text in ASKED.items()
    if tier_asked(sign, text, shipped_lexicon("en")) is Tier.EMERGENCY
}
NAMES = (
    "Ana", "Bo", "Cy", "Dee", "Eli", "Fay", "Gus", "Hal", "Ida", "Jon", "Kit", "Liv", "Max", "Ned",
    "Ola", "Pia", "Quin", "Ria", "Sol", "Tess", "Uma", "Val",
)  # fmt: skip

# Longer than any closed question waits.
TIME_TO_ANSWER = timedelta(hours=13)

NEVER, ALWAYS, ON_THE_THIRD = (False,) * 3, (True,) * 3, (False, False, True)


@dataclass(frozen=True)
class Ending:
    """Who writes what after the alarm ("yes" is said where it is asked for); on which of the next
    three mornings there is a session (the first would be due at once), whether the mornings
    are asked about, whether loading ever stopped, and whether an emergency stops it all the same.
    """

    spoken: tuple[tuple[str, str], ...]
    sessions: tuple[bool, bool, bool] = NEVER
    asked: bool = True
    stopped: bool = True
    but_emergency: bool = False


def _closed(what: str) -> tuple[tuple[str, str], ...]:
    return (("Ilse", f"closed {{number}} {what}"),)


NO_QUESTIONS = _closed("sent on, no questions")

ENDINGS = {
    "silence": Ending(()),
    "held, and no more": Ending((("Ilse", "I have it {number}"),)),
    "seen, and no more": Ending(_closed("seen")),
    "free words": Ending(_closed("calf is soft now")),
    "go on": Ending(_closed("go on"), ALWAYS),
    "not worrying": Ending(_closed("not worrying"), ALWAYS),
    "rest, and no day": Ending(_closed("rest")),
    "rest": Ending(_closed("rest until 4 March"), ON_THE_THIRD),
    "sent on": Ending(_closed("sent on")),
    "sent on, no questions": Ending(NO_QUESTIONS, asked=False),
    "stays stopped": Ending(_closed("stays stopped")),
    "lifted": Ending((*NO_QUESTIONS, ("Ilse", "lift {patient}")), ALWAYS),
    "handed over": Ending(
        (
            ("Ilse", "I have it {number}"),
            ("Ilse", "give {number} to Bram"),
            ("Bram", "I have it {number}"),
        )
    ),
    "closed in the holder's absence": Ending(
        (("Ilse", "I have it {number}"), ("Bram", "closed {number} stays stopped"))
    ),
    "discharge refused while it is open": Ending((("Ilse", "discharge {patient}"),)),
    "discharged": Ending((*_closed("sent on"), ("Ilse", "discharge {patient}")), asked=False),
    "discharged and taken back": Ending(
        (
            *_closed("sent on"),
            ("Ilse", "discharge {patient}"),
            ("Ilse", "take back {patient}"),
        )
    ),
    "left": Ending((("patient", "STOP"),), asked=False),
    "left and came back": Ending((("patient", "STOP"), ("patient", "START"))),
}

# What the patient answers to the closed question, the last after it ran out.
ANSWERS = {
    "no": Ending((("patient", "no"),), ALWAYS, stopped=False),
    "yes": Ending((("patient", "yes"),)),
    "silence": Ending((("wait", ""),)),
    "late no": Ending((("wait", ""), ("patient", "no"))),
    "late yes": Ending((("wait", ""), ("patient", "yes"))),
    "closed, then a late no": Ending((("wait", ""), *_closed("stays stopped"), ("patient", "no"))),
    "closed, then a late yes": Ending(
        (("wait", ""), *_closed("go on"), ("patient", "yes")), ALWAYS, but_emergency=True
    ),
}


@pytest.fixture(scope="module")
def enrolled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with a patient a sign side by side, all at the third dose of a level."""
    path = tmp_path_factory.mktemp("enrolled") / "world.sqlite"

    async def enrol() -> None:
        world = world_at(path)
        async with world.stage:
            for name in ("Ilse", "Bram"):
                await world.clinician(name, ("chat",))
            for name in NAMES:
                await world.put_at(await world.patient(name), 2, 3)

    asyncio.run(enrol())
    return path


@pytest.fixture
async def many(enrolled: Path, tmp_path: Path) -> AsyncIterator[World]:
    """The same people a minute later, on a file of their own."""
    shutil.copy(enrolled, tmp_path / "world.sqlite")
    made = world_at(tmp_path / "world.sqlite", MONDAY + timedelta(minutes=1))
    async with made.stage:
        yield made


def test_the_tables_leave_no_sign_out() -> None:
    """Each sign of the lexicon is told of, at its own tier at least, and asked about."""
    signs = {key: str(one.sign.tier.value) for key, one in shipped_lexicon("en").signs.items()}
    assert set(signs.items()) <= set(TOLD)
    assert set(signs) == set(ASKED)


@pytest.mark.parametrize("ending", ENDINGS.values(), ids=ENDINGS)
async def test_the_next_three_mornings(many: World, ending: Ending) -> None:
    """Never a session where loading is stopped; after a stop the lowest dose comes first."""
    heard = await _walk(many, ending, list(TOLD.values()))
    first = "SELECT sign, tier FROM escalations WHERE message IS NOT NULL GROUP BY patient"
    raised = [(row["sign"], row["tier"]) for row in await many.rows(first)]
    assert raised == list(TOLD)
    await _holds(many, ending, heard)


@pytest.mark.parametrize("ending", ANSWERS.values(), ids=ANSWERS)
async def test_the_mornings_after_a_question(many: World, ending: Ending) -> None:
    """A no lets loading go on unless it comes too late; all else stops it."""
    heard = await _walk(many, ending, list(ASKED.values()))
    asked = await many.rows("SELECT DISTINCT patient, sign FROM sign_questions ORDER BY patient")
    assert [row["sign"] for row in asked] == list(ASKED)
    await _holds(many, ending, heard)


@dataclass(frozen=True)
class Walked:
    """One patient's part: what they heard up to the first morning, and on each of the three."""

    patient: Voice
    heard: list[str]
    mornings: list[list[str]]
    is_emergency: bool


async def _walk(world: World, ending: Ending, words: Sequence[str]) -> list[Walked]:
    """All patients say their words, each one's ending is spoken, and three mornings pass."""
    patients = [Voice(world, name) for name, _ in zip(NAMES, words, strict=False)]
    heard = [await patient.says(text) for patient, text in zip(patients, words, strict=True)]
    for who, text in ending.spoken:
        if who == "wait":
            await world.goes_to(world.now + TIME_TO_ANSWER)
            continue
        for patient in patients:
            await _speak(world, patient, who, text)
    for before, patient in zip(heard, patients, strict=True):
        before += patient.hears()
    mornings = [await _morning(world, patients) for _ in ending.sessions]
    return [
        Walked(
            patient,
            heard[place],
            [said[place] for said in mornings],
            words[place] in EMERGENCIES,
        )
        for place, patient in enumerate(patients)
    ]


async def _speak(world: World, patient: Voice, who: str, text: str) -> None:
    """`number`: every escalation of the patient. A clinician who is asked for a YES says it."""
    if who == "patient":
        await world.stage.say("chat", patient.address, text)
        return
    raised = await world.escalations(patient)
    for one in raised if "{number}" in text else raised[:1]:
        speaker = Voice(world, who)
        said = await speaker.says(text.format(number=one.id, patient=patient.name))
        if "YES" in said[-1]:
            await speaker.says("yes")


async def _morning(world: World, patients: list[Voice]) -> list[list[str]]:
    """All that is said on a morning: the questions, and the advice where they were asked."""
    await world.at("07:30")
    said = []
    for patient in patients:
        asked = patient.hears()
        said.append([*asked, *(await patient.says("2 10") if _asks(asked) else ())])
    return said


def _asks(said: list[str]) -> bool:
    """Whether the morning is asked about, or a closed question first."""
    return any("First-step pain" in text or "Reply YES or NO" in text for text in said)


async def _holds(world: World, ending: Ending, walked: list[Walked]) -> None:
    stopped = not any(ending.sessions)
    told_to_stop = stopped and not any("go on" in text for _, text in ending.spoken)
    for one in walked:
        heard = [*one.heard, *(one.mornings[0] if stopped else ())]
        assert not (told_to_stop and any("you can go on" in text.lower() for text in heard)), heard
        sessions = [
            any("session today" in text or "3 x" in text for text in said) for said in one.mornings
        ]
        never = ending.but_emergency and one.is_emergency
        assert sessions == list(NEVER if never else ending.sessions), one
        assert _asks(one.mornings[0]) == ending.asked, one
        low = (await world.position(one.patient)) == (2, 1)
        assert low == (ending.stopped and not told_to_stop), one


async def test_go_on_waits_for_the_other_escalation(world: World) -> None:
    """One of two is closed with "go on": the patient hears that the other stops them still."""
    ilse, ana = await world.clinician("Ilse"), await world.patient("Ana")
    await ana.says("my calf is swollen")
    await ana.says("car ran over my foot")
    for words in ("closed 1 go on", "yes"):
        await ilse.says(words)
    closed = ana.hears()

    mornings = []
    for _ in range(3):
        await world.at("07:30")
        mornings += [*ana.hears(), *await ana.says("2 10")]

    assert "until the other one is looked at too" in closed[-1]
    assert not any("session today" in text or "3 x" in text for text in mornings)


async def test_what_is_closed_and_still_stops_is_not_forgotten(world: World) -> None:
    """The summary and the list name the stop, since when, and how it ends; then no more."""
    ilse, ana = await world.clinician("Ilse"), await world.patient("Ana")
    await ana.says("my calf is swollen")
    for words in ("closed 1 sent on", "yes"):
        await ilse.says(words)

    shown = "\n".join(await ilse.says("show Ana"))
    listed = "\n".join(await ilse.says("who needs me"))
    for words in ("lift Ana", "yes"):
        await ilse.says(words)
    await world.goes_to(world.now + timedelta(days=1))
    lifted = "\n".join(await ilse.says("show Ana") + await ilse.says("who needs me"))

    assert "by 1, closed: sent on. LIFT Ana when they may go on." in shown
    assert "Nothing open" not in shown
    assert "LIFT Ana when they may go on" in listed
    assert "LIFT" not in lifted


@pytest.mark.parametrize("words", ["sent on", "stays stopped", "rest until 20 March"])
async def test_a_closing_that_stops_exercises_waits_for_yes(world: World, words: str) -> None:
    """Of whatever tier: what was never stopped is not stopped by one line, nor a doctor named."""
    ilse, ana = await world.clinician("Ilse"), await world.patient("Ana")
    await ana.says("call me")

    shown = await ilse.says(f"closed 1 {words}")
    before = ana.hears()
    done = await ilse.says("yes")

    assert "Not done yet. 1 (Ana) would be closed" in shown[0]
    assert "leave the exercises" in shown[0]
    assert before == []
    assert "1 (Ana) is closed" in done[0]
    assert "leave the exercises" in ana.hears()[0]
