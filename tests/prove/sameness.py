"""Which histories have the same future, so that only one of them need be followed.

Two histories of one run, on the same day and with as many sessions, are merged where `future_key`
is the same. Why this is sound: a row reads a history in the ways listed here and in no other, and
each of them is in the key, at its value or at the value where it stops to matter.
- The place; since when the level runs, up to its `days_min`; the last raise, up to
  `raise_days_min`. Earlier moves are read only to find these.
- Sessions of the stay: whether one was done at the place; how far those done at the level are above
  the share asked for, (100 - percent) x done - percent x missed, to which each later one adds the
  same whatever came before; and the free days since the next was due.
- The last session in full, with the usual pain before it, and whether a step back has answered for
  it. Of the two before it only whether a follow-up is missing (which one, while it may still come),
  whether it was hard, and whether a painkiller was taken: all else is read of the last alone.
- The last step back: while there was no session since, its usual and the latest morning since.
- The mornings of the last 14 days, and the day of the last step back among them, which the weeks
  and later usuals read. Where every answered morning of a run is the usual pain itself, both are
  the same whatever is missing, and the mornings are left out.
- The gate. Pauses, activities, heel raises and signs are the same in all histories of a run.

What was checked about the histories before they were merged is checked; nothing after it can
differ. The tests hold the argument against the rules: a run with and without merging must find as
many histories, and as many of each decision.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from dataclasses import astuple
from datetime import date, timedelta

from rules.history import History, Move, Session
from rules.protocol import Protocol
from rules.rest_day import settling_after_step_back
from rules.stay import (
    last_raise_on,
    level_began_on,
    position_began_on,
    sessions_missed,
    sessions_since,
)
from rules.step_back import session_to_answer_for
from rules.usual import last_step_back, next_day_pain, two_day_pain, usual_pain

WINDOW_DAYS = 14
"""Mornings further back are read by no row from this day on [days]."""

FOLLOWED_DAYS = 2


def future_key(history: History, protocol: Protocol, today: date, *, flat: bool) -> Hashable:
    """What the rules may read of a history from the morning of `today` on, before its answers."""
    step_back = last_step_back(history)
    return (
        astuple(history.position),
        history.hops_allowed,
        _ago(last_raise_on(history), today, protocol.settings.raise_days_min),
        _stay(history, protocol, today),
        _last_session(history, protocol, today),
        tuple(_earlier_sessions(history, protocol, today)),
        _settling(history, protocol, today, step_back),
        () if flat else _mornings(history, today, step_back),
    )


def _ago(on: date | None, today: date, most: int) -> int:
    return most if on is None else min((today - on).days, most)


def _stay(history: History, protocol: Protocol, today: date) -> Hashable:
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


def _last_session(history: History, protocol: Protocol, today: date) -> Hashable:
    if not history.sessions:
        return ()
    last = history.sessions[-1]
    return (
        (today - last.on).days,
        astuple(last)[1:],
        next_day_pain(history, last),
        two_day_pain(history, last),
        usual_pain(history, protocol, last.on),
        session_to_answer_for(history, told_after_days=0) is None,
    )


def _earlier_sessions(history: History, protocol: Protocol, today: date) -> Iterator[Hashable]:
    settings = protocol.settings
    began = level_began_on(history, protocol)
    earlier = history.sessions[-max(settings.sessions_reviewed, settings.effort_sessions) : -1]
    for one in earlier:
        days = (today - one.on).days
        known = _known(history, one)
        yield (
            one.on >= began and ((days, known) if days <= FOLLOWED_DAYS else not all(known)),
            one.effort is not None and one.effort > settings.easy_effort_max,
            bool(one.painkiller),
        )


def _known(history: History, session: Session) -> tuple[bool, bool]:
    return (
        next_day_pain(history, session) is not None,
        two_day_pain(history, session) is not None,
    )


def _settling(
    history: History, protocol: Protocol, today: date, step_back: Move | None
) -> Hashable:
    """Where the patient rests since a step back: its day, what is compared, what was last told."""
    if step_back is None or (history.sessions and history.sessions[-1].on > step_back.on):
        return None
    found = settling_after_step_back(history, protocol, today)
    return (
        min((today - step_back.on).days, 1),
        None if found is None else (found["usual"], found["first_step_pain"]),
    )


def _mornings(history: History, today: date, step_back: Move | None) -> Hashable:
    first = today - timedelta(days=WINDOW_DAYS - 1)
    return (
        _ago(None if step_back is None else step_back.on, today, WINDOW_DAYS),
        tuple(
            ((today - one.on).days, one.first_step_pain, one.stiffness)
            for one in history.mornings
            if one.on >= first
        ),
    )
