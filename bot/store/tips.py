"""Which short tip a patient was told, and on which of their days."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime

from bot.store import instants
from bot.store.database import Store


def keep(store: Store, person: int, tip: str, on: date, now: datetime) -> None:
    """A tip was told on a local date."""
    values = {"person": person, "tip": tip, "on_date": on.isoformat()}
    store.add("tips_told", {**values, "told_at": instants.text(now)})


def last_told(store: Store, person: int) -> Mapping[str, date]:
    """When each tip was told last."""
    sql = "SELECT tip, max(on_date) AS on_date FROM tips_told WHERE person = :person GROUP BY tip"
    rows = store.rows(sql, {"person": person})
    return {row["tip"]: date.fromisoformat(row["on_date"]) for row in rows}
