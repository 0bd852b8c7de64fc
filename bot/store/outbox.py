"""What goes out: written with the decision that caused it, sent by urgency, tried until settled.

A row is waiting until the channel accepted it or it failed for good. While a run of the program
tries it, `trying_run` names that run; a row that an earlier run was trying may have arrived, so it
is sent again and marked as a possible double.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import IntEnum

from bot.ports import Button, Outgoing
from bot.store import instants, people, pictures
from bot.store.database import Row, Store
from bot.store.people import Contact

# Added before an instant is cut to the second, so that it is never earlier than asked for.
ALMOST_A_SECOND = timedelta(microseconds=999_999)


class Urgency(IntEnum):
    """What overtakes what; 0 goes first."""

    ESCALATION = 0
    SAFETY = 1
    REPLY = 2
    PROMPT = 3


@dataclass(frozen=True)
class Draft:
    """A message to be written. `once_key`: a second one with the same key is not written.
    `picture`: the number of a picture kept in `pictures`."""

    person: int
    text: str
    urgency: Urgency
    choices: tuple[tuple[Button, ...], ...] = ()
    once_key: str | None = None
    escalation: int | None = None
    prompt: int | None = None
    expires_at: datetime | None = None
    picture: int | None = None


def write(store: Store, draft: Draft, now: datetime, channel: str | None = None) -> int | None:
    """Put a message in line, on the given channel or the person's first.

    None: it was written before, or there is no way left to reach the person.
    """
    contact = _choose(people.contacts(store, draft.person), channel)
    return None if contact is None else write_at(store, draft, contact, now)


def write_at(store: Store, draft: Draft, contact: Contact, now: datetime) -> int | None:
    """Put a message in line for one contact point, open or closed. None: it was written before."""
    values = {
        "once_key": draft.once_key,
        "person": draft.person,
        "contact": contact.id,
        "channel": contact.channel,
        "address": contact.address,
        "urgency": int(draft.urgency),
        "text": draft.text,
        "choices": json.dumps([[[b.label, b.payload] for b in row] for row in draft.choices]),
        "escalation": draft.escalation,
        "prompt": draft.prompt,
        "picture": draft.picture,
        "written_at": instants.text(now),
        "due_at": instants.text(now),
        "expires_at": None if draft.expires_at is None else instants.text(draft.expires_at),
    }
    return store.add_once("outbox", values)


def write_to_stranger(
    store: Store, channel: str, address: str, text: str, once_key: str, now: datetime
) -> None:
    """Put a reply in line for an address that belongs to nobody we know."""
    at = instants.text(now)
    values = {"channel": channel, "address": address, "text": text, "once_key": once_key}
    urgency = int(Urgency.REPLY)
    store.add_once("outbox", {**values, "urgency": urgency, "written_at": at, "due_at": at})


def write_last_resort(
    store: Store, channel: str, text: str, once_key: str, now: datetime, until: datetime
) -> None:
    """Put a text in line for the clinic's last resort, to be tried until then."""
    at = instants.text(now)
    values = {"channel": channel, "address": channel, "text": text, "once_key": once_key}
    more = {"written_at": at, "due_at": at, "expires_at": instants.text(until)}
    store.add_once("outbox", {**values, **more, "urgency": int(Urgency.ESCALATION)})


def _choose(contacts: Sequence[Contact], channel: str | None) -> Contact | None:
    wanted = [contact for contact in contacts if channel in (None, contact.channel)]
    return next(iter(wanted or contacts), None)


def next_due(
    store: Store, channel: str, run: str, now: datetime, least: Urgency = Urgency.PROMPT
) -> Row | None:
    """The most urgent row that may go now: not tried by this run at the moment, nor to an address
    that another of this run's senders is busy with, so that messages keep their order.

    `least`: what is less urgent than this waits.
    """
    sql = """
    SELECT * FROM outbox
    WHERE channel = :channel AND accepted_at IS NULL AND failed_at IS NULL
      AND due_at <= :now AND trying_run IS NOT :run AND urgency <= :least
      AND address NOT IN (
          SELECT address FROM outbox WHERE trying_run = :run AND channel = :channel)
    ORDER BY urgency, due_at, id LIMIT 1
    """
    values = {"channel": channel, "run": run, "now": instants.text(now), "least": int(least)}
    return store.row(sql, values)


