"""The rows that step back: one level down, at that level's highest dose.

What is clearly harmful, or has come again: everything milder is for `dose_less` and `rest_day`. A
session leads to one step down at most, and so does a week. These rows look at the last sessions
only; what an older one did has been decided on before.
Read next: `dose_less`.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from rules.history import History, Session
from rules.protocol import PAIN_CEILING, Protocol
from rules.reading import usuals_at, worst_session_pain
from rules.reasons import Evidence
from rules.rest_day import is_above_twice, is_well_above
from rules.usual import (
    ONE_DAY,
    WEEK_DAYS,
    Mean,
    last_step_down,
    session_to_answer_for,
    week_to,
)

REVIEWED = 3
"""Last sessions among which repeats are counted [sessions]. Source: own-simulation."""


def pain_far_over_limit(history: History, protocol: Protocol, _today: date) -> Evidence | None:
    """Worst pain of the last session is at least `far_over_points` over the ceiling.

    Worst of during and after [points]. Ceiling: `PAIN_CEILING`, whatever the patient's limit. None
    if neither was answered; see `hold.follow_up_missing`.
    Source: silbernagel-2007, pain up to five; own-simulation for how far over.
    """
    session = session_to_answer_for(history, told_after_days=0)
    worst = None if session is None else worst_session_pain(session)
    least = PAIN_CEILING + protocol.settings.far_over_points
    if session is None or worst is None or worst < least:
        return None
    return {"worst_pain": worst, "far_over": least, "session_on": session.on.isoformat()}


def sore_after_two_of_three(history: History, protocol: Protocol, today: date) -> Evidence | None:
    """At least `sore_sessions` of the last three sessions were each followed by a sore day.

    A sore day: one of the rows `rest_day.well_above_usual` and `rest_day.above_usual_twice`, on a
    day up to and with that of the next session, and before today. Sessions since the last step down
    only. The load is too much, not the day: cook-purdam-2014; own-simulation for the count.
    """
    session = session_to_answer_for(history, told_after_days=0)
    if session is None:
        return None
    sore = [
        one
        for one, until in _with_end(history, today)
        if _sore_day_after(history, protocol, one, until) is not None
    ]
    if len(sore) < protocol.settings.sore_sessions:
        return None
    return {
        "sore_sessions": len(sore),
        "sore_sessions_min": protocol.settings.sore_sessions,
        "session_on": session.on.isoformat(),
    }


def week_worse_than_last(history: History, protocol: Protocol, today: date) -> Evidence | None:
    """First-step pain or stiffness of the last seven mornings is up on the seven before.

    Pain: the mean is up by at least `week_pain_rise` points. Stiffness: the mean is up by at least
    `week_stiffness_rise_minutes` and by at least `week_stiffness_rise_percent`. Each needs
    `week_answers_min` answers in each week. Today's morning belongs to this week. Only mornings
    later than the last step down count, so after one the comparison starts afresh.
    None if neither is up, or too little was answered.
    Source: convention. The published rule, no increase from week to week, has no margin; on
    integer answers of a stable patient it would fire in nearly every second week (own simulation).
    """
    settings = protocol.settings
    step = last_step_down(history)
    after = None if step is None else step.on
    this = week_to(history, today, after)
    last = week_to(history, today - WEEK_DAYS * ONE_DAY, after)
    needed = settings.week_answers_min
    pain_up = _enough(this.pain, last.pain, needed) and (
        this.pain.rise_over(last.pain) >= settings.week_pain_rise
    )
    stiffness_up = (
        _enough(this.stiffness, last.stiffness, needed)
        and this.stiffness.rise_over(last.stiffness) >= settings.week_stiffness_rise_minutes
        and this.stiffness.is_up_by_percent(last.stiffness, settings.week_stiffness_rise_percent)
    )
    evidence: dict[str, float] = {}
    if pain_up:
        evidence |= {"pain_mean": this.pain.value, "pain_mean_before": last.pain.value}
    if stiffness_up:
        evidence |= {
            "stiffness_mean": this.stiffness.value,
            "stiffness_mean_before": last.stiffness.value,
        }
    return {name: round(value, 2) for name, value in evidence.items()} or None


def sessions_since_step(history: History) -> Sequence[Session]:
    """Of the last three sessions, those on or after the day of the last step down."""
    step = last_step_down(history)
    recent = history.sessions[-REVIEWED:]
    return recent if step is None else [one for one in recent if one.on >= step.on]


def _with_end(history: History, today: date) -> list[tuple[Session, date]]:
    """The sessions since the last step down, each with the last day that is counted to it."""
    sessions = sessions_since_step(history)
    ends = [*(one.on for one in sessions[1:]), today - ONE_DAY]
    return [(one, min(end, today - ONE_DAY)) for one, end in zip(sessions, ends, strict=False)]


def _sore_day_after(
    history: History, protocol: Protocol, session: Session, until: date
) -> date | None:
    """The first sore day from the day after a session to `until`, included."""
    usuals = usuals_at(history, protocol, session)
    day = session.on + ONE_DAY
    while day <= until:
        if is_well_above(history, protocol, usuals, day) or is_above_twice(
            history, protocol, usuals, day
        ):
            return day
        day += ONE_DAY
    return None


def _enough(this: Mean, last: Mean, needed: int) -> bool:
    return min(this.count, last.count) >= needed
