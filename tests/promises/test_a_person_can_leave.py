"""A person can leave: opt-out, export, and erasure that leaves a tombstone and nothing to read."""

from __future__ import annotations

import json
from collections.abc import AsyncIterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from acts.typing_commands import typed
from world import MONDAY, Voice, World, world_at

from bot.errors import RefusedError
from bot.operations.erasure import ERASED, KEPT, erase, wipe
from bot.store import audit, people
from bot.store.database import Store
from bot.store.migrations import migrate
from bot.store.people import Role

# Names and words that stand nowhere else.
NAME = "Zebedina Quux"
WORDS = ("swollenwort", "gardenwort", "scanwort", "recordwort", "1971-02-03")


@pytest.fixture
async def told(tmp_path: Path) -> AsyncIterator[tuple[World, Voice, Voice]]:
    """Two days of two patients: answers, a warning sign, a clinician who looks, has it, closes."""
    world = world_at(tmp_path / "clinic.db")
    async with world.stage:
        ilse = await world.clinician("Ilse")
        zebedina = await world.patient(NAME)
        ben = await world.patient("Ben")
        for voice in (zebedina, ben):
            await voice.says("2 10")
        await zebedina.says("my gardenwort is lovely")
        for voice in (zebedina, ben):
            for text in ("done", "3 2 2 4", "no 0"):
                await voice.says(text)
        await world.at("07:31")
        await zebedina.says("my whole calf is swollen and tender since yesterday swollenwort")
        await ilse.says("show Zebedina")
        await ilse.presses("I have it")
        await ilse.says("closed 1 not worrying, scanwort was clear")
        await ilse.says("yes")
        await ilse.says("show Zebedina Kuux")
        await world.at("09:00")
        await world.stage.run(
            lambda s: people.identify(s, patient_named(s, NAME).id, "recordwort", date(1971, 2, 3))
        )
        yield world, zebedina, ben


def bytes_of(folder: Path) -> bytes:
    """All that lies in the folder, in small letters."""
    return b"".join(path.read_bytes() for path in sorted(folder.iterdir())).lower()


def patient_named(store: Store, name: str) -> people.Person:
    """The patient of this name."""
    (found,) = people.patients_named(store, name)
    return found


async def rows_of(world: World, voice: Voice) -> dict[str, Any]:
    """What is kept of one patient, by table."""
    found = {}
    for table in ("answers", "sessions", "decisions", "moves"):
        sql = f"""SELECT {table}.* FROM {table} JOIN episodes ON episodes.id = episode
        JOIN people ON people.id = patient WHERE name = :name"""
        found[table] = await world.rows(sql, name=voice.name)
    return found


async def test_after_erasure_the_raw_file_holds_nothing_of_the_patient(
    told: tuple[World, Voice, Voice], tmp_path: Path
) -> None:
    """Neither name, address nor words are among the bytes of any file; before, they were."""
    world, _, _ = told
    before = bytes_of(tmp_path)

    await world.stage.run(lambda s: erase(s, patient_named(s, NAME), world.now))
    store = Store(tmp_path / "clinic.db")
    clean = wipe(store)
    store.close()

    traces = [word.encode() for word in ("zebedina", "quux", *WORDS)]
    assert [word for word in traces if word in before] == traces
    assert clean
    assert [word for word in traces if word in bytes_of(tmp_path)] == []


async def test_a_tombstone_is_left_with_number_dates_and_counts(
    told: tuple[World, Voice, Voice],
) -> None:
    """The number keeps its row, without a name; what was erased is counted in the audit."""
    world, _, _ = told
    number = await world.stage.run(lambda s: patient_named(s, NAME).id)

    tombstone = await world.stage.run(lambda s: erase(s, patient_named(s, NAME), world.now))

    (row,) = await world.rows("SELECT * FROM people WHERE id = :id", id=number)
    (line,) = await world.rows("SELECT * FROM audit WHERE action = 'patient erased'")
    assert (row["name"], row["erased_at"]) == (f"(erased) {number}", "2026-03-03T09:00:00Z")
    assert tombstone.enrolled_on == MONDAY.date()
    assert tombstone.counts["sessions"] == 1
    assert tombstone.counts["escalations"] == 1
    assert json.loads(line["details"])["counts"] == tombstone.counts


async def test_the_other_patient_keeps_everything_and_the_bot_goes_on(
    told: tuple[World, Voice, Voice],
) -> None:
    """Ben's rows are the same; the erased patient is asked nothing and is a stranger."""
    world, zebedina, ben = told
    before = await rows_of(world, ben)

    await world.stage.run(lambda s: erase(s, patient_named(s, NAME), world.now))
    after = await rows_of(world, ben)
    zebedina.hears()
    await world.at("22:00", days=2)

    assert before == after
    assert all(after.values())
    assert zebedina.hears() == []
    assert ben.hears()
    assert "code" in " ".join(await zebedina.says("2 10")).lower()


@pytest.mark.parametrize(
    ("text", "why"),
    [
        pytest.param("my whole calf is swollen and tender", "I HAVE IT", id="nobody has it"),
        pytest.param("8 30", "not answered yet", id="a closed question is open"),
    ],
)
async def test_an_alarm_is_never_erased_away(tmp_path: Path, text: str, why: str) -> None:
    """While something worrying waits, erasure is refused and changes nothing."""
    world = world_at(tmp_path / "clinic.db")
    async with world.stage:
        await world.clinician("Ilse")
        patient = await world.patient(NAME)
        await patient.says(text)
        before = await rows_of(world, patient)

        with pytest.raises(RefusedError, match=why):
            await world.stage.run(lambda s: erase(s, patient_named(s, NAME), world.now))

        assert await rows_of(world, patient) == before


def test_every_table_is_erased_or_says_why_not(tmp_path: Path) -> None:
    """A new table must be given its place, or somebody's words would stay in it."""
    store = Store(tmp_path / "clinic.db")
    migrate(store)

    tables = set(store.db.table_names())
    store.close()

    assert tables == {table for table, _ in ERASED} | set(KEPT)


@pytest.fixture
def one_patient(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A clinic's configuration, and a database with a patient in it."""
    monkeypatch.chdir(tmp_path)
    lines = (
        '[clinic]\nname = "Riverside"\nphone = "020 7946 0000"\nzone = "Europe/London"',
        'emergency_number = "999"\ncrisis_line = "116 123"',
        '[store]\npath = "clinic.db"',
    )
    (tmp_path / "clinic.toml").write_text("\n".join(lines))
    store = Store(tmp_path / "clinic.db")
    migrate(store)
    with store.transaction():
        person = people.add(store, Role.PATIENT, NAME, MONDAY)
        audit.note(store, None, "patient invited", MONDAY, patient=person.id)
    store.close()
    return tmp_path / "clinic.db"


def test_the_command_erases_once_the_name_is_typed(
    one_patient: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Another name than the patient's erases nothing; `--yes` asks nothing."""
    wrong = typed(monkeypatch, capsys, "erase", NAME, fed=b"Zebedina\n")
    kept = NAME.encode() in one_patient.read_bytes()
    part = typed(monkeypatch, capsys, "erase", "Zebedina", "--yes")
    right = typed(monkeypatch, capsys, "erase", NAME.lower(), "--yes", "--json")

    assert (wrong.status, kept) == (2, True)
    assert (part.status, "no patient is named" in part.err) == (2, True)
    assert (right.status, json.loads(right.out)["number"]) == (0, 1)
    assert NAME.encode() not in one_patient.read_bytes()
