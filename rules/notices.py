"""What is no alarm and yet needs a clinician's choice: a plan that stands, habits, a slow drift.

Each function gives the date it is counted from and the numbers compared, or None. They look at one
day; that a reason is told of a patient once in `notice_again_days` days is for `alerts`.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from rules.advice import advise
from rules.brake import steps_too_much
from rules.history import History, Session
from rules.ladder import next_position
from rules.protocol import Protocol
from rules.reasons import Action, Evidence, Reason
from rules.stay import sessions_missed, sessions_since
from rules.usual import (
    ONE_DAY,
    WEEK_DAYS,
    mornings_between,
    pain_limit,
    usual_pain,
    week_to,
)

Found = tuple[date, Evidence] | None

WAITS_BY_PLAN = frozenset(
    {
        Reason.CLINICIAN_SAYS_GO_ON,
        Reason.TOO_FEW_DAYS,
        Reason.RAISED_THIS_WEEK,
        Reason.PLACE_WAS_TOO_MUCH,
        Reason.RAISED_AFTER_SORE_SESSION,
        Reason.TOP_OF_THE_LADDER,
    }
)
"""Holds that end by themselves, or are meant: nobody is stuck by them."""


def usual_at_limit(history: History, protocol: Protocol, today: date) -> Found:
    """Usual first-step pain at the limit on each of `near_limit_days` days: limit or load?

    At the limit: at most `near_limit_points` under it [points], and over 0. Not before so many days
    since enrolment, nor on fewer than `usual_answers_min` answers in that time.
    Source: own-simulation, table near the limit: that close to it chance alone goes over.
    """
    settings = protocol.settings
    first = today - (settings.near_limit_days - 1) * ONE_DAY
    mornings = mornings_between(history, first, today)
    answers = sum(one.first_step_pain is not None for one in mornings)
    if first < history.enrolled_on or answers < settings.usual_answers_min:
        return None
    limit = pain_limit(history, protocol)
    least = max(1, limit - settings.near_limit_points)
    days = (today - index * ONE_DAY for index in range(settings.near_limit_days))
    if any(usual_pain(history, protocol, day) < least for day in days):
        return None
    usual = usual_pain(history, protocol, today)
    return today, {"usual": usual, "limit": limit, "days": settings.near_limit_days}


def stuck(history: History, protocol: Protocol, today: date) -> Found:
    """No raise for `stuck_days` days while all is calm, on a day with a session; what holds it.

    Calm: nothing was stepped down in that time, and the week's mean first-step pain is at most
    `comfort_max` [points]. Counted from the last move, or a pause that ended later. None where the
    hold is one of `WAITS_BY_PLAN`, and where `not_exercising` says why. Source: convention.
    """
    settings = protocol.settings
    ended = [one.until for one in history.pauses if one.until is not None]
    days = (today - max([history.moves[-1].on, *ended])).days
    week = week_to(history, today, None).pain
    if days < settings.stuck_days or not week.count or week.value > settings.comfort_max:
        return None
    if not_exercising(history, protocol, today) is not None:
        return None
    because = advise(history, protocol, today).because
    if because.action is not Action.HOLD or because.reason in WAITS_BY_PLAN:
        return None
    return today, {"days": days, "reason": because.reason.value}


def not_exercising(history: History, protocol: Protocol, today: date) -> Found:
    """Under `habits_percent` of the sessions of the last `habits_days` days were done.

    A session of which no set was done is not one done. Missed: `stay.sessions_missed`. At least
    `habits_sessions_min` must have been due [count]. Today is not over and does not count.
    Source: convention.
    """
    settings = protocol.settings
    first = today - settings.habits_days * ONE_DAY
    if first < history.enrolled_on:
        return None
    recent = _recent_sessions(history, protocol, today)
    done = sum(one.sets_done != 0 for one in recent)
    due = len(recent) + sessions_missed(history, protocol, first, today)
    if due < settings.habits_sessions_min or 100 * done >= settings.habits_percent * due:
        return None
    return today, {"sessions_done": done, "sessions_due": due, "days": settings.habits_days}


def painkiller_mostly(history: History, protocol: Protocol, today: date) -> Found:
    """A painkiller before more than `habits_percent` of the last `habits_days` days' sessions.

    Of those about which it was answered, at least `habits_sessions_min`. Source: convention.
    """
    settings = protocol.settings
    recent = _recent_sessions(history, protocol, today)
    known = [one.painkiller for one in recent if one.painkiller is not None]
    masked = sum(known)
    if len(known) < settings.habits_sessions_min:
        return None
    if 100 * masked <= settings.habits_percent * len(known):
        return None
    return today, {"sessions_masked": masked, "sessions": len(known), "days": settings.habits_days}


def always_hard(history: History, protocol: Protocol, today: date) -> Found:
    """Effort of at least `hard_effort_min` in each session of the last `habits_days` days [0-10].

    Of those of which it was answered, at least `habits_sessions_min`.
    Source: convention; foster-2001 for the scale.
    """
    settings = protocol.settings
    recent = _recent_sessions(history, protocol, today)
    known = [int(one.effort) for one in recent if one.effort is not None]
    least = settings.hard_effort_min
    if len(known) < settings.habits_sessions_min or min(known) < least:
        return None
    return today, {"sessions": len(known), "effort_min": least, "days": settings.habits_days}


def stiffness_creeps(history: History, protocol: Protocol, today: date) -> Found:
    """Mean morning stiffness of a week up by `creep_minutes` in `creep_days` days, whatever pain.

    [minutes, at least.] Each week needs `week_answers_min` answers. Source: convention.
    """
    settings = protocol.settings
    this = week_to(history, today, None).stiffness
    before = week_to(history, today - settings.creep_days * ONE_DAY, None).stiffness
    if min(this.count, before.count) < settings.week_answers_min:
        return None
    if this.rise_over(before) < settings.creep_minutes:
        return None
    return today, {
        "stiffness_mean": round(this.value, 2),
        "stiffness_mean_before": round(before.value, 2),
        "days": settings.creep_days,
    }


def weeks_worse(history: History, _protocol: Protocol, today: date) -> Found:
    """The rules did less in the last week because pain and stiffness have risen over weeks.

    See `dose_less.weeks_worse_than_before`. Source: own-simulation, trade-off, trend.
    """
    for move in reversed(history.moves):
        if (today - move.on).days >= WEEK_DAYS:
            return None
        if move.reason == Reason.WEEKS_WORSE_THAN_BEFORE:
            return move.on, {"stepped_down_on": move.on.isoformat()}
    return None


def too_much_often(history: History, protocol: Protocol, today: date) -> Found:
    """Down from sessions that hurt, at or above the next place, `brake_steps_many` times.

    See `brake.steps_too_much`: a tendon that answers slowly is known by it, and longer days between
    raises help it. Source: own-simulation, table of brakes.
    """
    ahead = next_position(protocol, history.position)
    steps = [] if ahead is None else steps_too_much(history, protocol, ahead, today)
    if len(steps) < protocol.settings.brake_steps_many:
        return None
    evidence: Evidence = {
        "steps_down": len(steps),
        "days": protocol.settings.brake_memory_days,
        "slower": int(history.slower),
    }
    return steps[-1].on, evidence


def _recent_sessions(history: History, protocol: Protocol, today: date) -> Sequence[Session]:
    """The sessions of the last `habits_days` days before today; none before so many have passed."""
    first = today - protocol.settings.habits_days * ONE_DAY
    if first < history.enrolled_on:
        return ()
    return [one for one in sessions_since(history, first) if one.on < today]
