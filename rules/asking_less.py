"""Decides which mornings a calm patient is not asked, where the clinic has chosen to ask less.

Only the day after a session, when nothing is due; the next morning asks for the worst since the
session, which counts for both days. Decides on no load.
Read next: `follow_up`, which tells where the day after a session can change an action.
"""

from __future__ import annotations

from datetime import date

from rules.follow_up import SORE_MARGIN, next_day_decides
from rules.history import History, Session
from rules.protocol import Protocol
from rules.reading import (
    answers_of,
    is_above,
    reading,
    usual_session_pain,
    usuals_at,
    worst_session_pain,
)
from rules.rest_day import still_recovering
from rules.usual import ONE_DAY, WEEK_DAYS, first_step_pain, mornings_between, usual_stiffness

CALM_WEEKS = 4
"""Weeks of which each must have been calm. Convention."""

OVER_USUAL = SORE_MARGIN
"""An answer so far over its usual [points, at least] has every morning asked for a week: what makes
a session sore. Convention."""


def morning_is_skipped(history: History, protocol: Protocol, today: date) -> bool:
    """Whether today's answers can wait until tomorrow.

    The day after a session that was neither new nor sore, between sessions, to a calm patient who
    answered yesterday morning. The week up to today keeps `week_answers_min` mornings without this
    one: on fewer, no week is compared with the one before.
    """
    yesterday = today - ONE_DAY
    if not history.sessions or history.sessions[-1].on != yesterday:
        return False
    return (
        first_step_pain(history, yesterday) is not None
        and still_recovering(history, protocol, today) is not None
        and not next_day_decides(history, protocol, today)
        and _answered(history, today) >= protocol.settings.week_answers_min
        and is_calm(history, protocol, yesterday)
    )


def is_calm(history: History, protocol: Protocol, today: date) -> bool:
    """Whether the four weeks up to today gave no reason but to go on, to hold or to recover.

    No step down, no warning sign, no pause and no clinician's word to rest; no day that reads
    `above_usual_margin` over usual; no single answer over usual in the last week; in each week at
    least `week_answers_min` mornings answered.
    """
    weeks = range(CALM_WEEKS)
    first = today - (CALM_WEEKS * WEEK_DAYS - 1) * ONE_DAY
    if history.enrolled_on > first or _was_held_back(history, first, today):
        return False
    if any(
        _answered(history, today - week * WEEK_DAYS * ONE_DAY) < protocol.settings.week_answers_min
        for week in weeks
    ):
        return False
    days = [first + ago * ONE_DAY for ago in range(CALM_WEEKS * WEEK_DAYS)]
    return not any(_reads_above(history, protocol, on) for on in days) and not any(
        _is_over_usual(history, protocol, on) for on in days[-WEEK_DAYS:]
    )


def _answered(history: History, ends_on: date) -> int:
    """Mornings of the seven days up to `ends_on` with first-step pain answered [count]."""
    mornings = mornings_between(history, ends_on - (WEEK_DAYS - 1) * ONE_DAY, ends_on)
    return sum(one.first_step_pain is not None for one in mornings)


def _was_held_back(history: History, first: date, today: date) -> bool:
    """Whether anything but numbers held loading back since `first`."""
    return (
        any(move.down and move.on >= first for move in history.moves)
        or any(
            stop.raised_on >= first or stop.loads_from is None or stop.loads_from > first
            for stop in history.loading_stops
        )
        or any(
            pause.on <= today and (pause.until is None or pause.until >= first)
            for pause in history.pauses
        )
        or any(word.on >= first for word in history.day_words)
    )


def _reads_above(history: History, protocol: Protocol, on: date) -> bool:
    """Whether a day reads well above what was usual before the session then latest."""
    usuals = usuals_at(history, protocol, _session_before(history, on))
    return is_above(reading(history, usuals, on), protocol.settings.above_usual_margin)


def _is_over_usual(history: History, protocol: Protocol, on: date) -> bool:
    """Whether one answer about a day, or about a session on it, is over its own usual."""
    usuals = usuals_at(history, protocol, _session_before(history, on))
    if any(one.above >= OVER_USUAL for one in answers_of(history, usuals, on)):
        return True
    stiff_over = usual_stiffness(history, protocol, on) + (
        protocol.settings.week_stiffness_rise_minutes
    )
    if any(
        one.stiffness is not None and one.stiffness >= stiff_over
        for one in mornings_between(history, on, on)
    ):
        return True
    return any(
        (worst := worst_session_pain(one)) is not None
        and worst >= usual_session_pain(history, protocol, one) + OVER_USUAL
        for one in history.sessions
        if one.on == on
    )


def _session_before(history: History, on: date) -> Session | None:
    """The latest session before a day."""
    return next((one for one in reversed(history.sessions) if one.on < on), None)
