"""What messages cost: SMS segments counted before they are sent, a month and channel at a time.

A month is a calendar month in UTC (convention: carriers bill by clocks of their own). An attempt
that the channel refused is taken off again; one of unknown outcome stays counted. Decides nothing:
what a limit holds back is written in `bot.delivery.send`.
"""

from __future__ import annotations

from datetime import datetime

from bot.store import instants
from bot.store.database import Store


def month_of(now: datetime) -> str:
    """The month that an instant belongs to, e.g. `2026-03`."""
    return instants.text(now)[:7]


def add(store: Store, channel: str, segments: int, now: datetime) -> None:
    """Count segments [0 or more] of a message that is about to be sent."""
    sql = """
    INSERT INTO spending (channel, month, segments) VALUES (:channel, :month, :segments)
    ON CONFLICT (channel, month) DO UPDATE SET segments = segments + excluded.segments
    """
    values = {"channel": channel, "month": month_of(now), "segments": segments}
    store.change(sql, values)


def take_off(store: Store, outbox_id: int) -> None:
    """The channel refused the last attempt at a message, so its segments cost nothing."""
    sql = """
    UPDATE spending SET segments = spending.segments - last.segments FROM (
        SELECT channel, substr(started_at, 1, 7) AS month, segments FROM attempts
        WHERE outbox = :id ORDER BY id DESC LIMIT 1
    ) AS last
    WHERE spending.channel = last.channel AND spending.month = last.month
    """
    store.change(sql, {"id": outbox_id})


def in_month(store: Store, channel: str, now: datetime) -> int:
    """Segments counted on a channel in the month of an instant."""
    sql = "SELECT segments FROM spending WHERE channel = :channel AND month = :month"
    row = store.row(sql, {"channel": channel, "month": month_of(now)})
    return 0 if row is None else int(row["segments"])


def keep_of_attempt(store: Store, outbox_id: int, segments: int) -> None:
    """Write the segments of a message beside its latest attempt."""
    sql = """
    UPDATE attempts SET segments = :segments
    WHERE id = (SELECT max(id) FROM attempts WHERE outbox = :id)
    """
    store.change(sql, {"id": outbox_id, "segments": segments})
