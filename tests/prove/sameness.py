"""Which histories have the same future, so that only one of them need be followed.

Two histories of one run, on the same day and with as many sessions, are merged where `future_key`
is the same. Why this is sound: a row reads a history in the ways listed here and in no other, and
each of them is in the key, at its value or at the value where it stops to matter.
- The place, the gate, the levels left upwards; since when the level runs, up to its `days_min`; the
  last raise; the sessions of the stay (`_stay`).
- The last session in full, what was usual before it, and each answer given since the day before it.
- Of the two sessions before it only what the rows that count sessions ask: whether it was over the
  limit or the ceiling, followed by a sore day, hard, or after a painkiller. How long ago a sore
  session with a sore next day was, while it holds the raise.
- Of each step down the places and whether its session had hurt; when the last was, what was usual
  before it, and whether the last session is answered for.
- While sessions are still to come, the mornings and later answers of which their usual is made:
  without their days, where all stay in its window until the last of them.
- What is known of the two weeks of each day on which this one can come out the worse (`_weeks`).
Pauses, activities, heel raises, stiffness and signs are the same in all histories of a run, and so
is what sessions usually hurt: see `check_bound`.

What was checked about the histories before they were merged is checked; nothing after it can
differ. The tests hold the argument against the rules: histories with one key get one advice for
each of the next day's answers, made worse or not, and have one key again in the evening.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from dataclasses import astuple
from datetime import date, timedelta
from itertools import pairwise

from prove.model import DAY_0, RESTING_DAYS_MAX, Run

from rules.brake import steps_too_much
from rules.history import History, Session
from rules.protocol import PAIN_CEILING, Position, Protocol
from rules.reading import (
    is_above,
    reading,
    sore_with_echo,
    usual_session_pain,
    usuals_at,
    worst_session_pain,
)
from rules.stay import (
    last_raise_on,
    level_began_on,
    position_began_on,
    sessions_missed,
    sessions_since,
)
from rules.step_back import REVIEWED, _sore_day_after, sessions_since_step
from rules.usual import (
    ONE_DAY,
    WEEK_DAYS,
    first_step_pain,
    last_session,
    last_step_down,
    pain_limit,
    usual_at_step_down,
)

LOWEST, HIGHEST = 2, 7
"""Between these lies every first-step pain of a run, one made worse included [points]."""


def check_bound(run: Run, sessions: int) -> None:
    """Raise ValueError where sessions of the run could change what sessions usually hurt.

    They cannot where too few are asked for, or where the start has more of them, all alike.
    """
    start = {(one.pain_during, one.pain_after) for one in run.start.sessions}
    alike = len(start) == 1 and len(run.start.sessions) > 2 * sessions
    if not alike and sessions >= run.protocol.settings.own_usual_answers_min:
        least = run.protocol.settings.own_usual_answers_min
        raise ValueError(
            f"under {least} sessions were expected in run {run.name}, as from there on their pain"
            f" becomes usual and histories differ by it; found {sessions} (--no-merging goes on)"
        )


def future_key(history: History, protocol: Protocol, today: date, more: int) -> Hashable:
    """What the rules may read of a history from the morning of `today` on, before its answers.

    `more`: sessions of the bound that are still to come.
    """
    last = last_session(history)
    settings = protocol.settings
    days = [settings.raise_days_min, *(one.raise_days_min or 0 for one in protocol.levels)]
    return (
        astuple(history.position),
        history.hops_allowed,
        frozenset(
            before.position.level
            for before, after in pairwise(history.moves)
            if after.position.level > before.position.level
        ),
        _ago(last_raise_on(history), today, max(days) * settings.brake_times_many),
        _stay(history, protocol, today),
        None if last is None else _last(history, protocol, last, today),
        _sessions_before(history, protocol, today),
        _steps_down(history, protocol, today),
        _usual_to_come(history, protocol, today, more) if more else None,
        _weeks(history, protocol, today, more),
    )


def _ago(on: date | None, today: date, most: int) -> int:
    return most if on is None else min((today - on).days, most)


def _last(history: History, protocol: Protocol, last: Session, today: date) -> Hashable:
    """The last session, its usuals, and the answers of the days around and after it."""
    usuals = usuals_at(history, protocol, last)
    margin = protocol.settings.above_usual_margin
    near = [is_above(reading(history, usuals, last.on - ago * ONE_DAY), margin) for ago in (0, 1)]
    since = [morning for morning in history.mornings if morning.on > last.on]
    own_day = None
    if today - last.on == ONE_DAY:
        told = [p for one in history.sessions[-3:-1] for p in _later_on(one, last.on)]
        own_day = (first_step_pain(history, last.on), *told)
    return (
        astuple(last),
        astuple(usuals),
        usual_session_pain(history, protocol, last),
        tuple(near),
        own_day,
        tuple(astuple(morning) for morning in since),
    )


def _later_on(session: Session, on: date) -> Iterable[int | None]:
    days = (on - session.on).days
    return [{1: session.pain_24h, 2: session.pain_48h}.get(days)]


def _sessions_before(history: History, protocol: Protocol, today: date) -> Hashable:
    """What is still asked of the sessions before the last one."""
    since_step = sessions_since_step(history)
    limit = pain_limit(history, protocol)
    hard = protocol.settings.easy_effort_max
    reviewed = history.sessions[-REVIEWED:]
    found: list[Hashable] = []
    for one, following in pairwise(reviewed):
        counted = None
        if one in since_step:
            worst = worst_session_pain(one)
            over = None if worst is None else (worst > limit) + (worst > PAIN_CEILING)
            counted = (over, _sore_day_after(history, protocol, one, following.on) is not None)
        found.append((counted, one.painkiller, one.effort is not None and one.effort > hard))
    hold_days = protocol.settings.sore_session_hold_days
    sore = [
        (today - one.on).days
        for one in history.sessions[:-1]
        if (today - one.on).days < hold_days
        if sore_with_echo(history, protocol, one) is not None
    ]
    return tuple(found), min(sore, default=hold_days)


def _steps_down(history: History, protocol: Protocol, today: date) -> Hashable:
    step = last_step_down(history)
    if step is None:
        return None
    last = last_session(history)
    down = [(before, move) for before, move in pairwise(history.moves) if move.down]
    hurt = steps_too_much(history, protocol, Position(1, 1), step.on)
    latest = [
        int(one.first_step_pain)
        for one in history.mornings
        if one.on > step.on and one.first_step_pain is not None
    ]
    settled = last is not None and last.on > step.on
    named = [last is not None and move.session_on == last.on for _, move in down]
    return (
        tuple(
            (astuple(before.position), astuple(move.position), is_last or move in hurt)
            for (before, move), is_last in zip(down, named, strict=True)
        ),
        tuple(named),
        (today - step.on).days,
        None if settled else (usual_at_step_down(history, protocol, step), *latest[-1:]),
    )


def _usual_to_come(history: History, protocol: Protocol, today: date, more: int) -> Hashable:
    """The answers of which the usuals of the sessions to come are made."""
    settings = protocol.settings
    end = _last_on(history) + more * RESTING_DAYS_MAX * ONE_DAY
    mornings = [(one.on, one.first_step_pain) for one in history.mornings]
    later = [
        (one.on + days * ONE_DAY, pain)
        for one in history.sessions
        for days, pain in ((1, one.pain_24h), (2, one.pain_48h))
    ]
    return (
        _windowed(mornings, today, end, settings.usual_window_days),
        _windowed(later, today, end, settings.own_usual_days),
    )


def _windowed(
    answers: Iterable[tuple[date, int | None]], today: date, end: date, days: int
) -> Hashable:
    """Answers in a window that moves on to `end`: those that leave it on the way with their day."""
    first, stays = today - (days - 1) * ONE_DAY, end - (days - 1) * ONE_DAY
    known = [(on, int(pain)) for on, pain in answers if on >= first and pain is not None]
    return (
        tuple((on, pain) for on, pain in known if on < stays),
        tuple(sorted(pain for on, pain in known if on >= stays)),
    )


def _weeks(history: History, protocol: Protocol, today: date, more: int) -> Hashable:
    """What is known of the two weeks of each day to come on which this one can be the worse."""
    step = last_step_down(history)
    pains = {
        one.on: int(one.first_step_pain)
        for one in history.mornings
        if one.first_step_pain is not None and (step is None or one.on > step.on)
    }
    since = _last_on(history) + ONE_DAY
    end = since + (more * RESTING_DAYS_MAX + 1) * ONE_DAY
    days = [today + ahead * ONE_DAY for ahead in range((end - today).days + 1)]
    return tuple(
        (day, _known(pains, day), _known(pains, day - WEEK_DAYS * ONE_DAY))
        for day in days
        if _may_be_worse(pains, protocol, since, today, day)
    )


def _known(pains: dict[date, int], ends_on: date) -> tuple[int, int]:
    """Sum and count of the answers of a week [points, answers]."""
    week = [ends_on - ago * ONE_DAY for ago in range(WEEK_DAYS)]
    found = [pains[on] for on in week if on in pains]
    return sum(found), len(found)


def _may_be_worse(
    pains: dict[date, int], protocol: Protocol, since: date, today: date, day: date
) -> bool:
    """Whether on a day this week's mean can be up on the last one's, at the worst answers.

    What was answered from `since` on may be made worse by a statement.
    """
    this: list[int] = []
    before: list[int] = []
    for ago in range(2 * WEEK_DAYS):
        on = day - ago * ONE_DAY
        week, unknown = (this, HIGHEST) if ago < WEEK_DAYS else (before, LOWEST)
        if on >= today:
            week.append(unknown)
        elif on in pains:
            week.append(HIGHEST if on >= since and week is this else pains[on])
    settings = protocol.settings
    if min(len(this), len(before)) < settings.week_answers_min:
        return False
    return sum(this) / len(this) - sum(before) / len(before) >= settings.week_pain_rise


def _last_on(history: History) -> date:
    last = last_session(history)
    return DAY_0 if last is None or last.on < DAY_0 else last.on


def _stay(history: History, protocol: Protocol, today: date) -> Hashable:
    """How the stay at the level stands: its days, its sessions, and whether the place was tried.

    Sessions: how far those done are above the share asked for, (100 - percent) x done - percent x
    missed, to which each later one adds the same whatever came before; and the free days since the
    next was due.
    """
    began = level_began_on(history, protocol)
    level = protocol.level(history.position)
    since = sessions_since(history, began)
    due_on = since[-1].on + timedelta(days=level.spacing_days) if since else began
    here = sessions_since(history, position_began_on(history))
    percent = protocol.settings.sessions_done_min_percent
    done = sum(one.position.level == history.position.level for one in since)
    missed = sessions_missed(history, protocol, began, due_on)
    free = sum(
        due_on + timedelta(days=days) not in history.rest_days
        for days in range((today - due_on).days)
    )
    return (
        _ago(began, today, level.days_min),
        (100 - percent) * done - percent * missed,
        any(one.position == history.position for one in here),
        free,
        bool(since),
    )
