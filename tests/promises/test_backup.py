"""A copy made while the bot writes can be restored: whole, checked, owner-only."""

from __future__ import annotations

import json
import sqlite3
import stat
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from acts.typing_commands import typed
from stand_ins.patience import PATIENCE_SECONDS

from bot.errors import NotFoundError, RefusedError, StoreError, StoreNewerError
from bot.operations.backup import back_up, back_up_into, restore
from bot.store import people
from bot.store.database import Store
from bot.store.migrations import migrate
from bot.store.people import Role

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


@pytest.fixture
def clinic_db(tmp_path: Path) -> Path:
    """A database with three patients; nobody has it open."""
    path = tmp_path / "clinic.db"
    store = Store(path)
    migrate(store)
    for name in ("Ana", "Ben", "Cleo"):
        store.do(people.add, Role.PATIENT, name, NOW)
    store.close()
    return path


@pytest.fixture
def busy(clinic_db: Path) -> Iterator[threading.Event]:
    """The database is written to, one commit after another, as long as the test runs. Each commit
    adds a person and that person's line of audit: never one without the other."""
    stop, begun = threading.Event(), threading.Event()

    def pair(store: Store, number: int) -> None:
        person = people.add(store, Role.PATIENT, f"Patient {number}", NOW)
        row = {"at": "2026-03-02T09:00:00Z", "person": person.id, "action": "made"}
        store.add("audit", {**row, "details": "{}"})

    def write() -> None:
        store, number = Store(clinic_db), 0
        while not stop.is_set():
            number += 1
            store.do(pair, number)
            begun.set()
        store.close()

    thread = threading.Thread(target=write)
    thread.start()
    begun.wait(PATIENCE_SECONDS)
    yield begun
    stop.set()
    thread.join()


def names_in(folder: Path) -> set[str]:
    """What lies there, but for what SQLite keeps beside a database that was read."""
    beside = {"clinic.db-wal", "clinic.db-shm"}
    return {path.name for path in folder.iterdir()} - beside


def counted(path: Path, sql: str) -> int:
    """One number out of a database."""
    connection = sqlite3.connect(path)
    try:
        return int(connection.execute(sql).fetchone()[0])
    finally:
        connection.close()


PEOPLE = "SELECT count(*) FROM people"
AUDIT = "SELECT count(*) FROM audit"


def test_a_copy_made_under_writes_is_restored_while_the_old_one_goes_on(
    clinic_db: Path, busy: threading.Event, tmp_path: Path
) -> None:
    """Whole at one instant: each person has their line, and the old database has moved on."""
    before = counted(clinic_db, PEOPLE)

    copied = back_up(clinic_db, tmp_path / "copy.db")
    busy.clear()
    restored = restore(tmp_path / "copy.db", tmp_path / "again.db")

    assert busy.wait(PATIENCE_SECONDS)
    inside = counted(tmp_path / "again.db", PEOPLE)
    assert copied.patients == restored.patients == inside >= before
    assert counted(tmp_path / "again.db", AUDIT) == inside - 3
    assert counted(clinic_db, PEOPLE) > inside


def test_a_restored_database_can_be_worked_with(clinic_db: Path, tmp_path: Path) -> None:
    """It opens as any database does, has everybody in it, and takes more."""
    back_up(clinic_db, tmp_path / "copy.db")
    restore(tmp_path / "copy.db", tmp_path / "again.db")

    store = Store(tmp_path / "again.db")
    store.do(people.add, Role.PATIENT, "Dora", NOW)
    names = [person.name for person in people.by_role(store, Role.PATIENT)]
    store.close()

    assert names == ["Ana", "Ben", "Cleo", "Dora"]


def test_only_the_owner_can_read_what_was_made(clinic_db: Path, tmp_path: Path) -> None:
    """Mode 0600 for the copy and for what is restored from it; nothing else is left beside them."""
    back_up(clinic_db, tmp_path / "copy.db")
    restore(tmp_path / "copy.db", tmp_path / "again.db")

    modes = {stat.S_IMODE((tmp_path / name).stat().st_mode) for name in ("copy.db", "again.db")}
    assert modes == {0o600}
    assert names_in(tmp_path) == {"clinic.db", "copy.db", "again.db"}


