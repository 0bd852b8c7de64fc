"""What somebody hears as they leave with STOP and come back with START: what holds meanwhile."""

from __future__ import annotations

from datetime import date

from bot.patient_record.record import PatientRecord
from bot.store import escalations
from dialogs.turn import Said, Value

OPTED_OUT = "opted-out"


def farewell(record: PatientRecord) -> Said:
    """The last message: where exercises are stopped, or a warning sign is asked about, they stay
    so."""
    return Said("opted-out", {"stopped": _is_stopped(record)})


def welcome_back(record: PatientRecord) -> Said:
    """The first one again: what stops exercises, and the last day of a pause without questions."""
    until = record.paused_until() if record.asks_nothing else None
    values: dict[str, Value] = {
        "paused": until is not None,
        "until": None if until == date.max else until,
    }
    return Said("opted-in", {**values, "stopped": _is_stopped(record)})


def settle_opt_out(record: PatientRecord) -> None:
    """They are back: the escalation that told of their STOP, and of nothing more, is closed."""
    for one in record.not_closed:
        if one.sign == OPTED_OUT and not escalations.has_more_words(record.store, one.id):
            escalations.take_back(
                record.store,
                one.id,
                record.patient.id,
                record.today,
                record.now,
                escalations.CAME_BACK,
            )


def _is_stopped(record: PatientRecord) -> bool:
    return not record.episode.discharged and record.held in ("stopped", "asked")
