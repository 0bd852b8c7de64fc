"""A message is kept before it is acknowledged, and nothing is looked at here. A receipt for what we
sent is kept likewise, and heeded at once. Read next: `handle`, `reroute`."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from bot.delivery.undelivered import heed
from bot.ports import Arrival, Receipt
from bot.store import inbox, receipts
from bot.store.database import Store


def receive(
    store: Store, arrivals: Sequence[Arrival], channel: str, cursor: str | None, now: datetime
) -> int:
    """Keep a batch and the channel's cursor together; gives how many messages were new."""
    new = 0
    for arrival in arrivals:
        if isinstance(arrival, Receipt):
            row = receipts.keep(store, arrival, now)
            if row is not None:
                heed(store, row, arrival, now)
        else:
            new += inbox.keep(store, arrival, now) is not None
    if cursor is not None:
        inbox.keep_cursor(store, channel, cursor)
    return new
