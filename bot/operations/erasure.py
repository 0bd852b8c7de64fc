"""Erases a patient: content, identity and traces, so that the file itself no longer holds them.

What is left is a tombstone: a number, dates and counts. An escalation that nobody has acknowledged
is never erased away. Copies of the database made before still hold the patient; see `backup`. Read
next: `bot.commands.erase`.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from bot.errors import RefusedError
from bot.store import audit, escalations, instants, pictures
from bot.store.database import Store
from bot.store.people import Person, Role

# Whose rows are whose. An invitation is sent back before the address is known to be the patient's,
# and a given-up address keeps a mark behind it: see `people.give_up_address`.
_EPISODE = "episode IN (SELECT id FROM episodes WHERE patient = :id)"
_MATTER = "escalation IN (SELECT id FROM escalations WHERE patient = :id)"
_SENT = f"outbox IN (SELECT id FROM outbox WHERE person = :id OR {_MATTER})"
_ADDRESS = """
EXISTS (SELECT 1 FROM contact_points AS known WHERE known.person = :id
    AND known.channel = {table}.channel
    AND known.address IN ({table}.address, {table}.address || ' until ' || known.closed_at))
"""

# What is deleted, and in which order: each table before those it is found by.
ERASED: tuple[tuple[str, str], ...] = (
    ("answers", _EPISODE),
    ("sessions", _EPISODE),
    ("decisions", _EPISODE),
    ("moves", _EPISODE),
    ("pauses", _EPISODE),
    ("day_words", _EPISODE),
    ("confirmations", "patient = :id"),
    ("conversations", "person = :id"),
    ("looks", "patient = :id"),
    ("tips_told", "person = :id"),
    ("sign_questions", "patient = :id"),
    ("notices", _MATTER),
    ("receipts", f"{_SENT} OR (outbox IS NULL AND {_ADDRESS.format(table='receipts')})"),
    ("attempts", _SENT),
    ("outbox", f"person = :id OR {_MATTER}"),
    ("outbox", f"person IS NULL AND {_ADDRESS.format(table='outbox')}"),
    ("escalations", "patient = :id"),
    ("prompts", "patient = :id"),
    ("pictures", "person = :id"),
    ("inbox", f"person = :id OR (person IS NULL AND {_ADDRESS.format(table='inbox')})"),
    ("invitations", "person = :id"),
    ("contact_points", "person = :id"),
    ("episodes", "patient = :id"),
    ("audit", "person = :id"),
)

# Tables that hold nothing of one patient, or of which only the tombstone is left, and why.
KEPT: Mapping[str, str] = {
    "people": "the tombstone: number and dates, no name",
    "protocols": "the clinic's, not a patient's",
    "cursors": "how far each channel was read",
    "page_keys": "hashes of the keys of staff; a patient has none",
    "passkeys": "public keys of staff; a patient has none",
    "shifts": "the clinic's rota",
    "days_off": "the clinic's rota",
    "list_rests": "numbers alone, of the list that a clinician read last",
    "spending": "counts a month, of all together",
    "_sqlite_migrations": "the shape of the file",
}

# What stands where a patient's words or name stood in what clinicians wrote and read.
GONE = "(erased)"


@dataclass(frozen=True)
class Tombstone:
    """What is left of a patient. `counts`: how many rows of each kind were erased."""

    number: int
    invited_on: date
    enrolled_on: date | None
    erased_at: datetime
    counts: Mapping[str, int]


def erase(store: Store, patient: Person, now: datetime, by: int | None = None) -> Tombstone:
    """Erase a patient, in the transaction of the caller; call `wipe` after its commit.

    by: the person who asked for it, None for somebody at the command line. Raises RefusedError
    for anyone but a patient, and while something worrying waits for a clinician.
    """
    _may_be_erased(store, patient)
    # Rows point at one another both ways: all is checked once, at the commit.
    store.change("PRAGMA defer_foreign_keys = ON")
    dates = _dates(store, patient)
    _scrub_clinicians(store, patient)
    pictures.take_out_of_messages(store, patient.id)
    pictures.drop(store, "digest")  # the whole caseload stands in it, this patient too
    _keep_open_attempts(store, patient, now)
    counts: dict[str, int] = {}
    for table, whose in ERASED:
        erased = store.change(f"DELETE FROM {table} WHERE {whose}", {"id": patient.id})
        counts[table] = counts.get(table, 0) + erased
    _leave_tombstone(store, patient, now)
    tombstone = Tombstone(patient.id, *dates, now, counts)
    audit.note(
        store,
        by,
        "patient erased",
        now,
        patient=patient.id,
        invited_on=tombstone.invited_on,
        enrolled_on=tombstone.enrolled_on,
        counts=dict(counts),
    )
    return tombstone


def wipe(store: Store) -> bool:
    """Rewrite the file without what was deleted, its log of changes included. Outside of any
    transaction. False: another program held the file; what was erased may still be read in it."""
    try:
        store.db.conn.execute("VACUUM")
        busy = store.db.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
    except sqlite3.OperationalError:
        return False
    return not busy


def older_copies(database: Path) -> tuple[Path, ...]:
    """Copies that lie beside the database since it changed its shape: who was erased is in them."""
    return tuple(sorted(database.parent.glob(f"{database.name}.before-*")))


def _may_be_erased(store: Store, patient: Person) -> None:
    if patient.role is not Role.PATIENT:
        raise RefusedError(f"{patient.name} is not a patient, and only patients are erased")
    waiting = [escalation.id for escalation in escalations.unacknowledged(store, patient.id)]
    if waiting:
        numbers = ", ".join(map(str, waiting))
        raise RefusedError(
            f"somebody must first say I HAVE IT to what is worrying about {patient.name}: {numbers}"
        )
    sql = "SELECT 1 FROM sign_questions WHERE patient = :id AND settled_at IS NULL"
    if store.row(sql, {"id": patient.id}) is not None:
        raise RefusedError(
            f"{patient.name} was asked about a warning sign and has not answered yet;"
            " try again when that is settled"
        )


def _dates(store: Store, patient: Person) -> tuple[date, date | None]:
    sql = """
    SELECT made_at, enrolled_on FROM people LEFT JOIN episodes ON patient = people.id
    WHERE people.id = :id
    """
    row = store.one(sql, {"id": patient.id}, f"person {patient.id}")
    return instants.read(row["made_at"]).date(), instants.day(row["enrolled_on"])


def _leave_tombstone(store: Store, patient: Person, now: datetime) -> None:
    sql = """
    UPDATE people SET name = :name, language = 'en', zone = 'UTC', home_zone = NULL,
        away_until = NULL, away_ends_at = NULL, consented_at = NULL, consent_wording = NULL,
        opted_out_at = :at, number_confirmed_at = NULL, erased_at = :at,
        identifier = NULL, born_on = NULL
    WHERE id = :id
    """
    name = f"{GONE} {patient.id}"
    store.change(sql, {"id": patient.id, "name": name, "at": instants.text(now)})


def _keep_open_attempts(store: Store, patient: Person, now: datetime) -> None:
    """A message that a sender holds at this moment: its row stays, as nobody's and empty, for the
    sender to settle. It is not tried again."""
    open_one = "SELECT outbox FROM attempts WHERE ended_at IS NULL"
    whose = f"(person = :id OR {_MATTER}) AND trying_run IS NOT NULL AND id IN ({open_one})"
    blank = """
    UPDATE attempts SET address = :gone WHERE outbox IN (SELECT id FROM outbox WHERE {whose})
    """
    values = {"id": patient.id, "gone": GONE, "at": instants.text(now)}
    store.change(blank.format(whose=whose), values)
    sql = f"""
    UPDATE outbox SET once_key = NULL, person = NULL, contact = NULL, address = :gone, text = '',
        choices = '[]', picture = NULL, escalation = NULL, prompt = NULL,
        failed_at = :at, failed_why = 'erased'
    WHERE {whose}
    """
    store.change(sql, values)


def _scrub_clinicians(store: Store, patient: Person) -> None:
    """Take the patient out of what clinicians wrote, were told, and are on record with.

    Whatever names the patient, by the first name too, loses its whole text where it has been sent
    or handled: rather too much than too little. What still waits loses the name only.
    """
    named = re.compile(_any_word((patient.name, patient.name.split()[0])), re.IGNORECASE)
    for row in store.rows(
        "SELECT id, text, accepted_at, failed_at FROM outbox WHERE person != :id",
        {"id": patient.id},
    ):
        if named.search(row["text"]):
            done = row["accepted_at"] or row["failed_at"]
            text = GONE if done else named.sub(GONE, row["text"])
            _rewrite(store, "outbox", row["id"], text=text, choices="[]" if done else None)
    for row in store.rows(_WRITTEN_BY_OTHERS, {"id": patient.id}):
        if named.search(row["text"]) or row["about"]:
            _rewrite(store, "inbox", row["id"], text=GONE)
    escalations = {
        row["id"]
        for row in store.rows("SELECT id FROM escalations WHERE patient = :id", {"id": patient.id})
    }
    for row in store.rows("SELECT id, details FROM audit"):
        details = json.loads(row["details"])
        own = details.get("patient") == patient.id or details.get("escalation") in escalations
        if own or named.search(row["details"]):
            _rewrite(store, "audit", row["id"], details="{}")


# What clinicians wrote and was dealt with. `about`: it closed an escalation of the patient's, in
# words that need not name anyone.
_WRITTEN_BY_OTHERS = """
SELECT id, text, EXISTS (
    SELECT 1 FROM escalations
    WHERE patient = :id AND closed_by = inbox.person AND closed_at = inbox.handled_at
) AS about
FROM inbox WHERE person != :id AND handled_at IS NOT NULL
"""


def _any_word(words: Iterable[str]) -> str:
    return "|".join(rf"\b{re.escape(word)}\b" for word in words if word)


def _rewrite(store: Store, table: str, number: int, **columns: str | None) -> None:
    given = {column: value for column, value in columns.items() if value is not None}
    setting = ", ".join(f"{column} = :{column}" for column in given)
    store.change(f"UPDATE {table} SET {setting} WHERE id = :id", {**given, "id": number})
