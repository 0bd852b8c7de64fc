"""A clinic of any size for the bench: a patient is played by the real bot, then copied row by row.

The patient has just been asked the morning's questions, so that "2 10" is the next thing to come.
Copying shifts every number that names a copied row; what must be unique gets the copy's number.
"""

from __future__ import annotations

import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path

from world import World

from bot.rehearsal.clinic import made_up_clinic
from bot.store.database import Store
from bot.store.migrations import migrate

CLINIC = made_up_clinic()

# Columns that hold what may be there once, beside the numbers of rows.
UNIQUE = {
    "outbox": ("once_key",),
    "inbox": ("message_id", "address"),
    "contact_points": ("address",),
    "invitations": ("code_hash",),
    "people": ("name",),
    "escalations": ("once_key",),
}


def _fast(store: Store) -> None:
    """The days before the measurement need not survive a power cut."""
    migrate(store)
    store.db.conn.execute("PRAGMA synchronous = OFF")


async def played(path: Path, days: int) -> tuple[datetime, list[tuple[int, int]]]:
    """One patient and a clinician after so many days, up to yesterday morning; gives that instant,
    and the size of the file on some days: (day, bytes)."""
    enrolled = datetime.now(UTC).replace(hour=9, minute=0, second=0, microsecond=0)
    world = World(path, enrolled - timedelta(days=days + 2), CLINIC, prepare=_fast)
    sizes = []
    async with world.stage:
        await world.clinician("Ilse")
        ana = await world.patient("Ana")
        for day in range(1, days + 1):
            await world.at("07:31", days=1)
            await ana.says(f"{1 + day % 3} {8 + day % 5}")
            await world.at("19:01")
            for text in ("3 2 1 4", "no 20"):
                await ana.says(text)
            if day % 91 == 0 or day in (7, days):
                sizes.append((day, await world.stage.run(_size)))
        await world.at("07:31", days=1)
        now = world.now
    return now, sizes


def _size(store: Store) -> int:
    pages, free, size = (
        store.db.conn.execute(f"PRAGMA {name}").fetchone()[0]
        for name in ("page_count", "freelist_count", "page_size")
    )
    return int((pages - free) * size)


def copied(template: Path, target: Path, patients: int) -> Path:
    """A store with this many patients, each with the history of the one in `template`."""
    shutil.copy(template, target)
    store = Store(target)
    conn = store.db.conn
    conn.execute("PRAGMA synchronous = OFF")
    conn.execute("PRAGMA foreign_keys = OFF")
    (patient,) = (row["id"] for row in store.rows("SELECT id FROM people WHERE role = 'patient'"))
    tables = [
        row["name"]
        for row in store.rows("SELECT name FROM sqlite_schema WHERE type = 'table'")
        if not row["name"].startswith(("sqlite_", "_sqlite", "protocols", "cursors", "spending"))
    ]
    span = 1 + max(
        store.rows(f"SELECT coalesce(max(rowid), 0) AS n FROM {t}")[0]["n"] for t in tables
    )
    conn.execute("BEGIN IMMEDIATE")
    conn.execute("CREATE TEMP TABLE copies AS WITH RECURSIVE c (n) AS (SELECT 1 UNION ALL "
                 f"SELECT n + 1 FROM c WHERE n < {patients - 1}) SELECT n FROM c")  # fmt: skip
    for table in tables:
        _copy(store, table, patient, span)
    conn.execute("COMMIT")
    conn.execute("ANALYZE")
    store.close()
    return target


def _copy(store: Store, table: str, patient: int, span: int) -> None:
    """Each row of one table once for each copy; what is the clinician's stays single."""
    conn = store.db.conn
    columns = [(row[1], bool(row[5])) for row in conn.execute(f"PRAGMA table_info({table})")]
    to_people = {
        row[3] for row in conn.execute(f"PRAGMA foreign_key_list({table})") if row[2] == "people"
    }
    references = {row[3] for row in conn.execute(f"PRAGMA foreign_key_list({table})")}
    if table == "people":
        own = f"id = {patient}"
    else:
        whose = [name for name in ("patient", "person") if name in to_people]
        own = f"{whose[0]} = {patient}" if whose else "1"
    shown = []
    for name, is_key in columns:
        moved = f"{name} + n * {span}"
        if name in to_people:
            shown.append(f"CASE WHEN {name} = {patient} THEN {moved} ELSE {name} END")
        elif name in references or (is_key and name == "id"):
            shown.append(moved)
        elif name in UNIQUE.get(table, ()):
            shown.append(f"{name} || ' ' || n")
        else:
            shown.append(name)
    names = ", ".join(name for name, _ in columns)
    conn.execute(
        f"INSERT INTO {table} ({names}) SELECT {', '.join(shown)} FROM {table}, copies WHERE {own}"
    )


def asked(store: Store, among: int) -> list[str]:
    """Addresses of patients who have been asked and have not answered."""
    sql = """
    SELECT address FROM contact_points JOIN people ON people.id = contact_points.person
    WHERE role = 'patient' ORDER BY contact_points.id DESC LIMIT :among
    """
    return [row["address"] for row in store.rows(sql, {"among": among})]
