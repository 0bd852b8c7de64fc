"""The rows that give a rest day: same place on the ladder, no session today.

Read next: `hold`.
"""

from __future__ import annotations

from datetime import date

from rules.history import History, MovedBy
from rules.protocol import Level, Position, Protocol
from rules.reasons import Evidence
from rules.usual import (
    ONE_DAY,
    first_step_pain,
    last_session,
    last_step_back,
    mornings_between,
    next_day_pain,
    pain_limit,
    two_day_pain,
    usual_at_step_back,
    usual_pain,
)

FOLLOW_UP_DAYS = 2
"""Local days a session is followed up [days, included]. Source: silbernagel-crossley-2015, 48 h."""


def next_day_above_usual(history: History, protocol: Protocol, today: date) -> Evidence | None:
    """Next-day pain is at least `above_usual_margin` above usual, and two-day pain not known yet.

    Two-day pain that is as far above usual counts as not known: it leads to a step back, and where
    that has been made already, it must not lead to more than silence would.
    Up to two local days after the session [days, included]. If two-day pain is never answered the
    row ends there, or an unanswered question would rest the patient for ever; then
    `hold.follow_up_missing` keeps the load where it is. None if next-day pain is not known.
    Source: cook-purdam-2014, worse on the next day means less load; smith-2019, the margin.
    """
    session = last_session(history)
    if session is None or (today - session.on).days > FOLLOW_UP_DAYS:
        return None
    pain, later = next_day_pain(history, session), two_day_pain(history, session)
    usual = usual_pain(history, protocol, session.on)
    margin = protocol.settings.above_usual_margin
    if pain is None or pain < usual + margin:
        return None
    if later is not None and later < usual + margin:
        return None
    return {
        "next_day_pain": int(pain),
        "usual": usual,
        "margin": margin,
        "session_on": session.on.isoformat(),
    }


def morning_over_limit(history: History, protocol: Protocol, today: date) -> Evidence | None:
    """Today's first-step pain is over the limit, and at least `above_usual_margin` above usual.

    Whatever it comes from: it may be days since the last session, or none was done yet, so that no
    other row looks at this morning. Above usual as well, or a patient whose usual is over the limit
    would never load. Usual: before the last session, as elsewhere; what was said at enrolment
    before the first. None if this morning is not answered. Source: convention.
    """
    pain = first_step_pain(history, today)
    session = last_session(history)
    usual = float(history.usual_pain)
    if session is not None:
        usual = usual_pain(history, protocol, session.on)
    limit, margin = pain_limit(history, protocol), protocol.settings.above_usual_margin
    if pain is None or pain <= limit or pain < usual + margin:
        return None
    return {"first_step_pain": int(pain), "limit": limit, "usual": usual, "margin": margin}


def settling_after_step_back(history: History, protocol: Protocol, today: date) -> Evidence | None:
    """No session since the last step back, and first-step pain is not back at usual, or not known.

    Back at usual: the latest first-step pain answered after the day of the step back is at most
    `settled_margin` above `usual.usual_at_step_back` [points]. So the day of the step back itself
    is a rest day. A session on that day is not one since. A clinician's later move ends the
    settling: the clinician's word stands above the rules.
    Source: smith-2019, back to baseline first; convention for the margin.
    """
    step_back = last_step_back(history)
    if step_back is None or _clinician_moved_since(history):
        return None
    session = last_session(history)
    if session is not None and session.on > step_back.on:
        return None
    usual = usual_at_step_back(history, protocol, step_back)
    margin = protocol.settings.settled_margin
    latest = _latest_first_step_pain(history, step_back.on + ONE_DAY, today)
    if latest is not None and latest <= usual + margin:
        return None
    return {
        "first_step_pain": latest,
        "usual": usual,
        "margin": margin,
        "stepped_back_on": step_back.on.isoformat(),
    }


def still_recovering(history: History, protocol: Protocol, today: date) -> Evidence | None:
    """Fewer local days than the spacing have passed since the last session.

    Spacing: that of the level the session was done at, or of the present one, whichever is longer
    [days, at least]. None before the first session.
    Source: common practice, every other day; magnusson-2010 for heavy loading.
    """
    session = last_session(history)
    if session is None:
        return None
    days = (today - session.on).days
    spacing = max(
        protocol.level(history.position).spacing_days,
        _level_done(protocol, session.position).spacing_days,
    )
    if days >= spacing:
        return None
    return {
        "days_since_session": days,
        "spacing_days": spacing,
        "session_on": session.on.isoformat(),
    }


def _level_done(protocol: Protocol, position: Position) -> Level:
    """The level of a past session; the highest if it was done under a longer protocol."""
    return protocol.levels[min(position.level, len(protocol.levels)) - 1]


def _clinician_moved_since(history: History) -> bool:
    """Whether a clinician has moved the patient after the last step back."""
    for move in reversed(history.moves):
        if move.step_back:
            return False
        if move.by is MovedBy.CLINICIAN:
            return True
    return False


def _latest_first_step_pain(history: History, first: date, last: date) -> int | None:
    """The latest answered first-step pain from `first` to `last`, both included."""
    for morning in reversed(mornings_between(history, first, last)):
        if morning.first_step_pain is not None:
            return int(morning.first_step_pain)
    return None
