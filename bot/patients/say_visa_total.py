"""Says back the total of a patient's VISA-A sheet, and how far it lies from the one before.

The patient hears the two numbers alone. What change is called important is for the clinician to
see (`show`, `report`), and 12 weeks with less of it are raised by `rules.alerts`.
"""

from __future__ import annotations

from datetime import date

from bot.patient_record.record import Case
from bot.patient_record.say import say
from bot.store.outbox import Urgency
from dialogs.sheet import say_total


def say_total_of(case: Case, on: date) -> None:
    """Say the total of the sheet of a date; nothing where an item of it is still open."""
    totals = case.sheets
    total = dict(totals).get(on)
    if total is None:
        return
    earlier = [(before, points) for before, points in totals if before < on]
    said = say_total(total, earlier[-1] if earlier else None)
    situation = case.situation()
    say(case.store, case.clinic, case.patient.id, said, situation, Urgency.REPLY, case.now)
