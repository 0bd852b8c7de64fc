"""Invents patients whose tendon grows by being loaded, and hurts where it was too much.

A load-capacity model of a few lines, all of it our own and none of it measured on people: it ranks
rules, and its weeks are worth less than the ranking.
Read next: `course`, which plays a patient through the rules.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum
from math import exp, log
from random import Random

from bot.measuring.answering import (
    ANSWER_RATE,
    DEVIATIONS,
    STIFFNESS_MINUTES_PER_POINT,
    Noise,
)
from rules.protocol import Dose, Position, Protocol
from rules.quantities import Minutes, Pain

STEP = 1.065  # Load of a level's lowest dose over the highest of the level below.
WORK_POWER, BODY_KG = 0.29, 75.0
"""Within a level load goes with sets times amount to this power, so that shipped doses lie about
6.5 percent apart, and with what is added to so heavy a body [kg]."""

CAPACITY, CAPACITY_SPREAD, CAPACITY_LEAST = 1.2, 0.12, 1.0
"""Capacity at first, as a multiple of the load of the place one begins at: median, standard
deviation of its logarithm, least."""
HEALED = 4.0  # Capacity at which pain no longer falls.
PAIN_LEFT = 0.3  # Share of the pain at first that is left then [0-1].

BUILDS_MAX = 1.1  # Load over capacity above which a session builds nothing.
BUILDS_FULLY = 0.9  # From here a session builds all it can, and hurts more.
HARM = 0.15  # Share of the excess that is lost in capacity [0-1].
CAPACITY_KEPT = 0.95  # Harm never takes more: the lowest load can always be done.
IDLE_DAYS, IDLE_LOSS = 4, 0.003  # Days without a session that cost nothing; then a day.

IRRITATES = 0.95  # From here a session irritates.
IRRITATION, SORENESS = 4.0, 3.0  # Points for each unit over, for days and in the session.
IRRITATION_HALVES, OUTSIDE_HALVES = 2, 3  # Half-lives [days].
OUTSIDE_EVERY, OUTSIDE_POINTS = 42, (2.0, 4.0)
"""Something outside the plan: once in so many days on average, and the points it adds."""

BAD_DAY = 1.5  # Irritation from loading that makes a day a bad one [points].


class Speed(Enum):
    """How much a session that is just right adds to capacity [share]."""

    WELL = 0.026
    MIDDLING = 0.016
    SLOW = 0.009


def loads(protocol: Protocol) -> dict[Position, float]:
    """The load of each place, the lowest being 1. Doses closer together are smaller steps."""
    found: dict[Position, float] = {}
    highest = 1 / STEP
    for number, level in enumerate(protocol.levels, start=1):
        lowest = _effort(level.doses[0]) / (highest * STEP)
        for index, dose in enumerate(level.doses, start=1):
            highest = found[Position(number, index)] = _effort(dose) / lowest
    return found


def _effort(dose: Dose) -> float:
    """What a dose asks, against others of its level."""
    return float((dose.sets * dose.amount) ** WORK_POWER * (1 + dose.added_load_kg / BODY_KG))


class RecoveringPatient:
    """One patient. A message is answered whole or not at all; of an evening's, what was missed is
    asked once more next morning."""

    def __init__(
        self,
        speed: Speed,
        outside: bool,
        load_of: Mapping[Position, float],
        level: int,
        dice: Random,
    ) -> None:
        self.usual = int(dice.uniform(1.5, 3.5) + 0.5)
        self.overloads = self.bad_days = 0
        self._dice, self._load_of, self._outside = dice, load_of, outside
        self._noise = Noise(DEVIATIONS, dice)
        at_first = CAPACITY * exp(dice.gauss(0, CAPACITY_SPREAD))
        fits = load_of[Position(level, 1)]
        self._first = self._capacity = fits * max(CAPACITY_LEAST, at_first)
        self._gain = speed.value * exp(dice.gauss(0, 0.15))
        self._irritation = self._flare = self._level = 0.0
        self._woke, self._idle = False, 0

    def wake(self, day: int) -> None:
        """A new day: what irritates fades, something outside may happen, the pain is what it is."""
        if day and self._idle > IDLE_DAYS:
            self._capacity = max(self._first, self._capacity * (1 - IDLE_LOSS))
        self._idle += 1
        self._irritation *= 0.5 ** (1 / IRRITATION_HALVES)
        self._flare *= 0.5 ** (1 / OUTSIDE_HALVES)
        if self._outside and self._dice.random() < 1 / OUTSIDE_EVERY:
            self._flare += self._dice.uniform(*OUTSIDE_POINTS)
        self._noise.next_day()
        grown = log(self._capacity / self._first) / log(max(1.01, HEALED / self._first))
        base = self.usual * (1 - (1 - PAIN_LEFT) * min(1.0, max(0.0, grown)))
        self._level = base + self._irritation + self._flare + self._noise.today
        self.bad_days += self._irritation >= BAD_DAY
        self._woke = self._dice.random() < ANSWER_RATE

    def morning(self) -> tuple[Pain | None, Minutes | None]:
        """First-step pain and stiffness, both or neither."""
        pain, stiff = self._answer(self._woke), self._answer(self._woke)
        minutes = None if stiff is None else Minutes(stiff * STIFFNESS_MINUTES_PER_POINT)
        return pain, minutes

    def follow_up(self) -> Pain | None:
        """Asked with the morning's questions, and answered with them."""
        return self._answer(self._woke)

    def train(self, position: Position) -> tuple[Pain | None, Pain | None] | None:
        """A session at this place, and what it does to the tendon."""
        if self._dice.random() >= ANSWER_RATE:
            return None
        ratio = self._load_of[position] / self._capacity
        told = self._dice.random() < 1 - (1 - ANSWER_RATE) ** 2
        sore = SORENESS * max(0.0, ratio - BUILDS_FULLY)
        answers = self._answer(told, sore), self._answer(told, sore)
        self._idle = 0
        self._irritation += IRRITATION * max(0.0, ratio - IRRITATES)
        if ratio <= BUILDS_MAX:
            self._capacity *= 1 + self._gain * min(1.0, ratio / BUILDS_FULLY)
        else:
            self.overloads += 1
            lost = HARM * min(1.0, ratio - BUILDS_MAX)
            self._capacity = max(CAPACITY_KEPT, self._capacity * (1 - lost))
        return answers

    def _answer(self, told: bool, more: float = 0.0) -> Pain | None:
        value = self._noise.around(self._level + more)
        return Pain(value) if told else None
