"""What a patient is told at the end of treatment: what they came with, where they are now, and what
to do if it comes back. Decides nothing. Read next: `progress`.
"""

from __future__ import annotations

from dialogs.progress import MORNINGS_MIN
from dialogs.turn import Said, Situation
from rules.history import History
from rules.protocol import Protocol
from rules.stop import warning_sign
from rules.usual import Mean, week_to


def say_discharge(
    history: History, protocol: Protocol, situation: Situation, clinician: str
) -> Said:
    """The summary of a treatment that ends today. clinician: who ended it, as the patient knows
    them. What there are too few answered mornings for is left out."""
    week = week_to(history, situation.today, None)
    return Said(
        "discharged",
        {
            "by": clinician,
            "pain_first": int(history.usual_pain),
            "minutes_first": int(history.usual_stiffness),
            "pain_now": _mean(week.pain),
            "minutes_now": _mean(week.stiffness),
            "sessions": len(history.sessions),
            "level": history.moves[-1].position.level,
            "levels": len(protocol.levels),
            "stopped": warning_sign(history, protocol, situation.today) is not None,
        },
    )


def _mean(mean: Mean) -> float | None:
    return round(mean.value, 1) if mean.count >= MORNINGS_MIN else None