@pytest.mark.parametrize("there", ["again.db", "again.db-wal", "again.db-journal"])
def test_nothing_is_overwritten(clinic_db: Path, tmp_path: Path, there: str) -> None:
    """Neither a file of that name, nor one that SQLite would take for a part of it."""
    (tmp_path / there).write_text("somebody's")

    with pytest.raises(RefusedError, match="nothing is overwritten"):
        back_up(clinic_db, tmp_path / "again.db")
    with pytest.raises(RefusedError, match="nothing is overwritten"):
        restore(clinic_db, tmp_path / "again.db")

    assert (tmp_path / there).read_text() == "somebody's"
    assert names_in(tmp_path) == {"clinic.db", there}


def damaged(path: Path) -> None:
    """Overwrite pages in the middle of the file."""
    content = bytearray(path.read_bytes())
    middle = len(content) // 2
    content[middle : middle + 8192] = b"\xff" * 8192
    path.write_bytes(content)


def newer(path: Path) -> None:
    """Write into the file that a step was applied which this program does not know."""
    connection = sqlite3.connect(path)
    columns = "(migration_set, name, applied_at)"
    values = "('nextmorning', 'm999_from_the_future', '2030-01-01')"
    connection.execute(f"INSERT INTO _sqlite_migrations {columns} VALUES {values}")
    connection.commit()
    connection.close()


def foreign(path: Path) -> None:
    """A sound database of another program."""
    path.unlink()
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE songs (name TEXT)")
    connection.commit()
    connection.close()


@pytest.mark.parametrize(
    ("spoil", "error"),
    [
        pytest.param(damaged, StoreError, id="pages overwritten"),
        pytest.param(lambda path: path.write_bytes(b""), StoreError, id="an empty file"),
        pytest.param(lambda path: path.write_text("dear diary" * 900), StoreError, id="a text"),
        pytest.param(foreign, StoreError, id="another program's"),
        pytest.param(newer, StoreNewerError, id="a newer program's"),
        pytest.param(Path.unlink, NotFoundError, id="no file"),
    ],
)
def test_what_cannot_be_trusted_is_not_restored(
    clinic_db: Path, tmp_path: Path, spoil: object, error: type[Exception]
) -> None:
    """Each is refused with its reason, and no half-made file is left."""
    back_up(clinic_db, tmp_path / "copy.db")
    spoil(tmp_path / "copy.db")  # type: ignore[operator]

    with pytest.raises(error):
        restore(tmp_path / "copy.db", tmp_path / "again.db")

    assert not [path for path in tmp_path.iterdir() if "again" in path.name]


def test_both_commands_tell_a_script_what_they_made(
    clinic_db: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """`backup --json` and `restore --json` print one object each; a second time is refused."""
    monkeypatch.chdir(tmp_path)
    table = '[clinic]\nname = "Riverside"\nphone = "020 7946 0000"\nzone = "Europe/London"\n'
    more = 'emergency_number = "999"\ncrisis_line = "116 123"\n'
    store = f'[store]\npath = "{clinic_db}"\n'
    (tmp_path / "clinic.toml").write_text(table + more + store)

    made = typed(monkeypatch, capsys, "backup", "copy.db", "--json")
    again = typed(monkeypatch, capsys, "backup", "copy.db")
    restored = typed(monkeypatch, capsys, "restore", "copy.db", "--to", "again.db", "--json")

    assert json.loads(made.out)["patients"] == 3
    assert (again.status, again.out) == (2, "")
    assert "nothing is overwritten" in again.err
    assert json.loads(restored.out)["file"] == "again.db"


def test_a_folder_of_copies_keeps_the_newest_and_what_is_not_ours(
    clinic_db: Path, tmp_path: Path
) -> None:
    """Four nights, two kept, each of them a database again; a copy made by hand stays."""
    folder = tmp_path / "copies"
    folder.mkdir()
    (folder / "clinic-by-hand.db").write_bytes(b"kept")

    for night in range(4):
        copied = back_up_into(clinic_db, folder, 2, NOW + timedelta(days=night))

    assert copied.patients == 3
    assert names_in(folder) == {
        "clinic-2026-03-04T090000Z.db", "clinic-2026-03-05T090000Z.db", "clinic-by-hand.db",
    }  # fmt: skip


def test_no_old_copy_goes_where_the_new_one_is_not_sound(clinic_db: Path, tmp_path: Path) -> None:
    """A damaged database would else, night after night, push out the last good copy."""
    folder = tmp_path / "copies"
    folder.mkdir()
    back_up_into(clinic_db, folder, 1, NOW)
    with clinic_db.open("r+b") as file:
        file.seek(8 * 4096)
        file.write(b"\xff" * 4096)

    with pytest.raises(StoreError):
        back_up_into(clinic_db, folder, 1, NOW + timedelta(days=1))

    assert names_in(folder) == {"clinic-2026-03-02T090000Z.db"}
