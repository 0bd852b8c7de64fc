"""Who did what, when: kept for ever, never the words of a patient."""

from __future__ import annotations

import json
from datetime import date, datetime

from bot.store import instants
from bot.store.database import Store


def noted_since(store: Store, person: int, action: str, on: date) -> bool:
    """Whether such a line was kept of a person on or after a date in UTC."""
    where = "person = :person AND action = :action AND at >= :on"
    values = {"person": person, "action": action, "on": on.isoformat()}
    return bool(store.rows(f"SELECT 1 FROM audit WHERE {where} LIMIT 1", values))


def note(store: Store, person: int | None, action: str, now: datetime, **details: object) -> None:
    """Keep one line of audit."""
    row = {"at": instants.text(now), "person": person, "action": action}
    store.add("audit", {**row, "details": json.dumps(details, default=str)})
