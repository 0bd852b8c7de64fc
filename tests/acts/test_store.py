"""The store: transactions, the writing thread, migrations. On real files."""

from __future__ import annotations

import asyncio
import sqlite3
import stat
from pathlib import Path

import pytest
from sqlite_utils import Database

from bot.errors import StoreError, StoreNewerError
from bot.store.database import Store, Writer
from bot.store.migrations import migrate, steps

PERSON = {"role": "patient", "name": "Ana", "made_at": "2026-03-02T09:00:00Z"}


def opened(path: Path) -> Store:
    """A store of the newest shape."""
    store = Store(path)
    migrate(store)
    return store


def names(path: Path) -> list[str]:
    """The people in a file, read by a connection of its own."""
    connection = sqlite3.connect(path)
    found = [name for (name,) in connection.execute("SELECT name FROM people ORDER BY id")]
    connection.close()
    return found


def test_the_file_is_for_its_owner_only_and_durable(tmp_path: Path) -> None:
    """Mode 0600, write-ahead log, synced at each commit, foreign keys on."""
    store = opened(tmp_path / "a.sqlite")

    pragmas = {
        name: next(iter(store.rows(f"PRAGMA {name}")[0].values()))
        for name in ("journal_mode", "synchronous", "foreign_keys")
    }

    assert stat.S_IMODE((tmp_path / "a.sqlite").stat().st_mode) == 0o600
    assert pragmas == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1}


def test_what_fails_between_two_writes_leaves_neither(tmp_path: Path) -> None:
    """The library commits by itself outside a transaction; inside ours it must not."""
    store = opened(tmp_path / "a.sqlite")

    def fail_late(store: Store) -> None:
        store.add("people", PERSON)
        store.db["people"].insert({**PERSON, "name": "Bea"})
        raise RuntimeError

    with pytest.raises(RuntimeError):
        store.do(fail_late)

    assert names(tmp_path / "a.sqlite") == []


def test_a_read_then_write_does_not_fail_when_another_connection_writes(tmp_path: Path) -> None:
    """The write lock is taken at the start, so the other writer is the one that waits."""
    store = opened(tmp_path / "a.sqlite")
    other = sqlite3.connect(tmp_path / "a.sqlite", timeout=0)

    with store.transaction():
        store.rows("SELECT * FROM people")
        with pytest.raises(sqlite3.OperationalError, match="locked"):
            other.execute("INSERT INTO cursors VALUES ('a', '1')")
        store.add("people", PERSON)

    assert names(tmp_path / "a.sqlite") == ["Ana"]


@pytest.mark.parametrize(
    ("table", "values"),
    [
        pytest.param("poeple", PERSON, id="misspelt table"),
        pytest.param("people", {**PERSON, "nmae": "x"}, id="misspelt column"),
        pytest.param("people", {**PERSON, "role": "visitor"}, id="unknown role"),
        pytest.param("inbox", {"id": "seven"}, id="text where a number belongs"),
        pytest.param("moves", {"episode": 99}, id="an episode that is not there"),
    ],
)
def test_what_does_not_fit_is_refused(tmp_path: Path, table: str, values: dict) -> None:
    """Strict tables, checks and foreign keys; no table is made by accident."""
    store = opened(tmp_path / "a.sqlite")
    before = store.db.table_names()

    with pytest.raises(sqlite3.Error), store.transaction():
        store.add(table, values)

    assert store.db.table_names() == before


async def test_one_bad_job_of_a_group_spoils_no_other(tmp_path: Path) -> None:
    """Jobs that wait share a commit; the one that raises is undone alone."""
    writer = Writer(tmp_path / "a.sqlite", migrate)
    writer.start()

    def add(store: Store, name: str) -> str:
        store.add("people", {**PERSON, "name": name})
        if name == "bad":
            raise ValueError(name)
        return name

    done = await asyncio.gather(
        *(writer.run(add, name) for name in ("Ana", "bad", "Bea")), return_exceptions=True
    )
    writer.close()

    assert [str(result) for result in done] == ["Ana", "bad", "Bea"]
    assert isinstance(done[1], ValueError)
    assert names(tmp_path / "a.sqlite") == ["Ana", "Bea"]


async def test_a_group_shares_one_commit(tmp_path: Path) -> None:
    """What waits while the thread is busy goes in one transaction, and all of it is on disk."""
    writer = Writer(tmp_path / "a.sqlite", migrate)
    writer.start()
    begun: list[str] = []

    def add(store: Store, number: int) -> int:
        store.db.conn.set_trace_callback(
            lambda sql: begun.append(sql) if sql.startswith("BEGIN") else None
        )
        return store.add("people", {**PERSON, "name": f"{number}"})

    await asyncio.gather(*(writer.run(add, number) for number in range(150)))
    writer.close()

    assert len(names(tmp_path / "a.sqlite")) == 150
    assert len(begun) < 75


def test_opening_a_folder_says_what_was_expected(tmp_path: Path) -> None:
    """An error of ours with the path in it."""
    with pytest.raises(StoreError, match=str(tmp_path)):
        Store(tmp_path)


def test_a_newer_file_is_refused_and_left_alone(tmp_path: Path) -> None:
    """A step this program does not know: it says so, and changes nothing."""
    store = opened(tmp_path / "a.sqlite")
    store.db["_sqlite_migrations"].insert(
        {"migration_set": "nextmorning", "name": "m999_later", "applied_at": "2030"}
    )
    store.close()

    with pytest.raises(StoreNewerError, match="m999_later"):
        migrate(Store(tmp_path / "a.sqlite"))


def test_before_a_step_touches_data_the_file_is_copied(tmp_path: Path) -> None:
    """The copy opens, holds the old data, and is for its owner only."""
    path = tmp_path / "a.sqlite"
    store = opened(path)
    store.do(lambda s: s.add("people", PERSON))

    @steps(name="m998_tried_in_a_test")
    def step(db: Database) -> None:
        db.conn.execute("UPDATE people SET name = 'changed'")

    try:
        migrate(store)
    finally:
        steps._migrations[:] = [m for m in steps._migrations if m.name != "m998_tried_in_a_test"]

    copy = tmp_path / "a.sqlite.before-m998_tried_in_a_test"
    assert names(path) == ["changed"]
    assert names(copy) == ["Ana"]
    assert stat.S_IMODE(copy.stat().st_mode) == 0o600


def test_a_step_that_fails_leaves_the_old_shape(tmp_path: Path) -> None:
    """All of a step or nothing of it."""
    path = tmp_path / "a.sqlite"
    store = opened(path)
    store.do(lambda s: s.add("people", PERSON))

    @steps(name="m997_fails_in_a_test")
    def step(db: Database) -> None:
        db.conn.execute("UPDATE people SET name = 'changed'")
        raise RuntimeError

    try:
        with pytest.raises(RuntimeError):
            migrate(store)
    finally:
        steps._migrations[:] = [m for m in steps._migrations if m.name != "m997_fails_in_a_test"]

    assert names(path) == ["Ana"]
