"""What a patient is told at the end of treatment: what they came with, where they are now, and what
to do if it comes back. Decides nothing. Read next: `progress`.
"""

from __future__ import annotations

from datetime import date

from dialogs.progress import MORNINGS_MIN
from dialogs.turn import Said, Situation, Value
from rules.history import History
from rules.protocol import Protocol
from rules.stop import warning_sign
from rules.usual import Mean, week_to


def say_discharge(
    history: History, protocol: Protocol, situation: Situation, clinician: str, goal: str = ""
) -> Said:
    """The summary of a treatment that ends today. clinician: who ended it, as the patient knows
    them. goal: the patient's own words, empty where they gave none."""
    return Said(
        "discharged",
        {
            **course_values(history, protocol, situation.today),
            "by": clinician,
            "goal": goal,
            "stopped": warning_sign(history, protocol, situation.today) is not None,
        },
    )


def course_values(history: History, protocol: Protocol, today: date) -> dict[str, Value]:
    """The way from the first day to today. What too few mornings were answered for is None."""
    week = week_to(history, today, None)
    return {
        "pain_first": int(history.usual_pain),
        "minutes_first": int(history.usual_stiffness),
        "pain_now": _mean(week.pain),
        "minutes_now": _mean(week.stiffness),
        "sessions": len(history.sessions),
        "level": history.position.level,
        "levels": len(protocol.levels),
    }


def _mean(mean: Mean) -> float | None:
    return round(mean.value, 1) if mean.count >= MORNINGS_MIN else None
