"""What came in: kept before it is acknowledged, handled once."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum

from bot.ports import Incoming
from bot.store import instants
from bot.store.database import Row, Store

# How long before a message others are still read as one with it, and how many. Convention: people
# send one sentence in parts, and write of something else after a pause.
READ_TOGETHER = timedelta(minutes=10)
READ_TOGETHER_MAX = 3


class Outcome(StrEnum):
    """What became of a message."""

    HANDLED = "handled"
    UNREAD = "unread"
    STRANGER = "stranger"
    FAILED = "failed"


@dataclass(frozen=True)
class Received:
    """A kept message. `before`: what the same address typed shortly before, oldest first."""

    id: int
    incoming: Incoming
    received_at: datetime
    before: tuple[str, ...] = ()


def keep(store: Store, incoming: Incoming, now: datetime) -> int | None:
    """Keep a message; None when the channel delivered it before."""
    values = {
        "channel": incoming.channel,
        "message_id": incoming.message_id,
        "address": incoming.address,
        "text": incoming.text,
        "pressed": incoming.pressed,
        "corrects": incoming.corrects,
        "sent_at": None if incoming.sent_at is None else instants.text(incoming.sent_at),
        "received_at": instants.text(now),
    }
    return store.add_once("inbox", values)


def waiting(store: Store, limit: int) -> list[int]:
    """Numbers of messages not handled yet: those of people who wrote words first, for a worry is
    among them, then numbers alone; of one person oldest first, whatever the channel."""
    sql = """
    SELECT inbox.id FROM inbox INDEXED BY inbox_waiting LEFT JOIN contact_points
        ON contact_points.channel = inbox.channel AND contact_points.address = inbox.address
    WHERE handled_at IS NULL
    ORDER BY max(text GLOB '*[^0-9 .,;:/-]*') OVER (
        PARTITION BY coalesce(contact_points.person, inbox.channel || ' ' || inbox.address)
    ) DESC, inbox.id
    LIMIT :limit
    """
    return [row["id"] for row in store.rows(sql, {"limit": limit})]


def get(store: Store, message_id: int) -> Received:
    """The message; raises NotFoundError."""
    sql = "SELECT * FROM inbox WHERE id = :id"
    return _received(store.one(sql, {"id": message_id}, f"message {message_id}"))


def unhandled(store: Store, message_id: int, now: datetime) -> Received | None:
    """The message with those just before it, or None once it is handled."""
    sql = """
    SELECT *, (SELECT json_group_array(text) FROM (
        SELECT text FROM inbox AS earlier
        WHERE earlier.channel = inbox.channel AND earlier.address = inbox.address
          AND earlier.received_at >= :since AND earlier.id < inbox.id AND earlier.pressed IS NULL
        ORDER BY earlier.id DESC LIMIT :most
    )) AS before
    FROM inbox WHERE id = :id AND handled_at IS NULL
    """
    since = instants.text(now - READ_TOGETHER)
    row = store.row(sql, {"id": message_id, "since": since, "most": READ_TOGETHER_MAX})
    if row is None:
        return None
    return replace(_received(row), before=tuple(reversed(json.loads(row["before"]))))


def mark_handled(
    store: Store, message_id: int, person: int | None, outcome: Outcome, now: datetime
) -> None:
    """This message is done with, whoever wrote it."""
    sql = """
    UPDATE inbox SET handled_at = :at, person = :person, outcome = :outcome WHERE id = :id
    """
    at = instants.text(now)
    store.change(sql, {"id": message_id, "person": person, "outcome": outcome, "at": at})


def count_failure(store: Store, message_id: int) -> int:
    """Handling raised; gives how often it has by now."""
    values = {"id": message_id}
    store.change("UPDATE inbox SET failures = failures + 1 WHERE id = :id", values)
    sql = "SELECT failures FROM inbox WHERE id = :id"
    return int(store.one(sql, values, f"message {message_id}")["failures"])


def strangers_since(store: Store, channel: str, address: str, since: datetime) -> int:
    """How many messages of this unknown sender were handled since an instant."""
    sql = """
    SELECT count(*) AS n FROM inbox
    WHERE channel = :channel AND address = :address AND outcome = 'stranger'
      AND handled_at >= :since
    """
    values = {"channel": channel, "address": address, "since": instants.text(since)}
    return int(store.one(sql, values, "count")["n"])


def strangers(store: Store, since: datetime) -> int:
    """How many messages of unknown senders came since an instant."""
    sql = "SELECT count(*) AS n FROM inbox WHERE outcome = 'stranger' AND received_at >= :since"
    return int(store.one(sql, {"since": instants.text(since)}, "count")["n"])


@dataclass(frozen=True)
class UnreadWords:
    """A message that nothing was made of."""

    id: int
    person: int
    text: str
    received_at: datetime


def unread_since(store: Store, person: int, since: datetime) -> list[UnreadWords]:
    """Those of one person since an instant, oldest first."""
    sql = """
    SELECT id, person, text, received_at FROM inbox
    WHERE person = :person AND outcome = 'unread' AND received_at >= :since ORDER BY id
    """
    return _unread(store.rows(sql, {"person": person, "since": instants.text(since)}))


def typed_since(store: Store, person: int, since: datetime, unread_since: datetime) -> list[str]:
    """What a person typed since an instant, and what nothing was made of since an earlier one, as
    it was written, oldest first. Buttons are left out."""
    sql = """
    SELECT text FROM inbox
    WHERE person = :person AND pressed IS NULL
      AND received_at >= :unread_since AND (received_at >= :since OR outcome = 'unread')
    ORDER BY id
    """
    values = {"since": instants.text(since), "unread_since": instants.text(unread_since)}
    return [str(row["text"]) for row in store.rows(sql, {"person": person, **values})]


def unshown(store: Store) -> list[UnreadWords]:
    """Those of all patients that no clinician has been sent, oldest first; without what is before
    a clinician as an escalation."""
    sql = """
    SELECT inbox.id, person, text, received_at FROM inbox JOIN people ON people.id = +person
    WHERE outcome = 'unread' AND shown_at IS NULL AND role = 'patient' AND erased_at IS NULL
      AND NOT EXISTS (SELECT 1 FROM escalations WHERE message = inbox.id)
    ORDER BY inbox.id
    """
    return _unread(store.rows(sql))


def _unread(rows: list[Row]) -> list[UnreadWords]:
    return [
        UnreadWords(row["id"], row["person"], row["text"], instants.read(row["received_at"]))
        for row in rows
    ]


def mark_unread(store: Store, message_id: int) -> None:
    """Nothing came of these words after all."""
    store.change("UPDATE inbox SET outcome = 'unread' WHERE id = :id", {"id": message_id})


def mark_shown(store: Store, message_id: int, now: datetime) -> None:
    """A clinician has been sent these words."""
    sql = "UPDATE inbox SET shown_at = :at WHERE id = :id AND shown_at IS NULL"
    store.change(sql, {"id": message_id, "at": instants.text(now)})


def texts_since(store: Store, person: int, since: datetime) -> list[str]:
    """What a person wrote after an instant, oldest first."""
    sql = "SELECT text FROM inbox WHERE person = :person AND received_at > :since ORDER BY id"
    rows = store.rows(sql, {"person": person, "since": instants.text(since)})
    return [row["text"] for row in rows]


def keep_cursor(store: Store, channel: str, cursor: str) -> None:
    """The channel need not deliver again what came up to here."""
    sql = """
    INSERT INTO cursors (channel, value) VALUES (:channel, :value)
    ON CONFLICT (channel) DO UPDATE SET value = excluded.value
    """
    store.change(sql, {"channel": channel, "value": cursor})


def cursor(store: Store, channel: str) -> str | None:
    """Where the channel goes on from."""
    row = store.row("SELECT value FROM cursors WHERE channel = :channel", {"channel": channel})
    return None if row is None else str(row["value"])


def _received(row: Row) -> Received:
    incoming = Incoming(
        channel=row["channel"],
        message_id=row["message_id"],
        address=row["address"],
        text=row["text"],
        sent_at=instants.read_maybe(row["sent_at"]),
        pressed=row["pressed"],
        corrects=row["corrects"],
    )
    return Received(row["id"], incoming, instants.read(row["received_at"]))
