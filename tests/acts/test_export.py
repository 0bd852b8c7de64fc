"""`nextmorning export`: the whole record as FHIR R4, and as a diary that replays to equal advice.

The FHIR models checked against are those of R4B, which agree with R4 for the resources exported.
"""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import AsyncIterator, Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from acts.thirty import Crowd, Habit, Player
from acts.typing_commands import typed
from fhir.resources.R4B.bundle import Bundle
from world import Voice, World, world_at

from bot.export.coding import LOINC
from bot.export.diary import diary_of, options_of
from bot.export.fhir import bundle_of
from bot.patient_record.record import PatientRecord
from bot.replay.diary import read_diary
from bot.replay.walk import DayAdvice, Options, replay
from bot.store import decisions, people
from bot.store.database import Store
from rules.protocol import Tendon
from rules.quantities import Minutes, Pain

MEMORY = Path("/dev/shm")
WEEKS = 6
GARDEN = 'the garden, is "lovely"'


@pytest.fixture
def folder() -> Iterator[Path]:
    """A folder for the store, in memory where there is such a place."""
    made = Path(tempfile.mkdtemp(dir=MEMORY if MEMORY.is_dir() else None))
    yield made
    shutil.rmtree(made)


def case_of(store: Store, world: World, name: str) -> PatientRecord:
    """The patient of this name, now."""
    (patient,) = people.patients_named(store, name)
    return PatientRecord(store, world.clinic, patient, world.now)


def mornings_of(store: Store, world: World, name: str) -> dict[date, tuple[str, str]]:
    """What the bot advised each morning: the last decision before noon on the patient's clock."""
    case = case_of(store, world, name)
    found = {}
    for decision in decisions.every(store, case.episode.id):
        there = decision.decided_at.astimezone(case.local_now.tzinfo)
        if there.date() == decision.advice.on and there.hour < 12:
            found[decision.advice.on] = (decision.advice.action, decision.advice.reason)
    return found


def replayed(case: PatientRecord) -> tuple[DayAdvice, ...]:
    """The patient's diary, exported and played again with the options told beside it."""
    told = options_of(case)
    options = Options(
        protocol=case.protocol,
        tendon=Tendon(told["tendon"]),
        start_level=told["start-level"],
        usual_pain=Pain(told["usual-pain"]),
        usual_stiffness=Minutes(told["usual-stiffness"]),
        hops_allowed="hops-allowed" in told,
        slower="slower" in told,
    )
    return replay(read_diary(diary_of(case), case.protocol), options)


@pytest.mark.parametrize(
    "habit", [Habit("Ada"), Habit("Fay", forgets=0.2)], ids=["answers all", "forgets some"]
)
async def test_weeks_of_answers_replay_to_the_same_advice(habit: Habit, folder: Path) -> None:
    """Each morning that the bot decided on, the diary says the same, for the same reason."""
    world = world_at(folder / "clinic.db")
    async with world.stage as stage:
        player = Player(stage, habit, Crowd(stage))
        await player.enrol()
        stage.heard.append(player.hear)
        await stage.go_to(stage.now + timedelta(weeks=WEEKS))

        decided = await stage.run(mornings_of, world, habit.name)
        again = await stage.run(lambda s: replayed(case_of(s, world, habit.name)))

    said = {day.day.on: (day.advice.action, day.advice.reason) for day in again}
    assert len(decided) > WEEKS * 4
    assert {on: said[on] for on in decided} == decided


@pytest.fixture
async def told(tmp_path: Path) -> AsyncIterator[tuple[World, Voice]]:
    """A patient who answered, corrected, trained, wrote words, and had a warning sign seen to."""
    world = world_at(tmp_path / "clinic.db")
    async with world.stage:
        ilse = await world.clinician("Ilse")
        ana = await world.patient("Ana")
        for text in ("2 10", "oops, 2 12", GARDEN, "done", "3 2 2 4", "no 0"):
            await ana.says(text)
        await world.at("07:31")
        await ana.says("my whole calf is swollen and tender since yesterday")
        await ilse.presses("I have it")
        yield world, ana


def of_kind(bundle: dict[str, Any], kind: str) -> list[dict[str, Any]]:
    """The resources of one kind."""
    found = [entry["resource"] for entry in bundle["entry"]]
    return [resource for resource in found if resource["resourceType"] == kind]


HELD = {
    "Patient": "Ana",
    "QuestionnaireResponse": "painkiller",
    "CarePlan": "Level 1, dose 1",
    "Communication": "garden",
    "Task": "accepted",
    "Provenance": "nextmorning at",
}


