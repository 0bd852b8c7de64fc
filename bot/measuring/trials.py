"""The groups of invented patients that a protocol is tried on, and what one patient's days come to.

A trial plays its patient of a number; the same seed and number give the same patient under any
protocol, so that two protocols meet the same people.
Read next: `tables`, which sums patients up.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from random import Random
from typing import Any

from bot.measuring.answering import StablePatient, Tendency, Trouble
from bot.measuring.course import PlayedDay, Slower, Start, play
from bot.measuring.recovering import RecoveringPatient, Speed, loads
from rules.alerts import AlertKey
from rules.protocol import PAIN_CEILING, Protocol

WEEKS = 12
"""Length of a stable patient's course [weeks]. Convention: what trials commonly last."""

MEANS = (1, 2, 3, 4)
"""Mean pain of the stable patients, one group each [points]."""

START_LEVELS = (1, 3)
"""Levels a recovering patient begins at; who begins higher has a tendon for it."""

SOON_DAYS = {Trouble.OUTSIDE_FLARE: 2, Trouble.FLARE_FROM_SESSION: 2, Trouble.DRIFT: 28}
"""How soon trouble should be met [days]."""

WATCHED_DAYS = 11
"""How long after its beginning an answer to a flare is waited for [days]. Convention."""

DRIFT_DAYS = 70
"""How long a drift is watched [days]. Convention."""


@dataclass(frozen=True)
class StableTrial:
    """Truly stable patients: whatever takes load from them is a false alarm.

    `limit`: the pain limit that the clinician has set for them [points]; None: the protocol's.
    """

    world: str
    is_: Tendency
    limit: int | None = None

    def one(self, protocol: Protocol, seed: int, number: int) -> Counter[str]:
        """Weeks of one patient, and those with each thing in them; reasons as "step back: ..."."""
        dice = Random(f"{seed} {self} {number}")
        start = Start(limit=self.limit)
        days = list(play(StablePatient(self.is_, dice), protocol, WEEKS * 7, start))
        found: Counter[str] = Counter()
        for first in range(0, len(days), 7):
            found.update({"weeks", *_seen(days[first : first + 7])})
        return found


@dataclass(frozen=True)
class TroubleTrial:
    """Patients who were stable until a flare or a drift begins."""

    is_: Tendency

    def one(self, protocol: Protocol, seed: int, number: int) -> float | None:
        """Days until it is answered; infinite where it is not, None where it never began."""
        dice = Random(f"{seed} {self} {number}")
        patient = StablePatient(self.is_, dice)
        drifts = self.is_.trouble is Trouble.DRIFT
        # A flare from a session is first told on the day after.
        late = int(self.is_.trouble is Trouble.FLARE_FROM_SESSION)
        watched = DRIFT_DAYS if drifts else WATCHED_DAYS
        if self.is_.trouble is Trouble.OUTSIDE_FLARE:
            watched = min(watched, patient.lasts + 1)
        for day in play(patient, protocol, 120, notices=drifts):
            if patient.began is None or day.number < patient.began + late:
                continue
            since = day.number - patient.began - late
            if since >= watched:
                return float("inf")
            if day.answers_to_pain if not drifts else day.advice.steps_down or day.raised:
                return float(since)
        return None


@dataclass(frozen=True)
class Climbed:
    """One recovering patient's course.

    `reached`: day on which each level was first stood at, by its number. `steps`: how often load
    was taken away, by action; `overloads`: sessions far over capacity; `bad_days`: days with much
    irritation from loading [count each].
    """

    reached: dict[int, int]
    top: int | None
    overloads: int
    bad_days: int
    steps: Counter[str] = field(default_factory=Counter)


