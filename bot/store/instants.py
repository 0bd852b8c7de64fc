"""How times stand in the store: UTC, to the second, as text that sorts as time does."""

from __future__ import annotations

from datetime import UTC, date, datetime


def text(instant: datetime) -> str:
    """An aware instant as stored, e.g. `2026-03-02T07:30:00Z`."""
    return instant.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def read(stored: str) -> datetime:
    """The instant, aware, in UTC."""
    return datetime.fromisoformat(stored)


def read_maybe(stored: str | None) -> datetime | None:
    """The instant, or None where the column is empty."""
    return None if stored is None else read(stored)


def day(stored: str | None) -> date | None:
    """A local date, or None where the column is empty."""
    return None if stored is None else date.fromisoformat(stored)
