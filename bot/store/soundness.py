"""Whether a database file can be trusted with patients: whole, of this program's shape, and served
by one process alone. Each fault is said in a sentence; nothing is mended here."""

from __future__ import annotations

import fcntl
import os
import sqlite3
from pathlib import Path
from typing import TextIO

from sqlite_utils import Database

from bot.errors import StoreError
from bot.store.database import Store
from bot.store.migrations import migrate, steps

RESTORE = "put the last backup in its place (nextmorning restore)"


def faults(store: Store) -> list[str]:
    """What is wrong with an open file: damaged pages, or tables that no release of this program
    has made. A file that still waits for migrations is judged by what it has."""
    try:
        (found,) = store.db.conn.execute("PRAGMA quick_check(1)").fetchone()
    except sqlite3.DatabaseError as error:
        found = str(error)
    if found != "ok":
        return [f"{store.path} is damaged ({found}): {RESTORE}"]
    applied = _applied(store.db)
    strange = sorted(_shape(store.db).items() ^ _shape(_made_by(applied)).items())
    if applied and strange:
        name = strange[0][0]
        return [f"{store.path} was made by no release of this program: {name} differs; {RESTORE}"]
    return []


def migrate_if_sound(store: Store) -> None:
    """Bring a file to the newest shape, unless something is wrong with it. Raises StoreError."""
    if found := faults(store):
        raise StoreError("; ".join(found))
    migrate(store)


def _applied(db: Database) -> set[str]:
    if "_sqlite_migrations" not in db.table_names():
        return set()
    sql = "SELECT name FROM _sqlite_migrations WHERE migration_set = 'nextmorning'"
    return {name for (name,) in db.conn.execute(sql)}


def _made_by(applied: set[str]) -> Database:
    """An empty store that the same steps have made."""
    empty = Database(memory=True)
    for step in steps.pending(empty):
        if step.name in applied:
            step.fn(empty)
    return empty


def _shape(db: Database) -> dict[str, str]:
    """What each table and index was made by, white space apart."""
    made = db.conn.execute("SELECT name, sql FROM sqlite_schema WHERE sql IS NOT NULL")
    not_ours = ("sqlite_", "_sqlite", "idx__sqlite")
    own = ((name, sql) for name, sql in made if not name.startswith(not_ours))
    return {name: " ".join(sql.split()) for name, sql in own}


def serve_alone(path: Path) -> TextIO:
    """Hold the file for one serving process, for as long as what is given stays open: the lock dies
    with the process. Raises StoreError where another has it."""
    beside = path.with_name(f"{path.name}.serving")
    held = os.fdopen(os.open(beside, os.O_CREAT | os.O_RDWR, 0o600), "r+")
    try:
        fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        who = held.read().strip()
        held.close()
        raise StoreError(
            f"{path} is served already by process {who}; stop that one first"
        ) from error
    held.truncate(0)
    held.write(f"{os.getpid()}\n")
    held.flush()
    return held
