"""Where each conversation stands, so that a restart in the middle of one loses nothing."""

from __future__ import annotations

from datetime import datetime

from bot.store import instants
from bot.store.database import Store
from dialogs.memory import read_state, state_text
from dialogs.turn import State


def state(store: Store, person: int) -> State:
    """The state of a person's conversation; an empty one at first."""
    row = store.row("SELECT state FROM conversations WHERE person = :person", {"person": person})
    return State() if row is None else read_state(row["state"])


def keep(store: Store, person: int, new: State, now: datetime) -> None:
    """The conversation stands here now."""
    sql = """
    INSERT INTO conversations (person, state, changed_at) VALUES (:person, :state, :at)
    ON CONFLICT (person) DO UPDATE SET state = excluded.state, changed_at = excluded.changed_at
    """
    values = {"person": person, "state": state_text(new), "at": instants.text(now)}
    store.change(sql, values)
