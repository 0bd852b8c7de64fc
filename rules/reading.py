"""What the answers about a day come to, each question measured from its own usual.

A day's reading is the lower of its answers: what two measures agree on. Where the worst counts
instead, a rule takes `answers_of` itself. Decides nothing.
Read next: `step_back`, `dose_less` and `rest_day`, which compare readings with margins.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from operator import attrgetter
from statistics import median

from rules.history import History, Session
from rules.protocol import Protocol
from rules.quantities import Pain
from rules.reasons import Evidence
from rules.usual import ONE_DAY, first_step_pain, last_session, remembered, usual_pain

_on = attrgetter("on")


@dataclass(frozen=True)
class Usuals:
    """What is usual before a session [points, 0-10, halves occur].

    `first_step`: `usual.usual_pain`. `later`: `usual_later_pain`.
    """

    first_step: float
    later: float


@dataclass(frozen=True)
class Reading:
    """One answer about a day, with the usual of its question [points].

    `value`: the answer as first-step pain would say it, so that answers to different questions can
    be compared with one limit.
    """

    answer: int
    usual: float
    value: float

    @property
    def above(self) -> float:
        """How far the answer lies above the usual of its question; negative where below."""
        return self.answer - self.usual


@remembered
def usuals_at(history: History, protocol: Protocol, session: Session | None) -> Usuals:
    """The usuals before a session; before the first, what was told at enrolment."""
    if session is None:
        return Usuals(float(history.usual_pain), float(history.usual_pain))
    return Usuals(
        usual_pain(history, protocol, session.on),
        usual_later_pain(history, protocol, session.on),
    )


def usuals_now(history: History, protocol: Protocol) -> Usuals:
    """The usuals before the last session."""
    return usuals_at(history, protocol, last_session(history))


@remembered
def usual_later_pain(history: History, protocol: Protocol, before: date) -> float:
    """The usual answer at 24 and at 48 hours [points, 0-10, halves occur].

    "Worst since the session" is a harder question than "with the first steps": many answer it a
    point higher. Median of those given in the `own_usual_days` days up to `before`, included; while
    fewer than `own_usual_answers_min`, usual first-step pain.
    Source: own-simulation, table of each question with its own usual.
    """
    settings = protocol.settings
    first = before - (settings.own_usual_days - 1) * ONE_DAY
    given: list[int] = []
    for session in reversed(history.sessions):
        if session.on + 2 * ONE_DAY < first:
            break
        given += [int(pain) for on, pain in _later(session) if first <= on <= before]
    if len(given) < settings.own_usual_answers_min:
        return usual_pain(history, protocol, before)
    return float(median(given))


def answers_of(history: History, usuals: Usuals, on: date) -> list[Reading]:
    """The answers about a day: its first-step pain, and a 24 or 48 hour answer given on it."""
    found = []
    pain = first_step_pain(history, on)
    if pain is not None:
        found.append(Reading(int(pain), usuals.first_step, float(pain)))
    index = bisect_left(history.sessions, on, key=_on)
    for told_on, later in _later(history.sessions[index - 1]) if index else ():
        if told_on == on:
            raised = usuals.first_step + later - usuals.later
            found.append(Reading(int(later), usuals.later, raised))
    return found


def reading(history: History, usuals: Usuals, on: date) -> Reading | None:
    """The lower of the answers about a day; None where there is none: silence is not mild."""
    return min(answers_of(history, usuals, on), key=lambda one: one.above, default=None)


def is_above(found: Reading | None, margin: float) -> bool:
    """Whether a reading is known and at least so far above usual [points]."""
    return found is not None and found.above >= margin


def worst_session_pain(session: Session) -> int | None:
    """The higher of pain during and straight after [points, 0-10]. None: neither is known."""
    known = [int(p) for p in (session.pain_during, session.pain_after) if p is not None]
    return max(known, default=None)


@remembered
def usual_session_pain(history: History, protocol: Protocol, session: Session) -> float:
    """What sessions usually hurt before the patient came to the place of this one [points].

    Median of the worst session pain of the `session_usual_days` days before that day; while fewer
    than `own_usual_answers_min` are known, usual first-step pain. Sessions at the place itself
    never enter it, or a place that is too much would become its own yardstick.
    Source: own-simulation, table of brakes.
    """
    settings = protocol.settings
    began = _came_to_place_on(history, session)
    first = began - settings.session_usual_days * ONE_DAY
    start = bisect_left(history.sessions, first, key=_on)
    end = bisect_left(history.sessions, began, key=_on)
    worst = [worst_session_pain(one) for one in history.sessions[start:end]]
    known = [pain for pain in worst if pain is not None]
    if len(known) < settings.own_usual_answers_min:
        return usual_pain(history, protocol, session.on)
    return float(median(known))


@remembered
def sore_with_echo(history: History, protocol: Protocol, session: Session) -> Evidence | None:
    """A session that hurt more than sessions do, with the next day's reading above usual."""
    settings = protocol.settings
    worst = worst_session_pain(session)
    usual_worst = usual_session_pain(history, protocol, session)
    echo = reading(history, usuals_at(history, protocol, session), session.on + ONE_DAY)
    if worst is None or worst < usual_worst + settings.sore_session_margin:
        return None
    if echo is None or not is_above(echo, settings.echo_margin):
        return None
    return {
        "worst_pain": worst,
        "usual_worst_pain": usual_worst,
        "next_day_pain": echo.answer,
        "usual": echo.usual,
        "session_on": session.on.isoformat(),
    }


def _came_to_place_on(history: History, session: Session) -> date:
    """Since when the patient stood where a session was done; not a step down that it led to."""
    for move in reversed(history.moves):
        if move.on <= session.on and not (move.down and move.session_on == session.on):
            return move.on
    return history.moves[0].on


def _later(session: Session) -> Iterator[tuple[date, Pain]]:
    """The answers at 24 and at 48 hours that were given, each with its day."""
    for days, pain in ((1, session.pain_24h), (2, session.pain_48h)):
        if pain is not None:
            yield session.on + days * ONE_DAY, pain
