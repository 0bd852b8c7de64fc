"""The week against the one four weeks ago, and what opens the next level. Decides on no load.

All spans are in the patient's local dates. Read next: `usual`, which sums a week up.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from rules.history import History
from rules.hold import criterion_not_met, too_few_days
from rules.ladder import is_barred, next_position
from rules.protocol import Dose, Position, Protocol
from rules.reasons import Evidence
from rules.usual import ONE_DAY, WEEK_DAYS, Mean, Week, week_to


class Verdict(StrEnum):
    """How one week stands against another."""

    BETTER = "better"
    SAME = "the same"
    WORSE = "worse"
    MIXED = "mixed"


@dataclass(frozen=True)
class Compared:
    """This week against an earlier one. `verdict`: None where either has too few answers.

    `since_start`: the earlier one is the first of the treatment, not the one four weeks ago.
    """

    this: Week
    before: Week
    verdict: Verdict | None
    since_start: bool


@dataclass(frozen=True)
class Opens:
    """What stands before the next level. `dose`: the last of this level, None where it is reached.

    `not_before`: the first date the level's days allow, None where they are over. `heel_raises`: to
    be counted on one leg first [count], None where nothing is left to count. `clinician`: a
    clinician has to open it.
    """

    level: int
    dose: Dose | None
    not_before: date | None
    heel_raises: int | None
    clinician: bool


def compare_weeks(history: History, protocol: Protocol, today: date) -> Compared:
    """The seven mornings up to today against the seven `creep_days` before; in the first weeks
    against the first seven of the treatment, once these are over.

    Pain changed: its mean by `weeks_pain_rise` or more [points]. Stiffness changed: its mean by
    `creep_minutes` or more [minutes]. Better: one fell and none rose; worse: the other way about;
    mixed: one each. A mean counts from `week_answers_min` answers.
    Source: own-simulation for the points, convention for the minutes; see the protocol.
    """
    settings = protocol.settings
    this = week_to(history, today, None)
    ends = today - settings.creep_days * ONE_DAY
    first_ends = history.enrolled_on + (WEEK_DAYS - 1) * ONE_DAY
    since_start = ends < first_ends <= today - WEEK_DAYS * ONE_DAY
    before = week_to(history, first_ends if since_start else ends, None)
    least = settings.week_answers_min
    return Compared(this, before, verdict_of(before, this, protocol, (least, least)), since_start)


def verdict_of(
    before: Week, this: Week, protocol: Protocol, answers_min: tuple[int, int]
) -> Verdict | None:
    """How one span of mornings stands against an earlier one; see `compare_weeks` for the limits.

    `answers_min`: answers that a mean of `before` and of `this` counts from [count, at least]. None
    where the pain has fewer.
    """
    settings = protocol.settings
    pain = _direction(before.pain, this.pain, settings.weeks_pain_rise, answers_min)
    minutes = _direction(before.stiffness, this.stiffness, settings.creep_minutes, answers_min)
    return _verdict(pain, minutes)


def what_opens(history: History, protocol: Protocol, today: date) -> Opens | None:
    """What stands before the next level, whether or not today is a day to go up; None at the top.

    Calm sessions are asked for besides, always.
    """
    at = history.position
    if at.level == len(protocol.levels):
        return None
    # The gates of a level are asked where its last dose is done.
    doses = protocol.level(at).doses
    ahead = Position(at.level + 1, 1)
    top = next_position(protocol, at) == ahead
    days = too_few_days(history, protocol, today) if top else None
    raises = criterion_not_met(history, protocol, today) if top else None
    return Opens(
        level=ahead.level,
        dose=None if top else doses[-1],
        not_before=None if days is None else _day_reached(days),
        heel_raises=None if raises is None else protocol.level(at).heel_raises_min,
        clinician=is_barred(history, protocol, ahead),
    )


def _day_reached(days: Evidence) -> date:
    """The first day on which `too_few_days` finds nothing any more."""
    began = date.fromisoformat(str(days["level_began_on"]))
    return began + int(str(days["days_min"])) * ONE_DAY


def _direction(
    before: Mean, this: Mean, least_change: float, answers_min: tuple[int, int]
) -> int | None:
    """1 where the mean rose, -1 where it fell, 0 where it did neither; None: too few answers."""
    if before.count < answers_min[0] or this.count < answers_min[1]:
        return None
    rise = this.rise_over(before)
    return int(rise >= least_change) - int(rise <= -least_change)


def _verdict(pain: int | None, minutes: int | None) -> Verdict | None:
    if pain is None:
        return None
    found = {pain, minutes or 0}
    if {1, -1} <= found:
        return Verdict.MIXED
    return Verdict.WORSE if 1 in found else Verdict.BETTER if -1 in found else Verdict.SAME