def start(store: Store, row: Row, run: str, now: datetime) -> Outgoing:
    """Write down that an attempt starts, before it does."""
    values = {"id": row["id"], "run": run, "double": int(row["trying_run"] is not None)}
    sql = """
    UPDATE outbox SET trying_run = :run, tries = tries + 1,
        possible_double = max(possible_double, :double)
    WHERE id = :id
    """
    store.change(sql, values)
    attempt = {"outbox": row["id"], "channel": row["channel"], "address": row["address"]}
    store.add("attempts", {**attempt, "run": run, "started_at": instants.text(now)})
    choices = tuple(tuple(Button(*pair) for pair in line) for line in json.loads(row["choices"]))
    return Outgoing(
        id=row["id"],
        channel=row["channel"],
        address=row["address"],
        text=row["text"],
        choices=choices,
        urgent=row["urgency"] == Urgency.ESCALATION,
        attempt=row["tries"] + 1,
        picture=pictures.png(store, row["picture"]),
    )


def end_attempt(
    store: Store, outbox_id: int, result: str, why: str, reference: str, now: datetime
) -> None:
    """Write down how the attempt ended."""
    sql = """
    UPDATE attempts SET ended_at = :at, result = :result, why = :why, reference = :reference
    WHERE id = (SELECT max(id) FROM attempts WHERE outbox = :id AND ended_at IS NULL)
    """
    values = {"id": outbox_id, "result": result, "why": why, "reference": reference}
    store.change(sql, {**values, "at": instants.text(now)})


def accepted(store: Store, outbox_id: int, reference: str, now: datetime) -> None:
    """The channel has it: done."""
    sql = """
    UPDATE outbox SET accepted_at = :at, reference = :reference, trying_run = NULL WHERE id = :id
    """
    store.change(sql, {"id": outbox_id, "reference": reference, "at": instants.text(now)})


def again(
    store: Store, outbox_id: int, due_at: datetime, *, double: bool, counts: bool = True
) -> None:
    """Try again at an instant, rounded up to the second.

    `double`: the last try may have arrived. `counts` False: the channel asked to wait and nothing
    was sent, so it is no try.
    """
    sql = """
    UPDATE outbox SET due_at = :due, trying_run = NULL, tries = tries - :uncounted,
        possible_double = max(possible_double, :double)
    WHERE id = :id
    """
    due = instants.text(due_at + ALMOST_A_SECOND)
    values = {"id": outbox_id, "due": due, "double": int(double), "uncounted": int(not counts)}
    store.change(sql, values)


def move_to(store: Store, outbox_id: int, contact: Contact, now: datetime) -> None:
    """Send it to another address of the same person instead."""
    sql = """
    UPDATE outbox SET contact = :contact, channel = :channel, address = :address,
        due_at = :due, trying_run = NULL, accepted_at = NULL, reference = NULL
    WHERE id = :id
    """
    values = {"id": outbox_id, "contact": contact.id, "address": contact.address}
    store.change(sql, {**values, "channel": contact.channel, "due": instants.text(now)})


def failed(store: Store, outbox_id: int, why: str, now: datetime) -> None:
    """It will never be delivered."""
    sql = """
    UPDATE outbox SET failed_at = :at, failed_why = :why, trying_run = NULL WHERE id = :id
    """
    store.change(sql, {"id": outbox_id, "why": why, "at": instants.text(now)})


def row(store: Store, outbox_id: int) -> Row:
    """One row; raises NotFoundError."""
    sql = "SELECT * FROM outbox WHERE id = :id"
    return store.one(sql, {"id": outbox_id}, f"message {outbox_id}")


def alarms_since(store: Store, channel: str, since: datetime) -> list[str]:
    """The texts about escalations written for a channel since an instant."""
    sql = """
    SELECT text FROM outbox
    WHERE escalation IS NOT NULL AND written_at >= :since AND channel = :channel
    """
    values = {"since": instants.text(since), "channel": channel}
    return [row["text"] for row in store.rows(sql, values)]


def depth(store: Store, now: datetime) -> list[Row]:
    """How many rows wait on each channel, and since when the oldest; not those kept for later."""
    sql = """
    SELECT channel, count(*) AS waiting, min(written_at) AS oldest FROM outbox
    WHERE accepted_at IS NULL AND failed_at IS NULL AND (tries > 0 OR due_at <= :now)
    GROUP BY channel ORDER BY channel
    """
    return store.rows(sql, {"now": instants.text(now)})


def waiting_at(store: Store, contact: int) -> list[Row]:
    """What waits for this contact point and is not being tried, oldest first."""
    sql = """
    SELECT * FROM outbox WHERE contact = :contact AND accepted_at IS NULL AND failed_at IS NULL
      AND trying_run IS NULL
    ORDER BY id
    """
    return store.rows(sql, {"contact": contact})


def is_written(store: Store, once_key: str) -> bool:
    """Whether a message with this key was written before."""
    sql = "SELECT 1 FROM outbox WHERE once_key = :key"
    return store.row(sql, {"key": once_key}) is not None
