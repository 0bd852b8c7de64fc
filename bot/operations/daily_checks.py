"""Looks, once a day, for what nobody wrote about; says what falls due next."""

from __future__ import annotations

from datetime import datetime

from bot.clinic import Clinic
from bot.escalations.alerts import raise_alerts
from bot.patient_record.record import record_of
from bot.store import instants, plans
from bot.store.database import Store


def watch(store: Store, clinic: Clinic, patient: int, now: datetime) -> None:
    """Raise what the numbers say about a patient under treatment. Twice a day is as once."""
    if plans.is_treated(store, patient):
        raise_alerts(record_of(store, clinic, patient, now))


def next_instant(store: Store) -> datetime | None:
    """When something falls due next: a prompt, an escalation, a closed question, a message to
    send again. None when nothing ever will by itself."""
    sql = """
    SELECT min(due) AS due FROM (
        SELECT min(due_at) AS due FROM prompts WHERE written_at IS NULL AND dropped_at IS NULL
        UNION ALL SELECT min(next_at) FROM escalations WHERE next_at IS NOT NULL
        UNION ALL SELECT min(answer_by) FROM sign_questions WHERE settled_at IS NULL
        UNION ALL SELECT min(away_ends_at) FROM people
        UNION ALL SELECT min(due_at) FROM outbox WHERE accepted_at IS NULL AND failed_at IS NULL
    )
    """
    row = store.row(sql)
    return None if row is None else instants.read_maybe(row["due"])
