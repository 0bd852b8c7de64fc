"""`nextmorning export`: the whole record as FHIR R4, and as a diary that replays to equal advice.

Bundles are checked against R4's own structure definitions, and posted to a server's routing and
repository in memory; both are of a published package. See `stand_ins/fhir_server`.
"""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import AsyncIterator, Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from acts.thirty import Crowd, Habit, Player
from acts.typing_commands import typed
from stand_ins.fhir import Served, served
from world import Voice, World, world_at

from bot.export.coding import LOCAL, LOINC
from bot.export.diary import diary_of, options_of
from bot.export.fhir import bundle_of
from bot.export.loading import BundleType
from bot.patient_record.record import PatientRecord
from bot.replay.diary import read_diary
from bot.replay.walk import DayAdvice, Options, replay
from bot.store import decisions, people
from bot.store.database import Store
from rules.protocol import Tendon
from rules.quantities import Minutes, Pain

MEMORY = Path("/dev/shm")
WEEKS = 6
GARDEN = '=the garden, is "lovely"'


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
    "CodeSystem": "first-step-pain",
    "Questionnaire": "stiffness",
    "Patient": "1980-05-31",
    "Condition": "M76.6",
    "QuestionnaireResponse": "painkiller",
    "CarePlan": "Level 1, dose 1",
    "Task": "accepted",
    "Provenance": "nextmorning at",
}
RECORD = "https://riverside.example/patients"


async def test_a_server_takes_the_bundle_and_takes_it_again(told: tuple[World, Voice]) -> None:
    """A server that knows the patient by the clinic's number: their record joins it, and nothing
    that it held of them is written over. Loaded again, and again after the escalation was closed,
    it holds each resource once, the task as it is then. The collection is valid as well, and alone
    holds the messages, for they were asked for.
    """
    world, _ = told
    await world.stage.run(lambda s: people.identify(s, ana_of(s).id, "R-77", date(1980, 5, 31)))
    clinic = replace(world.clinic, identifier_system=RECORD)

    def bundle(store: Store, kind: BundleType = BundleType.TRANSACTION) -> dict[str, Any]:
        case = PatientRecord(store, clinic, ana_of(store), world.now)
        return bundle_of(case, kind, with_messages=kind is BundleType.COLLECTION)

    first = await world.stage.run(bundle)
    await world.at("07:45")
    for words in ("closed 1 go on", "yes"):
        await Voice(world, "Ilse").says(words)
    later = await world.stage.run(bundle)
    archive = await world.stage.run(bundle, BundleType.COLLECTION)
    known = {
        "resourceType": "Patient",
        "identifier": [{"system": RECORD, "value": "R-77"}],
        "name": [{"family": "Known before"}],
    }
    found = served([known], [first, first, later], archive)

    assert found.wrong == []
    check_once(found, first, later)
    patient, task = found.held["Patient"][0], found.held["Task"][0]
    assert patient["name"] == [{"family": "Known before"}]
    assert task["status"] == "completed"
    pointed = {one for name in found.held for one in references(found.held[name])}
    assert pointed <= {f"{name}/{one['id']}" for name in found.held for one in found.held[name]}
    for name, holds in HELD.items():
        assert holds in json.dumps(of_kind(first, name)), name
    assert "garden" in json.dumps(of_kind(archive, "Communication"))
    assert of_kind(first, "Communication") == []


def check_once(found: Served, first: dict[str, Any], later: dict[str, Any]) -> None:
    """All is created but the patient, then found; only a later export's own are new."""
    news = len(later["entry"]) - len(first["entry"])
    created, again, at_last = (answer.count("201") for answer in found.statuses)
    assert (created, again) == (len(first["entry"]) - 1, 0)
    assert at_last == news + 1  # its provenance: each export is an event
    assert sum(map(len, found.held.values())) == len(later["entry"]) + 1


def ana_of(store: Store) -> people.Person:
    """The one patient."""
    (patient,) = people.patients_named(store, "Ana")
    return patient


