"""What is known of one patient's tendon, as frozen values. Nothing here decides.

A session is known by its local date: one a day. All dates are the patient's local dates.
Read next: `usual`, which sums a history up, and `advice`, which decides on it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from itertools import pairwise

from rules.errors import HistoryError
from rules.protocol import Position, Tendon
from rules.quantities import Count, Effort, Minutes, Pain


class Tier(StrEnum):
    """How soon a person must look. Order of urgency: `Tier.urgency`, 0 is the most urgent."""

    EMERGENCY = "emergency"
    SAME_DAY = "same day"
    NEXT_WORKING_DAY = "next working day"

    @property
    def urgency(self) -> int:
        """Rank for sorting [0 most urgent]."""
        return list(Tier).index(self)


@dataclass(frozen=True)
class Morning:
    """One morning's answers. None: not answered."""

    on: date
    first_step_pain: Pain | None = None
    stiffness: Minutes | None = None


@dataclass(frozen=True)
class Session:
    """One loading session and what the tendon answered. None: not answered, or not yet asked.

    `pain_24h`, `pain_48h`: worst tendon pain since, asked one and two local days after.
    """

    on: date
    position: Position
    sets_done: Count | None = None
    sets_prescribed: Count | None = None
    pain_during: Pain | None = None
    pain_after: Pain | None = None
    pain_24h: Pain | None = None
    pain_48h: Pain | None = None
    effort: Effort | None = None
    painkiller: bool | None = None


@dataclass(frozen=True)
class Activity:
    """Other activity of a day on the legs: walk, run, sport [minutes; effort 0-10]."""

    on: date
    minutes: Minutes
    effort: Effort | None = None


@dataclass(frozen=True)
class HeelRaises:
    """Weekly count of single-leg heel raises on the worse side [count].

    `other`: on the other side [count]; None where it was not told, or both sides are sore. No rule
    reads it: it is for the report alone.
    """

    on: date
    count: Count
    other: Count | None = None


@dataclass(frozen=True)
class Ability:
    """What a patient says they can do when they enrol. None: not answered, or no longer asked.

    `on_both`: ten heel raises on both feet; `on_one`: one on the sore side alone; `in_a_row`: how
    many of these [count].
    """

    on: date
    on_both: bool | None = None
    on_one: bool | None = None
    in_a_row: Count | None = None

    @property
    def is_whole(self) -> bool:
        """Whether nothing is left to ask."""
        return self.on_both is False or self.on_one is False or self.in_a_row is not None


class MovedBy(StrEnum):
    """Who moved the patient on the ladder."""

    ENROLMENT = "enrolment"
    RULES = "rules"
    CLINICIAN = "clinician"


@dataclass(frozen=True)
class Move:
    """A change of position on the ladder, in force from `on`.

    `step_back`: a whole level down by the rules; `do_less`: a dose down by the rules. `reason`: the
    code of the reason for either.
    `session_on`: the session whose answers led to it, where one did. A session leads to one
    step down at most. On a clinician's move: the session that the clinician has seen, so that the
    rules leave alone what it told before the day of the move.
    A step down is always recorded as a move, even where the position stays the same (at the lowest
    dose of the first level): else the same session would be answered for again every day.
    """

    on: date
    position: Position
    by: MovedBy
    step_back: bool = False
    session_on: date | None = None
    do_less: bool = False
    reason: str | None = None

    @property
    def down(self) -> bool:
        """Whether the rules stepped down here, by a dose or by a level."""
        return self.step_back or self.do_less


@dataclass(frozen=True)
class Pause:
    """Loading paused by clinician or patient from `on` to `until` (last day, included).

    `until` None: until someone ends it. `asks`: the patient is asked all the same, being ill.
    """

    on: date
    until: date | None = None
    asks: bool = False


class Says(StrEnum):
    """What a clinician may say about one day, whatever the rules say."""

    REST = "rest"
    GO_ON = "go on"


@dataclass(frozen=True)
class DayWord:
    """A clinician's word about one day, and no other; the last one said about a day counts.

    `by`: the clinician's name, as the patient knows them.
    """

    on: date
    says: Says
    by: str


@dataclass(frozen=True)
class LoadingStop:
    """Something that stops loading, from the day it was raised until `loads_from`.

    `loads_from`: the first day on which it stops nothing; None while no clinician has said so.
    `looked_at`: a clinician has closed it, so what waits is no longer a look at it.
    """

    sign: str
    tier: Tier
    raised_on: date
    loads_from: date | None = None
    looked_at: bool = False


@dataclass(frozen=True)
class History:
    """All that the rules may know. Tuples are sorted by date, oldest first; one entry a date.

    `moves` is never empty: the first is the enrolment. They stand in the order they were made, and
    so do `day_words`.
    `slower`: the clinician has lengthened the days between raises for this patient.
    `rest_days`: dates on which the rules advised rest or stop, so that they do not count as
    sessions missed.
    """

    tendon: Tendon
    enrolled_on: date
    usual_pain: Pain
    usual_stiffness: Minutes
    moves: tuple[Move, ...]
    mornings: tuple[Morning, ...] = ()
    sessions: tuple[Session, ...] = ()
    activities: tuple[Activity, ...] = ()
    heel_raises: tuple[HeelRaises, ...] = ()
    rest_days: tuple[date, ...] = ()
    pauses: tuple[Pause, ...] = ()
    loading_stops: tuple[LoadingStop, ...] = ()
    hops_allowed: bool = False
    visa_a: tuple[tuple[date, int], ...] = ()
    pain_limit: Pain | None = None
    day_words: tuple[DayWord, ...] = ()
    slower: bool = False
    ability: Ability | None = None

    def __post_init__(self) -> None:
        """Raise HistoryError where nothing sound could be decided on this history."""
        if not self.moves:
            raise HistoryError("a history has at least one move, the enrolment; found none")
        for name in ("mornings", "sessions"):
            _check_sorted(name, [entry.on for entry in getattr(self, name)], once=True)
        for name in ("activities", "heel_raises"):
            _check_sorted(name, [entry.on for entry in getattr(self, name)], once=False)
        _check_sorted("rest_days", list(self.rest_days), once=False)
        _check_sorted("visa_a", [on for on, _score in self.visa_a], once=False)

    @property
    def position(self) -> Position:
        """Where the patient stands on the ladder now."""
        return self.moves[-1].position


def _check_sorted(name: str, dates: list[date], *, once: bool) -> None:
    """Raise HistoryError unless the dates rise, or with `once` False do not fall."""
    for earlier, later in pairwise(dates):
        if later < earlier or (once and later == earlier):
            raise HistoryError(
                f"{name} are sorted by date, oldest first{', one a date' if once else ''};"
                f" found {later} after {earlier}"
            )
