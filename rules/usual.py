"""Sums a history up: usual pain, next-day and two-day pain, the mean of a week, the limit.

Decides nothing. All spans are counted in the patient's local dates.
Read next: `step_back`, which compares these numbers with the protocol's.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import wraps
from operator import attrgetter
from statistics import median
from typing import Any, TypeVar

from rules.history import History, Morning, Move, MovedBy, Session
from rules.protocol import PAIN_CEILING, Protocol
from rules.quantities import Pain

ONE_DAY = timedelta(days=1)
"""The step of a calendar of local dates: convention, whatever the clocks do that night."""

WEEK_DAYS = 7
"""Days that "this week" and "last week" span [days]. Convention: rolling, not from a Monday."""

_on = attrgetter("on")

Key = TypeVar("Key", bound=Hashable)
Found = TypeVar("Found")
Asked = Callable[[History, Protocol, Key], Found]

_memory: tuple[History | None, dict[Hashable, tuple[Protocol, Any]]] = (None, {})
"""The history asked about last, and what was found in it."""


def remembered(function: Asked[Key, Found]) -> Asked[Key, Found]:
    """Keep what a sum came to while the same history is asked about: many rows ask for one usual.

    The history is frozen, and known by being the same object.
    """

    @wraps(function)
    def kept(history: History, protocol: Protocol, key: Key) -> Found:
        global _memory
        owner, memory = _memory
        if owner is not history:
            memory = {}
            _memory = (history, memory)
        asked = (function, id(protocol), key)
        if asked not in memory:
            # The protocol is kept beside it, so that its id stays its own.
            memory[asked] = (protocol, function(history, protocol, key))
        found: Found = memory[asked][1]
        return found

    return kept


@dataclass(frozen=True)
class Mean:
    """A mean kept as total and count, so that comparing two is exact. None where count is 0."""

    total: int
    count: int

    @property
    def value(self) -> float:
        """The mean itself. Call it only where `count` is at least 1."""
        return self.total / self.count

    def rise_over(self, earlier: Mean) -> float:
        """How much higher this mean is than an earlier one; negative where it is lower."""
        gap = self.total * earlier.count - earlier.total * self.count
        return gap / (self.count * earlier.count)

    def is_up_by_percent(self, earlier: Mean, percent: int) -> bool:
        """Whether this mean is at least so many percent higher. From 0, any mean is."""
        return 100 * self.total * earlier.count >= (100 + percent) * earlier.total * self.count


@dataclass(frozen=True)
class Week:
    """Some mornings summed up: first-step pain [points] and stiffness [minutes]."""

    pain: Mean
    stiffness: Mean


def pain_limit(history: History, protocol: Protocol) -> int:
    """Highest pain that is still within the limit [points, included, at most PAIN_CEILING].

    The clinician's own limit for the patient where one is set, else the protocol's.
    Source: silbernagel-2007, for the ceiling.
    """
    chosen = protocol.settings.pain_limit if history.pain_limit is None else history.pain_limit
    return min(int(chosen), PAIN_CEILING)


def last_session(history: History) -> Session | None:
    """The latest session, or None before the first."""
    return history.sessions[-1] if history.sessions else None


def last_step_down(history: History) -> Move | None:
    """The latest step down that the rules made, by a dose or by a level; None before the first."""
    for move in reversed(history.moves):
        if move.down:
            return move
    return None


def session_to_answer_for(history: History, *, told_after_days: int) -> Session | None:
    """The last session, unless a step down or a clinician has answered for what it told.

    `told_after_days`: local days from the session to the answer in question [0, 1 or 2].
    A session before the day of the last step down is answered for, and so is one that a step down
    names. One on the day of a step down that does not name it was done in spite of it and counts.
    A clinician's move that names the session answers for what was told before the day of the move.
    """
    session = last_session(history)
    step = last_step_down(history)
    if session is None or (step is not None and session.on < step.on):
        return None
    told_on = session.on + told_after_days * ONE_DAY
    for move in history.moves:
        answers = move.down or (move.by is MovedBy.CLINICIAN and told_on < move.on)
        if answers and move.session_on == session.on:
            return None
    return session


def mornings_between(history: History, first: date, last: date) -> Sequence[Morning]:
    """The mornings from `first` to `last`, both included."""
    start = bisect_left(history.mornings, first, key=_on)
    return history.mornings[start : bisect_right(history.mornings, last, lo=start, key=_on)]


@remembered
def usual_pain(history: History, protocol: Protocol, before: date) -> float:
    """Usual first-step pain before a session on the date `before` [points, 0-10, halves occur].

    Median of the answered mornings of the last `usual_window_days` days up to `before`, whose own
    morning is included: it comes before the session. The value given at enrolment while fewer than
    `usual_answers_min` are answered. What was answered after the session never enters it, so a
    flare cannot become its own yardstick.
    Source: convention; a median, because one bad morning must not move it.
    """
    return _usual(history, protocol, before, "first_step_pain", int(history.usual_pain))


@remembered
def usual_stiffness(history: History, protocol: Protocol, before: date) -> float:
    """Usual morning stiffness [minutes], over the same days and from as many answers."""
    return _usual(history, protocol, before, "stiffness", int(history.usual_stiffness))


def _usual(
    history: History, protocol: Protocol, before: date, asked: str, at_enrolment: int
) -> float:
    settings = protocol.settings
    first = before - (settings.usual_window_days - 1) * ONE_DAY
    found = (getattr(morning, asked) for morning in mornings_between(history, first, before))
    answered = [int(value) for value in found if value is not None]
    if len(answered) < settings.usual_answers_min:
        return float(at_enrolment)
    return float(median(answered))


def first_step_pain(history: History, on: date) -> Pain | None:
    """First-step pain of one morning [points, 0-10]. None: not answered."""
    for morning in mornings_between(history, on, on):
        return morning.first_step_pain
    return None


def next_day_pain(history: History, session: Session) -> Pain | None:
    """The worse of next morning's first-step pain and the 24-hour answer [points, 0-10].

    Either answer will do for it to count as known; None if there is neither.
    Source: cook-purdam-2014, the next day's response as the guide to load.
    """
    return _worse(first_step_pain(history, session.on + ONE_DAY), session.pain_24h)


def two_day_pain(history: History, session: Session) -> Pain | None:
    """The worse of first-step pain two mornings later and the 48-hour answer [points, 0-10].

    Either answer will do for it to count as known; None if there is neither.
    Source: silbernagel-crossley-2015, symptoms followed up to 48 hours.
    """
    return _worse(first_step_pain(history, session.on + 2 * ONE_DAY), session.pain_48h)


def usual_at_step_down(history: History, protocol: Protocol, step: Move) -> float:
    """What was usual before the trouble that led to a step down [points, 0-10].

    Usual at the last session on or before the day of the step down, not on that day itself: the
    bad mornings in between would raise it, and the worse they were, the sooner the tendon would
    seem settled. With no such session, the value given at enrolment.
    """
    index = bisect_right(history.sessions, step.on, key=_on)
    if index == 0:
        return float(history.usual_pain)
    return usual_pain(history, protocol, history.sessions[index - 1].on)


def week_to(history: History, ends_on: date, after: date | None) -> Week:
    """The seven mornings up to and including `ends_on`; only those later than `after`, if given."""
    first = ends_on - (WEEK_DAYS - 1) * ONE_DAY
    if after is not None:
        first = max(first, after + ONE_DAY)
    return weeks_sum(history, first, ends_on)


def weeks_sum(history: History, first: date, last: date) -> Week:
    """The mornings from `first` to `last`, both included; nothing where `last` comes before."""
    mornings = mornings_between(history, first, last)
    pains = [m.first_step_pain for m in mornings if m.first_step_pain is not None]
    minutes = [m.stiffness for m in mornings if m.stiffness is not None]
    return Week(Mean(sum(pains), len(pains)), Mean(sum(minutes), len(minutes)))


def _worse(one: Pain | None, other: Pain | None) -> Pain | None:
    """The higher of two answers where at least one is known."""
    if one is None or other is None:
        return one if other is None else other
    return max(one, other)