@dataclass(frozen=True)
class ClimbTrial:
    """Recovering patients, who begin at a level that fits them."""

    speed: Speed
    level: int
    outside: bool
    weeks: int = 52
    slower: Slower = Slower.NEVER

    def told(self) -> str:
        """Who they are, in a few words."""
        life = "flares" if self.outside else "quiet"
        speed = self.slower or self.speed.name.lower()
        return f"level {self.level}, {life}, {speed}"

    def one(self, protocol: Protocol, seed: int, number: int) -> Climbed:
        """The course of one patient."""
        # The same patients, whatever their clinician does.
        dice = Random(f"{seed} {replace(self, slower=Slower.NEVER)} {number}")
        load_of = loads(protocol)
        top = max(load_of)
        patient = RecoveringPatient(self.speed, self.outside, load_of, self.level, dice)
        reached: dict[int, int] = {}
        steps: Counter[str] = Counter()
        at_top = None
        start = Start(self.level, self.slower)
        for day in play(patient, protocol, self.weeks * 7, start, notices=False):
            place = day.advice.position
            reached.setdefault(place.level, day.number)
            if place == top and at_top is None:
                at_top = day.number
            if day.advice.steps_down:
                steps[day.advice.action.value] += 1
        return Climbed(reached, at_top, patient.overloads, patient.bad_days, steps)


def _seen(week: list[PlayedDay]) -> Iterator[str]:
    """What a stable week had in it."""
    for day in week:
        if day.advice.steps_down:
            yield day.advice.action.value
            yield f"{day.advice.action.value}: {day.advice.reason.value}"
        if day.rests_for_pain:
            yield "rest day"
        if day.costs_a_session:
            yield "session lost"
        if day.advice.steps_down or day.costs_a_session:
            yield "false alarm"
        for alert in day.raised:
            at_limit = alert.key is AlertKey.USUAL_AT_LIMIT
            yield "notice at limit" if at_limit else "notice"
            yield f"notice: {alert.key.value}"


Trial = StableTrial | TroubleTrial | ClimbTrial

WORLDS: dict[str, Callable[[int], Tendency]] = {
    "as assumed": Tendency,
    "24 and 48 h answers a point higher": lambda mean: Tendency(mean, later=1.0),
    "SD 1.2 to 1.6": lambda mean: Tendency(mean, deviations=(1.2, 1.6)),
}
"""Stable patients, and the same where an assumption is wrong, by mean pain."""

AT_CEILING = StableTrial(
    f"limit {PAIN_CEILING}, set by the clinician", Tendency(MEANS[-1]), PAIN_CEILING
)
"""Those who live at the shipped limit, once a clinician who was told has set the highest."""

TROUBLES = (
    (Trouble.OUTSIDE_FLARE, 3.0),
    (Trouble.FLARE_FROM_SESSION, 3.0),
    (Trouble.DRIFT, 0.5),
)
"""Trouble and its points; a week, for a drift."""

TASK_PATIENTS = 5  # Few enough that the last one does not keep everybody waiting.


@dataclass(frozen=True)
class Sizes:
    """Patients of each mean in each trial, and recovering patients of each kind [count], and how
    long these are followed [weeks]."""

    patients: int
    climbers: int
    weeks: int = 52


@dataclass(frozen=True)
class Task:
    """Some patients of a trial under a protocol: from number `first` up to, without, `end`."""

    trial: Trial
    protocol: Protocol
    seed: int
    first: int
    end: int


def trials(levels: int, weeks: int) -> Iterator[Trial]:
    """All trials of a protocol with so many levels; recovering patients for so many weeks."""
    for world, tendency in WORLDS.items():
        yield from (StableTrial(world, tendency(mean)) for mean in MEANS)
    yield AT_CEILING
    for trouble, points in TROUBLES:
        yield from (TroubleTrial(Tendency(mean, trouble, points)) for mean in MEANS)
    for outside in (True, False):
        for level in START_LEVELS:
            if level <= levels:
                yield from (ClimbTrial(speed, level, outside, weeks) for speed in Speed)
                slowed = (Slower.FROM_START, Slower.WHEN_TOLD)
                yield from (ClimbTrial(Speed.SLOW, level, outside, weeks, one) for one in slowed)


def tasks(protocols: Sequence[Protocol], sizes: Sizes, seed: int) -> Iterator[Task]:
    """All that is to be played, in portions."""
    for trial in trials(min(len(one.levels) for one in protocols), sizes.weeks):
        many = sizes.climbers if isinstance(trial, ClimbTrial) else sizes.patients
        for protocol in protocols:
            for first in range(0, many, TASK_PATIENTS):
                yield Task(trial, protocol, seed, first, min(many, first + TASK_PATIENTS))


def played(task: Task) -> list[Any]:
    """What these patients came to, one after the other."""
    numbers = range(task.first, task.end)
    return [task.trial.one(task.protocol, task.seed, number) for number in numbers]
