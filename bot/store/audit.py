"""Who did what, when: kept for ever, never the words of a patient."""

from __future__ import annotations

import json
from datetime import datetime

from bot.store import instants
from bot.store.database import Store


def note(store: Store, person: int | None, action: str, now: datetime, **details: object) -> None:
    """Keep one line of audit."""
    row = {"at": instants.text(now), "person": person, "action": action}
    store.add("audit", {**row, "details": json.dumps(details, default=str)})
