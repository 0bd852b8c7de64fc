"""Decides whether the 24-hour question is worth a prompt of its own.

Elsewhere the next morning's answer stands for it: a day's reading is the lower of the answers about
that day, and either of them makes next-day pain known. Decides on no load.
Read next: `reading`, which takes the answers; `prompt_times`, which asks.
"""

from __future__ import annotations

from datetime import date

from rules.history import History
from rules.protocol import Protocol
from rules.reading import usual_session_pain, worst_session_pain
from rules.usual import ONE_DAY

SORE_MARGIN = 1
"""A session hurt more than sessions do: so far over its usual [points, at least]. Convention."""


def next_day_decides(history: History, protocol: Protocol, today: date) -> bool:
    """Whether a second answer about today can change an action, beside the morning's.

    After a session of yesterday that was the first at its dose or level, or that hurt more than
    sessions usually do. False where there was no session yesterday. Source: own-simulation: asked
    always, it changed hardly any action.
    """
    sessions = history.sessions
    if not sessions or sessions[-1].on != today - ONE_DAY:
        return False
    session = sessions[-1]
    worst = worst_session_pain(session)
    if len(sessions) == 1 or sessions[-2].position != session.position or worst is None:
        return True
    return worst >= usual_session_pain(history, protocol, session) + SORE_MARGIN
