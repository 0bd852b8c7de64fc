"""What shows a patient that it goes somewhere: a level that begins, the week, the twelve weeks.

Words what was decided elsewhere; decides nothing. Read next: `pictures`.
"""

from __future__ import annotations

from dialogs.leaving import course_values
from dialogs.pictures import mind_of
from dialogs.turn import Said, Situation, Value
from rules.history import History
from rules.protocol import Protocol
from rules.usual import Mean
from rules.weeks import Opens, compare_weeks, what_opens

# After so long the whole way is summed up [weeks]. Convention: the length of the trials.
SUMMARY_WEEKS = 12


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


def say_week(
    history: History, protocol: Protocol, situation: Situation, goal: str, *, drawn: bool
) -> Said:
    """How this week stands, the level, and what opens the next; after `SUMMARY_WEEKS` weeks the way
    so far. Without a picture it fits one text message.

    drawn: the picture of the weeks goes with it.
    """
    today = situation.today
    if (today - history.enrolled_on).days // 7 == SUMMARY_WEEKS:
        values = course_values(history, protocol, today)
        return Said(
            "week-summary", {**values, "weeks": SUMMARY_WEEKS, "goal": goal, "drawn": drawn}
        )
    found = compare_weeks(history, protocol, today)
    return Said(
        "week",
        {
            "verdict": "" if found.verdict is None else found.verdict.value,
            "since_start": found.since_start,
            "pain_now": _mean(found.this.pain),
            "pain_before": _mean(found.before.pain),
            "minutes_now": _mean(found.this.stiffness),
            "minutes_before": _mean(found.before.stiffness),
            "level": history.position.level,
            "levels": len(protocol.levels),
            **_opens(what_opens(history, protocol, today)),
            "drawn": drawn,
        },
    )


def _opens(opens: Opens | None) -> dict[str, Value]:
    """The one thing that stands before the next level: a clinician's yes before all, then the rest
    of this level's doses, then its count, then its days; else a calm session."""
    if opens is None:
        return {"opens": "top", "dose_line": "", "heel_raises_min": 0, "on": None}
    dose = "" if opens.dose is None else f"{opens.dose.sets} x {opens.dose.amount}"
    if opens.clinician:
        what = "clinician"
    elif dose:
        what = "dose"
    elif opens.heel_raises is not None:
        what = "heel-raises"
    else:
        what = "calm" if opens.not_before is None else "days"
    values = {"heel_raises_min": opens.heel_raises or 0, "on": opens.not_before}
    return {"opens": what, "dose_line": dose, **values}


def _mean(mean: Mean) -> float | None:
    return round(mean.value, 1) if mean.count else None
