"""A message is kept before it is acknowledged. Nothing is looked at here. Read next: `handle`."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from bot.ports import Incoming
from bot.store import inbox
from bot.store.database import Store


def receive(
    store: Store, messages: Sequence[Incoming], channel: str, cursor: str | None, now: datetime
) -> int:
    """Keep a batch and the channel's cursor together; gives how many were new."""
    new = [inbox.keep(store, message, now) for message in messages]
    if cursor is not None:
        inbox.keep_cursor(store, channel, cursor)
    return sum(number is not None for number in new)
