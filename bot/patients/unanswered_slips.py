"""Numbers that were asked back and not answered for in time: they stand, as they were sent, and are
told the same day. Read next: `slips`.
"""

from __future__ import annotations

from datetime import datetime

from bot.clinic import Clinic
from bot.patient_record.record import record_of
from bot.patients.apply import apply
from bot.patients.consequences import consequences
from bot.patients.slips import SLIP
from bot.patients.understand import number_stands
from bot.store import sign_questions
from bot.store.database import Store


def let_numbers_stand(store: Store, clinic: Clinic, now: datetime) -> int:
    """Give how many stand now. Runs before `chase`, which takes every other closed question."""
    due = [one for one in sign_questions.overdue(store, now) if one.sign == SLIP]
    for one in due:
        record = record_of(store, clinic, one.patient, now)
        if one.message is not None:
            understood = number_stands(record, one.message, "not answered")
            apply(record, consequences(record, understood), one.message)
    return len(due)
