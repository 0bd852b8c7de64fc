"""The last 14 days against the 14 before and against enrolment, for a clinician: the symptoms, and
the load that was done under them. Decides on no load.

All spans are in the patient's local dates. Read next: `weeks`, which compares for the patient.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from rules.history import History, Session
from rules.protocol import Position, Protocol
from rules.stop import paused, warning_sign
from rules.usual import ONE_DAY, Mean, Week, mornings_between, pain_limit, weeks_sum
from rules.weeks import Verdict, verdict_of

# Days of each span [days]. Convention: as many as the usual pain rests on.
FORTNIGHT_DAYS = 14

# Under this share of the sessions before, load is going down though the place is the same
# [percent]. Convention.
SESSIONS_FEW_PERCENT = 50


class Load(StrEnum):
    """Where the load that is done is heading."""

    UP = "going up"
    LEVEL = "level"
    DOWN = "going down"
    STOPPED = "stopped"


@dataclass(frozen=True)
class Fortnight:
    """The last 14 days, `this`, against the 14 `before` and the values given at enrolment.

    `change`, `since_enrolment`: None where the answers are too few to say. `load`: None where no
    session was ever done. `place`, `place_before`: where on the ladder the last session of either
    span was done. `over_limit`: of the mornings in `this`, those over `limit` [count, points].
    """

    this: Week
    before: Week
    at_enrolment: Week
    change: Verdict | None
    since_enrolment: Verdict | None
    limit: int
    over_limit: int
    load: Load | None
    sessions: int
    sessions_before: int
    place: Position | None
    place_before: Position | None


def fortnight(history: History, protocol: Protocol, today: date) -> Fortnight:
    """The 14 days up to and including `today`, by means of the answered mornings.

    What counts as a change is what counts for a week (`compare_weeks`); a mean counts from
    `weeks_reference_answers_min` answers. Better: pain or stiffness fell and neither rose; worse:
    the other way about; mixed: one each. Means and not medians: four bad mornings of 14 must show.
    """
    ended = today - FORTNIGHT_DAYS * ONE_DAY
    first, first_before = ended + ONE_DAY, ended - (FORTNIGHT_DAYS - 1) * ONE_DAY
    this = weeks_sum(history, first, today)
    before = weeks_sum(history, first_before, ended)
    given = Week(Mean(int(history.usual_pain), 1), Mean(int(history.usual_stiffness), 1))
    least = protocol.settings.weeks_reference_answers_min
    limit = pain_limit(history, protocol)
    done = _sessions(history, first, today)
    done_before = _sessions(history, first_before, ended)
    is_stopped = any(row(history, protocol, today) for row in (warning_sign, paused))
    load = _load(done, done_before, history.position, is_stopped=is_stopped)
    return Fortnight(
        this=this,
        before=before,
        at_enrolment=given,
        change=verdict_of(before, this, protocol, (least, least)),
        since_enrolment=verdict_of(given, this, protocol, (1, least)),
        limit=limit,
        over_limit=sum(
            one.first_step_pain is not None and one.first_step_pain > limit
            for one in mornings_between(history, first, today)
        ),
        load=load if history.sessions else None,
        sessions=len(done),
        sessions_before=len(done_before),
        place=done[-1].position if done else None,
        place_before=done_before[-1].position if done_before else None,
    )


def _sessions(history: History, first: date, last: date) -> list[Session]:
    return [one for one in history.sessions if first <= one.on <= last]


def _load(
    this: Sequence[Session], before: Sequence[Session], stands: Position, *, is_stopped: bool
) -> Load:
    """By the place of the last session of either span, then by how many were done. In the first
    span of all, by where it began. A plan that was set lower since the last session goes down."""
    if is_stopped or not this:
        return Load.STOPPED
    now, then = this[-1].position, (before[-1] if before else this[0]).position
    if stands < now:
        return Load.DOWN
    if now != then:
        return Load.UP if now > then else Load.DOWN
    few = 100 * len(this) < SESSIONS_FEW_PERCENT * len(before)
    return Load.DOWN if few else Load.LEVEL
