"""What shows a patient that it goes somewhere: a level that begins, with what to mind and the goal.

Words what was decided elsewhere; decides nothing. Read next: `pictures`.
"""

from __future__ import annotations

from dialogs.pictures import mind_of
from dialogs.turn import Said
from rules.history import History
from rules.protocol import Protocol


def say_level(advice: str, history: History, protocol: Protocol, goal: str) -> Said:
    """The advice as it was worded, and behind it how far up the present level is, and what to mind.

    goal: the patient's own words, empty where they gave none. It comes back at a level that was
    never reached before.
    """
    at = history.position
    levels, done = len(protocol.levels), at.level - 1
    highest = max(move.position.level for move in history.moves)
    return Said(
        "level-begun",
        {
            "text": advice,
            "mind": mind_of(protocol.level(at)),
            "level": at.level,
            "levels": levels,
            "first_session": not history.sessions,
            "half": (done - 1) * 2 < levels <= done * 2,
            "last": at.level == levels,
            "goal": goal if at.level == highest else "",
        },
    )
