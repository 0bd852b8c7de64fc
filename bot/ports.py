"""Where the world comes in: Clock and Channel, and the values that pass through them.

The store is not a port: there is one, on a real SQLite file. Read next: `app`.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass, fields
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Protocol

LAST_RESORT = "last_resort"
"""The channel for when no other reached a clinician; it has no person at its end."""

CHAT_CHANNELS = frozenset({"telegram", "chat", "local"})
"""Names of channels that show buttons and pictures; any other carries plain text only."""


def kind_of(channel: str) -> str:
    """What a channel is to a patient: "chat" or "text"."""
    return "chat" if channel in CHAT_CHANNELS else "text"


# Longest text and longest other field of what comes in [characters]; the rest is left away.
# Convention: a chat message has 4096 at most, and a number, a name or an id a few dozen.
TEXT_MAX, FIELD_MAX = 20_000, 255


def _make_storable(arrival: Incoming | Receipt) -> None:
    """Bound what came, and mark letters that no file can hold: halves of a pair, alone. One odd
    message would else keep its whole batch from the disk, again and again."""
    for field in fields(arrival):
        given = getattr(arrival, field.name)
        if type(given) is str:
            longest = TEXT_MAX if field.name == "text" else FIELD_MAX
            whole = given[:longest].encode("utf-8", "replace").decode("utf-8")
            object.__setattr__(arrival, field.name, whole)


class Clock(Protocol):
    """The only way to know the time. `app` asks it once a pass and hands `now` down."""

    def now(self) -> datetime:
        """The present instant, aware, in UTC."""
        ...


@dataclass(frozen=True)
class Incoming:
    """One message from a channel, as it came.

    `message_id`: unique within the channel; a second delivery of the same id changes nothing.
    `address`: who sent it, in the channel's own form (chat id, +E.164 number).
    `pressed`: payload of a button (see `Outgoing.choices`), None for typed text.
    `corrects`: message id of an earlier message that this one edits.
    """

    channel: str
    message_id: str
    address: str
    text: str
    sent_at: datetime | None = None
    pressed: str | None = None
    corrects: str | None = None

    def __post_init__(self) -> None:
        """See `_make_storable`."""
        _make_storable(self)


@dataclass(frozen=True)
class Button:
    """A button under a message: what it shows, and what comes back when it is pressed.

    `payload` is at most 64 bytes, the narrowest limit of the channels (Bot API, callback_data).
    """

    label: str
    payload: str


@dataclass(frozen=True)
class Outgoing:
    """One message ready to be sent. `id` is the outbox row, `address` in the channel's form.

    `picture`: a PNG to show above the text, None for none; a text channel leaves it out.
    `attempt`: 1 the first time; a channel may use (id, attempt) as its idempotency key.
    `segments`: what it costs as SMS [segments]; 0 on other channels.
    """

    id: int
    channel: str
    address: str
    text: str
    choices: tuple[tuple[Button, ...], ...] = ()
    urgent: bool = False
    attempt: int = 1
    picture: bytes | None = None
    segments: int = 0


@dataclass(frozen=True)
class Accepted:
    """The channel has it. `reference`: what its receipts will call the message."""

    reference: str = ""


@dataclass(frozen=True)
class Later:
    """Not now; try again, after `wait` where the channel said how long."""

    why: str
    wait: timedelta | None = None


@dataclass(frozen=True)
class Never:
    """It can never succeed at this address: blocked, unsubscribed, no such number."""

    why: str


@dataclass(frozen=True)
class Unknown:
    """It may or may not have arrived: the connection broke after it was handed over."""

    why: str


Delivery = Accepted | Later | Never | Unknown


class ReceiptState(StrEnum):
    """What a channel says, after it accepted a message, became of it."""

    ON_ITS_WAY = "on its way"
    DELIVERED = "delivered"
    FAILED = "failed"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Receipt:
    """What became of a message that was accepted. Delivered to a telephone is not read by anyone.

    `reference`: as in `Accepted`; empty where the channel told none. `address`: whom the message
    went to.
    `raw`: what the channel said, without the text of the message.
    """

    channel: str
    reference: str
    address: str
    state: ReceiptState
    raw: str

    def __post_init__(self) -> None:
        """See `_make_storable`."""
        _make_storable(self)


Arrival = Incoming | Receipt

Commit = Callable[[Sequence[Arrival], str | None], Awaitable[None]]
"""Takes messages and receipts and the channel's cursor (or None); returns once all are on disk,
together."""


class Channel(Protocol):
    """A way to reach people. A channel's own exceptions stop at its file."""

    name: str

    async def listen(self, commit: Commit, cursor: str | None) -> None:
        """Receive until cancelled.

        Each batch is handed to `commit`, and acknowledged to the sender only after it returned.
        `cursor` is the last one committed, to go on from. Reconnects by itself, for ever.
        """
        ...

    async def send(self, outgoing: Outgoing) -> Delivery:
        """Send one message. Never raises: whatever happens is one of the four deliveries."""
        ...

    async def close(self) -> None:
        """Give back connections. Called once, after `listen` was cancelled."""
        ...
