"""One person's transcript: what they wrote and what reached them, in the order it passed.

Reads only. Buttons are offered under the latest message whose question still waits, as on a phone.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from datetime import datetime
from zoneinfo import ZoneInfo

from bot.ports import Button
from bot.rehearsal.stage import CHAT
from bot.store import conversations, escalations, instants
from bot.store.database import Row, Store
from bot.store.people import CLINICAL, Person
from dialogs.errors import StateError
from dialogs.memory import read_payload

# How much of a thread is shown unless all of it is asked for [messages]. Convention.
ENTRIES_SHOWN = 24


@dataclass(frozen=True)
class Entry:
    """One message. `key` names it on the page; `number` is its row in the outbox, 0 for one heard.

    `at`: on the reader's wall clock. `buttons`: in rows, empty once the question is answered.
    `picture`: the number of the one above the text, None for none.
    """

    key: str
    number: int
    at: datetime
    speaker: str
    from_bot: bool
    channel: str
    text: str
    urgent: bool = False
    picture: int | None = None
    buttons: tuple[tuple[Button, ...], ...] = ()


@dataclass(frozen=True)
class Thread:
    """The end of a transcript, oldest first. `earlier`: there is more before it."""

    entries: tuple[Entry, ...]
    earlier: bool


PASSED = """
SELECT received_at AS at, 0 AS from_bot, id, channel, text, '[]' AS choices, NULL AS escalation,
    NULL AS picture
FROM inbox WHERE person = :person
UNION ALL
SELECT accepted_at, 1, id, channel, text, choices, escalation,
    CASE channel WHEN 'chat' THEN picture END
FROM outbox WHERE person = :person AND accepted_at IS NOT NULL
ORDER BY 1 DESC, 2 DESC, 3 DESC LIMIT :limit
"""
"""The latest first. What comes in at an instant stands before what goes out at it."""


def thread(store: Store, person: Person, zone: ZoneInfo, *, whole: bool = False) -> Thread:
    """The transcript of a person over all their channels."""
    limit = -1 if whole else ENTRIES_SHOWN + 1
    rows = store.rows(PASSED, {"person": person.id, "limit": limit})
    earlier = not whole and len(rows) > ENTRIES_SHOWN
    rows = list(reversed(rows[:ENTRIES_SHOWN] if earlier else rows))
    entries = [_entry(row, person, zone) for row in rows]
    offered = _offered(store, person, rows)
    return Thread(
        tuple(
            replace(entry, buttons=buttons_of(row)) if row is offered else entry
            for row, entry in zip(rows, entries, strict=True)
        ),
        earlier,
    )


def pressed_button(store: Store, number: int, place: int) -> tuple[str, str, Button] | None:
    """Channel, address and button of a message in the outbox; None where there is no such one."""
    sql = "SELECT * FROM outbox WHERE id = :id AND accepted_at IS NOT NULL"
    row = store.row(sql, {"id": number})
    buttons = [] if row is None else [button for line in buttons_of(row) for button in line]
    if row is None or not 0 <= place < len(buttons):
        return None
    return row["channel"], row["address"], buttons[place]


def buttons_of(row: Row) -> tuple[tuple[Button, ...], ...]:
    """The buttons that an outbox row carries, in rows."""
    return tuple(tuple(Button(*pair) for pair in line) for line in json.loads(row["choices"]))


def _entry(row: Row, person: Person, zone: ZoneInfo) -> Entry:
    from_bot = bool(row["from_bot"])
    return Entry(
        key=f"{'out' if from_bot else 'in'}-{row['id']}",
        number=row["id"] if from_bot else 0,
        at=instants.read(row["at"]).astimezone(zone),
        speaker="Bot" if from_bot else person.name,
        from_bot=from_bot,
        channel=row["channel"],
        text=row["text"],
        urgent=row["escalation"] is not None,
        picture=row["picture"],
    )


def _offered(store: Store, person: Person, rows: list[Row]) -> Row | None:
    """The latest message on the chat whose buttons still mean something."""
    for row in reversed(rows):
        if row["from_bot"] and row["channel"] == CHAT and buttons_of(row):
            still = _is_open_escalation if person.role in CLINICAL else _still_asked
            return row if still(store, person, row) else None
    return None


def _is_open_escalation(store: Store, _person: Person, row: Row) -> bool:
    number = row["escalation"]
    return number is None or escalations.get(store, number).acknowledged_at is None


def _still_asked(store: Store, person: Person, row: Row) -> bool:
    waiting = {asked.key for asked in conversations.state(store, person.id).waiting}
    try:
        asked = {read_payload(b.payload)[0].key for line in buttons_of(row) for b in line}
    except StateError:
        return False
    return bool(asked & waiting)
