"""Counts what the rules do to invented patients: stable weeks with a step back, days until a flare
is answered. Decides nothing.

A truly stable patient needs no step back, so each one is a false alarm of the rules. Read word for
word, the printed rule that nothing may rise from one week to the next fires in 44 to 47 percent of
such weeks, whatever the noise (own simulation, integer answers around 3, no source). That is one
row of the rules here, with its margin of two points; the others add their own alarms.
Read next: `invented`, for who is counted.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import sqrt
from random import Random
from statistics import NormalDist, median, quantiles

from bot.measuring.invented import Flare, PlayedDay, Tendency, play
from rules.protocol import Protocol
from rules.reasons import Action, Reason

MEANS = (1, 2, 3, 4)
"""Mean pain of the invented patients, one group each [points]. Convention."""

DEVIATIONS, CARRIES = (0.8, 1.2), (0.0, 0.4)
"""Ends of what each patient is drawn from, evenly [points; 0-1]. Convention."""

ANSWER_RATE = 0.85
"""Of each question and of each session [0-1]. Convention."""

WEEKS = 12
"""Length of one invented course [weeks]. Convention: what trials commonly last."""

FLARE_POINTS, FLARE_HALF_LIFE_DAYS = 3.0, 7.0
FLARE_FIRST_DAY, FLARE_WATCHED_DAYS = 28, 28
"""The flare: its rise [points], its half-life [days], the earliest day it begins [days from
enrolment, drawn from a week], and how long an answer is waited for [days]. Convention."""

CONFIDENCE = 0.95  # Convention: of the interval beside a share. [0-1, ends not included]

ANSWERING = frozenset(
    {
        Reason.NEXT_DAY_ABOVE_USUAL,
        Reason.MORNING_OVER_LIMIT,
        Reason.SETTLING_AFTER_STEP_BACK,
    }
)
"""Rest days that answer to pain. A day of rest between two sessions does not."""


@dataclass(frozen=True)
class Share:
    """So many of so many, with its interval. Weeks of one patient are not quite independent, so it
    is a little too narrow."""

    count: int
    of: int

    @property
    def value(self) -> float:
        """The share itself [0-1]."""
        return self.count / self.of

    def interval(self) -> tuple[float, float]:
        """Ends of the 95 percent score interval [0-1]. Source: Wilson 1927, JASA 22:209-212."""
        z = NormalDist().inv_cdf((1 + CONFIDENCE) / 2)
        shrunk = 1 + z**2 / self.of
        middle = self.value + z**2 / (2 * self.of)
        half = z * sqrt(self.value * (1 - self.value) / self.of + (z / (2 * self.of)) ** 2)
        return max(0.0, (middle - half) / shrunk), min(1.0, (middle + half) / shrunk)


@dataclass
class StableWeeks:
    """Stable weeks of one group. The counts by reason are of weeks, each reason once a week."""

    mean: int
    weeks: int = 0
    stepped_back: int = 0
    rested: int = 0
    escalated: int = 0
    back_reasons: Counter[str] = field(default_factory=Counter)
    alert_reasons: Counter[str] = field(default_factory=Counter)

    def take(self, week: Sequence[PlayedDay]) -> None:
        """Count one week."""
        backs = {d.advice.reason.value for d in week if d.advice.action is Action.STEP_BACK}
        raised = {alert.key.value for day in week for alert in day.raised}
        self.weeks += 1
        self.stepped_back += bool(backs)
        self.rested += any(day.advice.reason in ANSWERING for day in week)
        self.escalated += bool(raised)
        self.back_reasons.update(backs)
        self.alert_reasons.update(raised)


@dataclass(frozen=True)
class FlareDays:
    """Days from the first day of a flare to the first rest day or step back for it [days, 0 is the
    same day]. `unanswered`: flares with none while it was watched; they enter no percentile."""

    mean: int
    days: tuple[int, ...]
    unanswered: int

    @property
    def median(self) -> float:
        """Half of the answered flares were answered by then [days]."""
        return median(self.days)

    @property
    def nine_in_ten(self) -> float:
        """Nine in ten of the answered flares were answered by then [days]."""
        return quantiles(self.days, n=10, method="inclusive")[-1]


def stable_weeks(protocol: Protocol, mean: int, patients: int, seed: int) -> StableWeeks:
    """What the rules do to so many truly stable patients. The same seed gives the same."""
    found = StableWeeks(mean)
    for dice in _dice(seed, mean, patients):
        days = list(play(_tendency(mean, dice), protocol, WEEKS * 7, dice))
        for first in range(0, len(days), 7):
            found.take(days[first : first + 7])
    return found


def flare_days(protocol: Protocol, mean: int, patients: int, seed: int) -> FlareDays:
    """How soon the rules answer to a flare. The same seed gives the same."""
    days: list[int] = []
    for dice in _dice(seed, mean, patients):
        begins = FLARE_FIRST_DAY + dice.randrange(7)
        flare = Flare(begins, FLARE_POINTS, FLARE_HALF_LIFE_DAYS)
        tendency = _tendency(mean, dice, flare)
        answered = next(
            (
                day.number - begins
                for day in play(tendency, protocol, begins + FLARE_WATCHED_DAYS, dice)
                if day.number >= begins and _answers(day)
            ),
            None,
        )
        if answered is not None:
            days.append(answered)
    return FlareDays(mean, tuple(days), patients - len(days))


def _answers(day: PlayedDay) -> bool:
    return day.advice.action is Action.STEP_BACK or day.advice.reason in ANSWERING


def _dice(seed: int, mean: int, patients: int) -> Iterator[Random]:
    """One source of chance a patient, so that more patients leave the first as they were."""
    for number in range(patients):
        yield Random(f"{seed} {mean} {number}")


def _tendency(mean: int, dice: Random, flare: Flare | None = None) -> Tendency:
    deviation, carry = dice.uniform(*DEVIATIONS), dice.uniform(*CARRIES)
    return Tendency(float(mean), deviation, carry, ANSWER_RATE, flare)
