"""How long a patient has been where they are on the ladder, and how much of it was done.

Counts; decides nothing. All spans are in the patient's local dates.
Read next: `hold`, which compares these counts with the protocol's.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from datetime import date
from itertools import pairwise
from operator import attrgetter

from rules.history import History, Session
from rules.protocol import Protocol
from rules.stop import covers
from rules.usual import ONE_DAY

_on = attrgetter("on")


def position_began_on(history: History) -> date:
    """The date since which the patient stands at the present position."""
    return history.moves[-1].on


def last_raise_on(history: History) -> date | None:
    """The date of the latest move up, by rules or clinician; None if there was none."""
    moves = history.moves
    for index in range(len(moves) - 1, 0, -1):
        if moves[index].position > moves[index - 1].position:
            return moves[index].on
    return None


def days_between_raises(history: History, protocol: Protocol) -> int:
    """Least days from one raise to the next where the patient stands [days].

    Those of the level, else of the settings; `slower_times` as many where the clinician has
    lengthened them for this patient.
    """
    level, settings = protocol.level(history.position), protocol.settings
    days = settings.raise_days_min if level.raise_days_min is None else level.raise_days_min
    return days * settings.slower_times if history.slower else days


def was_left_upwards(history: History) -> bool:
    """Whether the patient has been raised out of the present level before."""
    level = history.position.level
    return any(
        before.position.level == level < after.position.level
        for before, after in pairwise(history.moves)
    )


def level_began_on(history: History, protocol: Protocol) -> date:
    """The date from which the stay at the present level is counted.

    The move to this level, or a later one that lowered or repeated the dose; a dose less by the
    rules leaves the level's time running. Then the first session after a break of `break_days` or
    more, if there was one: weeks without loading are neither days at the level nor sessions missed.
    Source: convention; own-simulation for the dose less.
    """
    moves = history.moves
    index = len(moves) - 1
    while index > 0 and _goes_on(history, index):
        index -= 1
    began = moves[index].on
    gap = protocol.settings.break_days * ONE_DAY
    later: date | None = None
    for session in reversed(sessions_since(history, began)):
        if later is not None and later - session.on >= gap:
            return later
        later = session.on
    return later if later is not None and later - began >= gap else began


def sessions_since(history: History, first: date) -> Sequence[Session]:
    """The sessions on or after a date."""
    return history.sessions[bisect_left(history.sessions, first, key=_on) :]


def sessions_missed(history: History, protocol: Protocol, began: date, today: date) -> int:
    """Sessions that were due since `began` and not done [count].

    Between one session and the next (from `began` to the first, and from the last to today), each
    day on which one could have been done counts, except days advised as rest or stop and paused
    days. Each whole spacing of such days is one session missed: with a spacing of two days, one
    day late is none missed. Today is not over, so it does not count.
    Source: convention.
    """
    spacing = protocol.level(history.position).spacing_days
    span = spacing * ONE_DAY
    missed = 0
    due_on = began
    for session in sessions_since(history, began):
        if session.on > due_on:
            missed += _days_free(history, due_on, session.on) // spacing
        due_on = session.on + span
    return missed + _days_free(history, due_on, today) // spacing


def _days_free(history: History, first: date, end: date) -> int:
    """Days from `first` to the day before `end` that were neither advised as rest nor paused."""
    count = 0
    day = first
    while day < end:
        count += not _is_off(history, day)
        day += ONE_DAY
    return count


def _is_off(history: History, day: date) -> bool:
    index = bisect_left(history.rest_days, day)
    advised = index < len(history.rest_days) and history.rest_days[index] == day
    return advised or any(covers(pause, day) for pause in history.pauses)


def _goes_on(history: History, index: int) -> bool:
    """Whether a move leaves the level's time running: a dose more or less within the level."""
    move, before = history.moves[index], history.moves[index - 1].position
    raised = move.position.dose > before.dose
    return move.position.level == before.level and (raised or move.do_less)
