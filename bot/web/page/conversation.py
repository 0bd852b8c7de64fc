"""The conversation with one patient as a clinician reads it: what passed, the latest first, and
beside each message of the patient's the numbers that were taken from it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from bot.patient_record.record import PatientRecord
from bot.store import instants
from bot.store.database import Store

# Messages shown [count, at most]. Convention.
MESSAGES_MAX = 60

PASSED = """
SELECT received_at AS at, 0 AS from_bot, id, channel, text, outcome
FROM inbox WHERE person = :person
UNION ALL
SELECT accepted_at, 1, id, channel, text, '' FROM outbox
WHERE person = :person AND accepted_at IS NOT NULL
ORDER BY 1 DESC, 2 DESC, 3 DESC LIMIT :limit
"""


@dataclass(frozen=True)
class Message:
    """One message. `numbers`: (question, value) of what was kept of it. `unread`: nothing was made
    of it."""

    at: datetime
    from_bot: bool
    channel: str
    text: str
    numbers: tuple[tuple[str, str], ...] = ()
    unread: bool = False


def conversation(store: Store, case: PatientRecord) -> list[Message]:
    """The latest messages, the newest first."""
    rows = store.rows(PASSED, {"person": case.patient.id, "limit": MESSAGES_MAX})
    taken: dict[int, list[tuple[str, str]]] = {}
    sql = "SELECT message, question, value FROM answers WHERE episode = :episode ORDER BY id"
    for row in store.rows(sql, {"episode": case.episode.id}):
        taken.setdefault(row["message"], []).append((row["question"], str(row["value"])))
    return [
        Message(
            at=instants.read(row["at"]),
            from_bot=bool(row["from_bot"]),
            channel=row["channel"],
            text=row["text"],
            numbers=() if row["from_bot"] else tuple(taken.get(row["id"], ())),
            unread=row["outcome"] == "unread",
        )
        for row in rows
    ]
