"""Invents patients whose pain has a mean: stable ones, and those with a flare or a slow drift.

The mean is that of first-step pain; pain during, after, 24 and 48 hours after a session lie around
the same. No published figure for the daily variation of Achilles pain was found, so all of it is
convention, and whoever reads the tables must be told so.
Read next: `recovering`, for patients whose pain comes from load; `course`, which plays both.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from random import Random
from typing import Protocol as Shape

from rules.protocol import Position
from rules.quantities import Minutes, Pain

DEVIATIONS, CARRIES = (0.8, 1.2), (0.0, 0.4)
"""Standard deviation of one answer [points] and correlation of a day with the day before [0-1]:
the ends of what each patient is drawn from, evenly. Convention."""

DAY_SHARE = 0.75
"""Share of the variance that all answers of a day have together [0-1]. Convention."""

ANSWER_RATE = 0.85
"""Of each question, and of each session that is done [0-1]. Convention."""

STIFFNESS_MINUTES_PER_POINT = 5
"""Morning stiffness that goes with a point of pain [minutes]. Convention."""

TROUBLE_DAY, TROUBLE_DAYS = 28, 7
"""The earliest day on which a flare or a drift begins, and out of how many one is drawn for a flare
[days from enrolment]. Convention: by then usual pain is known."""

FLARE_LASTS = (3, 10)  # A flare from outside [days]. Convention.
FLARE_HALVES = (2, 5)  # A flare from a session is halved in so many [days]. Convention.


class Patient(Shape):
    """What `course.play` asks of an invented patient. Days are counted from 0, in their order."""

    usual: int

    def wake(self, day: int) -> None:
        """A new day begins."""

    def morning(self) -> tuple[Pain | None, Minutes | None]:
        """First-step pain and stiffness. None: not answered."""

    def follow_up(self) -> Pain | None:
        """The 24 or 48 hour answer that falls due today. None: not answered."""

    def train(self, position: Position) -> tuple[Pain | None, Pain | None] | None:
        """Pain during and after the session, as answered; None where it is not done."""


class Trouble(StrEnum):
    """What happens to a patient who was stable until then."""

    NONE = "none"
    OUTSIDE_FLARE = "flare"
    FLARE_FROM_SESSION = "flare from a session"
    DRIFT = "drift"


@dataclass(frozen=True)
class Tendency:
    """How a group of patients answers: around `mean` [points].

    `points`: what the trouble adds [points; a week, for a drift]. `later`: how far 24 and 48 hour
    answers lie above first-step pain [points].
    """

    mean: int
    trouble: Trouble = Trouble.NONE
    points: float = 0.0
    later: float = 0.0
    deviations: tuple[float, float] = DEVIATIONS


class Noise:
    """The noise of one patient's answers: a day's own, which carries over, and each answer's."""

    def __init__(self, deviations: tuple[float, float], dice: Random) -> None:
        self._dice = dice
        deviation, self._carry = dice.uniform(*deviations), dice.uniform(*CARRIES)
        self._day_spread = deviation * DAY_SHARE**0.5
        self._spread = deviation * (1 - DAY_SHARE) ** 0.5
        self.today = dice.gauss(0, self._day_spread)

    def next_day(self) -> None:
        """Draw a new day's noise: what carries over of the last, and fresh."""
        fresh = self._dice.gauss(0, self._day_spread * (1 - self._carry**2) ** 0.5)
        self.today = self._carry * self.today + fresh

    def around(self, level: float) -> int:
        """A whole number near the level [points, 0-10]."""
        return min(10, max(0, int(self._dice.gauss(level, self._spread) + 0.5)))


class StablePatient:
    """A patient of one `Tendency`: every question is answered or not by itself."""

    def __init__(self, tendency: Tendency, dice: Random) -> None:
        self.usual = tendency.mean
        self.began: int | None = None  # The day on which the trouble began; None: not yet.
        self._is, self._dice, self._day = tendency, dice, 0
        self._noise = Noise(tendency.deviations, dice)
        outside = tendency.trouble is Trouble.OUTSIDE_FLARE
        self._onset = TROUBLE_DAY + (dice.randrange(TROUBLE_DAYS) if outside else 0)
        self.lasts = dice.randint(*(FLARE_LASTS if outside else FLARE_HALVES))

    def wake(self, day: int) -> None:
        """A new day begins, and with it perhaps the trouble."""
        if day:
            self._noise.next_day()
        self._day = day
        if self._is.trouble in (Trouble.OUTSIDE_FLARE, Trouble.DRIFT) and day == self._onset:
            self.began = day

    def morning(self) -> tuple[Pain | None, Minutes | None]:
        """First-step pain and stiffness, the latter in fives."""
        pain, stiff = self._answer(), self._answer()
        minutes = None if stiff is None else Minutes(stiff * STIFFNESS_MINUTES_PER_POINT)
        return pain, minutes

    def follow_up(self) -> Pain | None:
        """Worst pain since the session."""
        return self._answer(self._is.later)

    def train(self, _position: Position) -> tuple[Pain | None, Pain | None] | None:
        """The session hurts as the day does; where it is the one too much, by so much more."""
        if self._dice.random() >= ANSWER_RATE:
            return None
        more = 0.0
        flares = self._is.trouble is Trouble.FLARE_FROM_SESSION and self.began is None
        if flares and self._day >= self._onset:
            self.began, more = self._day, self._is.points
        return self._answer(more), self._answer(more)

    def _answer(self, more: float = 0.0) -> Pain | None:
        value = self._noise.around(self._is.mean + self._noise.today + self._troubled() + more)
        return Pain(value) if self._dice.random() < ANSWER_RATE else None

    def _troubled(self) -> float:
        """What the trouble adds today [points]."""
        if self.began is None:
            return 0.0
        since = self._day - self.began
        if self._is.trouble is Trouble.DRIFT:
            return self._is.points * since / 7
        if self._is.trouble is Trouble.OUTSIDE_FLARE:
            return self._is.points if since < self.lasts else 0.0
        # The evening of the session itself is told by the session's own answers.
        return self._is.points * 0.5 ** (since / self.lasts) if since else 0.0