async def test_the_bundle_is_valid_and_holds_everything_kept(told: tuple[World, Voice]) -> None:
    """The models accept it, no two entries share an address, no reference is loose, and each kind
    of resource is there. Pain is LOINC 72514-3 with an integer; stiffness UCUM minutes under a code
    of ours, and the one that was corrected is marked.
    """
    world, _ = told

    bundle = await world.stage.run(lambda s: bundle_of(case_of(s, world, "Ana")))

    Bundle.model_validate(bundle)
    urls = [entry["fullUrl"] for entry in bundle["entry"]]
    assert len(set(urls)) == len(urls)
    assert set(_references(bundle)) <= set(urls)
    assert "snomed" not in json.dumps(bundle).lower()
    for kind, holds in HELD.items():
        assert holds in json.dumps(of_kind(bundle, kind)), kind
    observed = of_kind(bundle, "Observation")
    pain = next(filter(first_step_pain, observed))
    stiff = [(o["status"], o["valueQuantity"]["value"]) for o in filter(stiffness, observed)]
    assert pain["code"]["coding"][0] | {"display": ""} == {
        "system": LOINC, "code": "72514-3", "display": "",
    }  # fmt: skip
    assert pain["valueInteger"] == 2
    assert stiff == [("entered-in-error", 10), ("corrected", 12)]
    assert next(filter(stiffness, observed))["valueQuantity"]["code"] == "min"


def _references(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        if isinstance(value.get("reference"), str):
            yield value["reference"]
        for held in value.values():
            yield from _references(held)
    elif isinstance(value, list):
        for held in value:
            yield from _references(held)


def first_step_pain(found: dict[str, Any]) -> bool:
    """Whether a resource is a first-step pain."""
    return any(coding["code"] == "first-step-pain" for coding in found["code"]["coding"])


def stiffness(found: dict[str, Any]) -> bool:
    """Whether a resource is minutes of stiffness."""
    return any(coding["code"] == "stiffness" for coding in found["code"]["coding"])


async def test_words_with_commas_and_quotes_stand_on_the_row_of_their_day(
    told: tuple[World, Voice],
) -> None:
    """What was written beside answers is in the diary, and reads back as it was."""
    world, _ = told

    text = await world.stage.run(lambda s: diary_of(case_of(s, world, "Ana")))

    first, second = read_diary(text, world.clinic.protocols["mid-portion-ladder"])
    assert first.message == GARDEN
    assert second.message == "my whole calf is swollen and tender since yesterday"
    assert (first.morning_stiffness_min, first.session, first.sets_done) == (12, True, 3)


def test_the_command_writes_files_that_only_the_owner_can_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """FHIR into a file, never over one; the diary printed, with how to replay it beside."""
    monkeypatch.chdir(tmp_path)
    lines = (
        '[clinic]\nname = "Riverside"\nphone = "020 7946 0000"\nzone = "Europe/London"',
        'emergency_number = "999"\ncrisis_line = "116 123"',
        '[store]\npath = "clinic.db"',
    )
    (tmp_path / "clinic.toml").write_text("\n".join(lines))
    typed(monkeypatch, capsys, "enrol", "Ana", "--tendon", "insertional")

    written = typed(monkeypatch, capsys, "export", "ana", "--format", "fhir", "--to", "ana.json")
    again = typed(monkeypatch, capsys, "export", "ana", "--format", "fhir", "--to", "ana.json")
    printed = typed(monkeypatch, capsys, "export", "Ana", "--format", "csv")

    assert (written.status, again.status, printed.status) == (0, 2, 0)
    assert (tmp_path / "ana.json").stat().st_mode & 0o777 == 0o600
    assert json.loads((tmp_path / "ana.json").read_text())["resourceType"] == "Bundle"
    assert printed.out.startswith("date,morning_pain,")
    assert "nextmorning replay diary.csv --protocol insertional-ladder" in printed.err


async def test_the_total_of_a_sheet_is_in_both_exports(world: World) -> None:
    """Of two entered on a day the second stands, 56 by hand: in the bundle under our own code, and
    in the column of the diary from which a replay reads it back."""
    clinician = await world.clinician("Ilse")
    await world.patient()
    await clinician.says("visa Ana 7 6 7 7 6 5 4 10")
    await clinician.says("visa Ana 7 6 7 7 6 5 4 14")

    case = await world.stage.run(lambda store: case_of(store, world, "Ana"))
    bundle = await world.stage.run(lambda _store: bundle_of(case))
    diary = await world.stage.run(lambda _store: diary_of(case))

    Bundle.model_validate(bundle)
    observed = of_kind(bundle, "Observation")
    found = [one for one in observed if one["code"]["coding"][0]["code"] == "visa-a"]
    assert [(one["valueInteger"], one["effectiveDateTime"]) for one in found] == [
        (56, "2026-03-02")
    ]
    assert [day.visa_a for day in read_diary(diary, case.protocol)] == [56]
