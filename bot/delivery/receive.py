"""A message is kept before it is acknowledged, and nothing is looked at here. A receipt for what we
sent is kept likewise, and heeded at once. Read next: `handle`, `reroute`."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from bot.delivery.undelivered import apply_receipt
from bot.ports import Arrival, Incoming
from bot.store import inbox, receipts
from bot.store.database import Store

log = logging.getLogger(__name__)

# What is kept of one message [characters]: as much as any channel brings in one. Source: Telegram
# Bot API, Message, `text`.
TEXT_MAX = 4096


def receive(
    store: Store, arrivals: Sequence[Arrival], channel: str, cursor: str | None, now: datetime
) -> int:
    """Keep a batch and the channel's cursor together; gives how many messages were new. One that
    cannot be kept is put aside, not its batch: it would come again for ever."""
    new = 0
    for arrival in arrivals:
        try:
            with store.savepoint():
                new += _keep(store, arrival, now)
        except (ValueError, OverflowError):
            log.exception("something that came on %s cannot be kept and is left out", channel)
    if cursor is not None:
        inbox.keep_cursor(store, channel, cursor)
    return new


def _keep(store: Store, arrival: Arrival, now: datetime) -> bool:
    if isinstance(arrival, Incoming):
        kept = replace(arrival, text=_readable(arrival.text))
        return inbox.keep(store, kept, now) is not None
    row = receipts.keep(store, arrival, now)
    if row is not None:
        apply_receipt(store, row, arrival, now)
    return False


def _readable(text: str) -> str:
    """The text as the store can keep it: half a character pair, or a NUL, is shown as unknown."""
    return text[:TEXT_MAX].encode("utf-8", "replace").decode("utf-8").replace("\0", "?")
