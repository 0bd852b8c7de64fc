"""Which histories have the same future, so that only one of them need be followed.

Two histories of one run, on the same day and with as many sessions, are merged where `future_key`
is the same. Why this is sound: a row reads a history in the ways listed here and in no other, and
each of them is in the key, at its value or at the value where it stops to matter.
- The place; since when the level runs, up to its `days_min`; the last raise; whether the level was
  left upwards before.
- Sessions of the stay: whether one was done at the place; how far those done at the level are above
  the share asked for, (100 - percent) x done - percent x missed, to which each later one adds the
  same whatever came before; and the free days since the next was due.
- Every session of the run in full, with its day: the last three, the usual of later answers, and
  what sessions usually hurt are read from them.
- Every step down with the place it left, its size, reason and session, and the mornings.
- The gate. Pauses, activities, heel raises and signs are the same in all histories of a run.

What was checked about the histories before they were merged is checked; nothing after it can
differ. The tests hold the argument against the rules: a run with and without merging must find as
many histories, and as many of each decision.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from dataclasses import astuple
from datetime import date, timedelta
from itertools import pairwise

from prove.model import DAY_0

from rules.history import History, MovedBy
from rules.protocol import Protocol
from rules.stay import (
    last_raise_on,
    level_began_on,
    position_began_on,
    sessions_missed,
    sessions_since,
    was_left_upwards,
)


def future_key(history: History, protocol: Protocol, today: date) -> Hashable:
    """What the rules may read of a history from the morning of `today` on, before its answers."""
    settings = protocol.settings
    raise_days = settings.raise_days_min * settings.brake_times_many
    return (
        astuple(history.position),
        history.hops_allowed,
        _ago(last_raise_on(history), today, raise_days),
        was_left_upwards(history),
        _stay(history, protocol, today),
        tuple(astuple(one) for one in history.sessions if one.on >= DAY_0),
        tuple(_steps_down(history)),
        tuple(astuple(one) for one in history.mornings if one.on >= DAY_0),
    )


def _steps_down(history: History) -> Iterator[Hashable]:
    """Each step down with the place that it left, and the moves by hand between them."""
    for before, move in pairwise(history.moves):
        if move.down or move.by is MovedBy.CLINICIAN:
            yield astuple(before.position), astuple(move)


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
