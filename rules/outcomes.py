"""Decides what the four-weekly and weekly measures come to: VISA-A points, their change, symmetry.

It holds the scoring and no item wording: that belongs to its publisher. It never judges whether a
treatment works; it sets a change beside the published figure, interval and all, for the clinician.
Read next: `variation`, for what daily answers come to.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from rules.errors import HistoryError, ScoreError
from rules.quantities import Count, Minutes

# Points of one of items 1 to 6. [points, both ends included] Source: robinson-2001, from memory.
ITEM_POINTS_MAX = 10

# Item 1 loses a point per ten minutes. [minutes] Source: robinson-2001, from memory.
STIFFNESS_STEP_MINUTES = 10

# Item 7, four categories. [points]
# Source: robinson-2001, by way of public scoring code; the paper's own table was not read.
SPORT_POINTS = (0, 4, 7, 10)

# Item 8, the last minute of each time band but the longest: nil, 1-10, 11-20, 21-30, over 30.
# [minutes, included] Source: robinson-2001, by way of public scoring code.
TRAINING_BANDS_MINUTES = (0, 10, 20, 30)


class TrainingBranch(StrEnum):
    """Which part of item 8 is filled in: what pain does to training. Exactly one."""

    NO_PAIN = "no pain"
    PAIN_DOES_NOT_STOP = "pain does not stop training"
    PAIN_STOPS = "pain stops training"


# Item 8, points of the five time bands in each branch. The steps are not even: 7, 7, 7, 9 and
# 4, 6, 4, 6 and 2, 3, 2, 3. The form for the kneecap tendon has other bands: never share this.
# [points] Source: robinson-2001, by way of public scoring code; the paper's table was not read.
TRAINING_POINTS = {
    TrainingBranch.NO_PAIN: (0, 7, 14, 21, 30),
    TrainingBranch.PAIN_DOES_NOT_STOP: (0, 4, 10, 14, 20),
    TrainingBranch.PAIN_STOPS: (0, 2, 5, 7, 10),
}

TRAINING_SCORES = frozenset(points for bands in TRAINING_POINTS.values() for points in bands)


def allowed_points(number: int) -> frozenset[int]:
    """The points that an item of VISA-A can have [points]. `number`: of the item [1-8].

    Source: robinson-2001; items 7 and 8 by way of public scoring code.
    """
    if number == 7:
        return frozenset(SPORT_POINTS)
    if number == 8:
        return TRAINING_SCORES
    return frozenset(range(ITEM_POINTS_MAX + 1))


@dataclass(frozen=True)
class VisaA:
    """The points of the eight items, as read off the sheet [points; total 0-100, 100 no problem].

    Items 1 to 6: 0-10. Item 7: 0, 4, 7 or 10. Item 8: a value of `TRAINING_POINTS`.
    Raises ScoreError for any other. A sedentary person can lose 40 points in items 7 and 8 for
    reasons that are not the tendon's. Source: robinson-2001, items and total.
    """

    items: tuple[int, ...]

    def __post_init__(self) -> None:
        if len(self.items) != 8:
            raise ScoreError(f"VISA-A has 8 items; found {len(self.items)}")
        for number, points in enumerate(self.items, start=1):
            allowed = allowed_points(number)
            if isinstance(points, bool) or points not in allowed:
                listed = ", ".join(str(value) for value in sorted(allowed))
                raise ScoreError(f"VISA-A item {number} takes one of {listed}; found {points!r}")

    @property
    def total(self) -> int:
        """The sum of the items [points, 0-100]."""
        return sum(self.items)


@dataclass(frozen=True)
class ImportantDifference:
    """A published smallest change that matters to patients, with its 95 % interval [points]."""

    points: int
    lowest: int
    highest: int
    at_weeks: int

    @property
    def crosses_zero(self) -> bool:
        """Whether the interval holds 0: then the figure cannot be used alone."""
        return self.lowest <= 0 <= self.highest


# Mid-portion, 12 weeks: 14 points (95 % CI 3 to 19; sensitivity 57 %, specificity 88 %).
# Source: lagas-2021, abstract.
VISA_A_AT_12_WEEKS = ImportantDifference(points=14, lowest=3, highest=19, at_weeks=12)

# Mid-portion, 24 weeks: 7 points (95 % CI -10 to 28). The interval crosses zero, so no change is
# called important by it; it is here to be printed. Source: lagas-2021, abstract.
VISA_A_AT_24_WEEKS = ImportantDifference(points=7, lowest=-10, highest=28, at_weeks=24)


@dataclass(frozen=True)
class ScoreChange:
    """A change of VISA-A beside the published figure it is read against.

    `points`: later minus earlier; over 0 is better [points, -100 to 100]. `days` between the two.
    `reaches`: at least the published figure. `over_interval`: at least the upper end of its
    interval, so that it matters whatever the true figure is; `under_interval`: under the lower end.
    """

    points: int
    days: int
    against: ImportantDifference

    @property
    def reaches(self) -> bool:
        """At least the published figure."""
        return self.points >= self.against.points

    @property
    def over_interval(self) -> bool:
        """At least the upper end of the interval."""
        return self.points >= self.against.highest

    @property
    def under_interval(self) -> bool:
        """Under the lower end of the interval."""
        return self.points < self.against.lowest


def stiffness_points(minutes: Minutes) -> int:
    """Item 1 from the minutes of stiffness on getting up [points, 0-10].

    The sheet has whole tens: minutes are rounded to the nearest ten, half up (convention: 45 counts
    as 50). 100 and over give 0. Keep the minutes as well.
    Source: robinson-2001, item 1, from memory.
    """
    tens = (minutes + STIFFNESS_STEP_MINUTES // 2) // STIFFNESS_STEP_MINUTES
    return max(0, ITEM_POINTS_MAX - tens)


def training_points(branch: TrainingBranch, minutes: Minutes) -> int:
    """Item 8 from its branch and the minutes trained [points, 0-30].

    Source: robinson-2001, item 8, by way of public scoring code.
    """
    band = sum(minutes > last for last in TRAINING_BANDS_MINUTES)
    return TRAINING_POINTS[branch][band]


def visa_a_change(earlier: tuple[date, int], later: tuple[date, int]) -> ScoreChange:
    """The change between two dated totals, beside the 12-week figure.

    The 12-week figure stands for any span: the 24-week one crosses zero (convention).
    Raises ScoreError for a total outside 0-100, HistoryError where the dates are not in order.
    Source: lagas-2021, abstract.
    """
    (earlier_on, before), (later_on, after) = earlier, later
    for total in (before, after):
        if not 0 <= total <= 100:
            raise ScoreError(f"VISA-A takes 0 to 100 points; found {total!r}")
    if later_on <= earlier_on:
        raise HistoryError(
            f"expected the later score after the earlier; found {earlier_on} and {later_on}"
        )
    return ScoreChange(after - before, (later_on - earlier_on).days, VISA_A_AT_12_WEEKS)


def heel_raise_symmetry(affected: Count, other: Count) -> float | None:
    """Single-leg heel raises of the affected side as a share of the other [percent, 0 and over].

    Over 100 where the affected side does more. None where the other side does none: a share of
    nothing is undefined. Common practice, no source.
    """
    return None if other == 0 else 100 * affected / other