async def test_numbers_are_coded_and_ours_are_defined(told: tuple[World, Voice]) -> None:
    """Pain is LOINC 72514-3 with an integer; stiffness UCUM minutes under a code of ours, and the
    one that was corrected is marked. The side has its own code; each code and question of ours is
    in the code system or the questionnaire."""
    world, _ = told

    bundle = await world.stage.run(lambda s: bundle_of(case_of(s, world, "Ana")))

    assert "snomed" not in json.dumps(bundle).lower()
    observed = of_kind(bundle, "Observation")
    pain = next(filter(first_step_pain, observed))
    stiff = [(o["status"], o["valueQuantity"]["value"]) for o in filter(stiffness, observed)]
    assert pain["code"]["coding"][0] | {"display": ""} == {
        "system": LOINC, "code": "72514-3", "display": "",
    }  # fmt: skip
    assert pain["valueInteger"] == 2
    assert stiff == [("entered-in-error", 10), ("corrected", 12)]
    assert next(filter(stiffness, observed))["valueQuantity"]["code"] == "min"
    sites = [site["coding"][0]["code"] for site in of_kind(bundle, "Condition")[0]["bodySite"]]
    assert sites == ["mid-portion", "L"]
    (system,), (asked,) = of_kind(bundle, "CodeSystem"), of_kind(bundle, "Questionnaire")
    used = {one["code"] for one in nested(bundle, "system") if one["system"] == LOCAL}
    assert used <= {concept["code"] for concept in system["concept"]}
    kinds = {item["linkId"]: item["type"].capitalize() for item in asked["item"]}
    for item in (item for one in of_kind(bundle, "QuestionnaireResponse") for item in one["item"]):
        assert f"value{kinds[item['linkId']]}" in item["answer"][0]


def references(value: Any) -> Iterator[str]:
    """Where the references in a resource point."""
    return (one["reference"] for one in nested(value, "reference"))


def nested(value: Any, key: str) -> Iterator[dict[str, Any]]:
    """Every object within a value that has a text under this key."""
    if isinstance(value, dict):
        if isinstance(value.get(key), str):
            yield value
        for held in value.values():
            yield from nested(held, key)
    elif isinstance(value, list):
        for held in value:
            yield from nested(held, key)


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

    assert "\"'=the garden" in text  # which no spreadsheet runs as a formula
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
    known = ("--identifier", "R-77", "--born-on", "1980-05-31", "--language", "es")
    wrong = [
        typed(monkeypatch, capsys, "enrol", "Ana", "--tendon", "insertional", *known, name, value)
        for name, value in (("--born-on", "31/5/80"), ("--born-on", "2080-05-31"),
                            ("--identifier", "=1+1"), ("--language", "fr"))
    ]  # fmt: skip
    typed(monkeypatch, capsys, "enrol", "Ana", "--tendon", "insertional", *known)

    written = typed(monkeypatch, capsys, "export", "ana", "--format", "fhir", "--to", "ana.json")
    again = typed(monkeypatch, capsys, "export", "ana", "--format", "fhir", "--to", "ana.json")
    printed = typed(monkeypatch, capsys, "export", "Ana", "--format", "csv")

    assert (written.status, again.status, printed.status) == (0, 2, 0)
    assert (tmp_path / "ana.json").stat().st_mode & 0o777 == 0o600
    (patient,) = of_kind(json.loads((tmp_path / "ana.json").read_text()), "Patient")
    assert [(one.status, "expected" in one.err) for one in wrong] == [(2, True)] * len(wrong)
    assert (patient["birthDate"], patient["identifier"][0]["value"]) == ("1980-05-31", "R-77")
    assert patient["communication"][0]["language"]["coding"][0]["code"] == "es"
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

    observed = of_kind(bundle, "Observation")
    found = [one for one in observed if one["code"]["coding"][0]["code"] == "visa-a"]
    assert [(one["valueInteger"], one["effectiveDateTime"]) for one in found] == [
        (56, "2026-03-02")
    ]
    assert [day.visa_a for day in read_diary(diary, case.protocol)] == [56]
