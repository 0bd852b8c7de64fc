"""Commands of clinicians that wait for a YES: kept, so that a restart loses none; one a clinician.

A settled row stays, so that its number is never used again: an old button means no newer question.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from bot.store import instants
from bot.store.database import Store


class SettledHow(StrEnum):
    """What became of the question."""

    YES = "yes"
    NO = "no"
    LATE = "late"
    DROPPED = "another command came"


@dataclass(frozen=True)
class Confirmation:
    """A command that waits. `would`: what was said would happen, word for word."""

    id: int
    clinician: int
    patient: int
    command: str
    would: str
    asked_at: datetime


def ask(store: Store, clinician: int, patient: int, command: str, would: str, now: datetime) -> int:
    """Keep a command until its YES; gives its number."""
    values = {"clinician": clinician, "patient": patient, "command": command, "would": would}
    return store.add("confirmations", {**values, "asked_at": instants.text(now)})


def waiting(store: Store, clinician: int) -> Confirmation | None:
    """What waits for this clinician's YES."""
    sql = """
    SELECT * FROM confirmations WHERE clinician = :clinician AND settled_at IS NULL
    ORDER BY id DESC LIMIT 1
    """
    row = store.row(sql, {"clinician": clinician})
    if row is None:
        return None
    return Confirmation(
        id=row["id"],
        clinician=row["clinician"],
        patient=row["patient"],
        command=row["command"],
        would=row["would"],
        asked_at=instants.read(row["asked_at"]),
    )


def settle(store: Store, number: int, how: SettledHow, now: datetime) -> None:
    """The question waits no more."""
    sql = "UPDATE confirmations SET settled_at = :at, settled_how = :how WHERE id = :id"
    store.change(sql, {"id": number, "how": how, "at": instants.text(now)})
