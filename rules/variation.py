"""Decides how much daily answers vary, where they are heading, and which stand out.

It is for a clinician and never reaches a patient's advice: that rests on the limits of the
protocol. All of it takes answers to be independent from day to day, which they are not quite, so it
draws attention and proves nothing. Slopes are computed on real dates, never on row numbers: missing
days are not missing at random. Read next: `outcomes`, for what is asked weekly.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import combinations, pairwise
from math import sqrt
from statistics import NormalDist, fmean, median

# Fewer than so many answers are shown as they are, without any statistic. [answers, at least]
# Convention.
READINGS_MIN = 8

# A week of the same answer is not certainty: the usual variation is never put under this. [points]
# Convention.
VARIATION_FLOOR = 0.5

# Answers are whole points: one beside the usual is like any other. [points either side, at least]
# Convention.
BAND_MIN = 1.0

# Mean absolute difference of two independent normal values, in standard deviations: 2 / sqrt(pi).
# Source: nist-handbook, section 6.3.2.2, d2 for two.
MEAN_RANGE_FACTOR = 1.128

# Median of the same: sqrt(2) times 0.67449. Calculated; no source needed, convention to use it.
MEDIAN_RANGE_FACTOR = 0.9539

LIMIT_DEVIATIONS = 3  # Half-width of an individuals chart. Source: nist-handbook, section 6.3.2.2.

CONFIDENCE = 0.95  # Convention: of the interval beside a slope, and of a band. [0-1, open]


@dataclass(frozen=True)
class Reading:
    """One day's answer: pain in points or stiffness in minutes, as the caller means it."""

    on: date
    value: float


@dataclass(frozen=True)
class Slope:
    """A rise (over 0) or fall a day, with its interval [units of the readings a day]."""

    per_day: float
    lowest: float
    highest: float


@dataclass(frozen=True)
class ChartLimits:
    """Centre and limits of an individuals chart [units of the readings].

    `lower` may lie under the scale; on a 0-10 scale it means little, as answers stop at 0.
    """

    centre: float
    lower: float
    upper: float


def usual_variation(readings: Sequence[Reading], floor: float = VARIATION_FLOOR) -> float | None:
    """The usual difference from day to day, as a standard deviation [units of the readings].

    From the median difference between answers one calendar day apart, so that one bad day, a steady
    trend or a gap moves it little; at least `floor` (0.5 points; give one in minutes for
    stiffness). None with fewer than eight answers or no two on following days.
    """
    ranges = _day_to_day(readings)
    if len(readings) < READINGS_MIN or not ranges:
        return None
    return max(floor, median(ranges) / MEDIAN_RANGE_FACTOR)


def usual_band(usual: float, variation: float) -> tuple[float, float]:
    """What 19 of 20 answers of a steady patient lie in [points]: usual, and its usual variation
    either side as often as `CONFIDENCE` asks for, a point at least. May lie off the scale."""
    reach = max(BAND_MIN, NormalDist().inv_cdf((1 + CONFIDENCE) / 2) * variation)
    return usual - reach, usual + reach


def individuals_limits(
    readings: Sequence[Reading], floor: float = VARIATION_FLOOR
) -> ChartLimits | None:
    """Mean of the answers, and three standard deviations either side.

    The deviation comes from the mean difference between following days, at least `floor`: else a
    week of equal answers has limits of no width. None with fewer than eight answers or no two on
    following days. Source: nist-handbook, section 6.3.2.2; the floor is a convention.
    """
    ranges = _day_to_day(readings)
    if len(readings) < READINGS_MIN or not ranges:
        return None
    deviation = max(floor, fmean(ranges) / MEAN_RANGE_FACTOR)
    centre = fmean(reading.value for reading in readings)
    return ChartLimits(
        centre, centre - LIMIT_DEVIATIONS * deviation, centre + LIMIT_DEVIATIONS * deviation
    )


def trend(readings: Sequence[Reading]) -> Slope | None:
    """`slope` of enough answers; None with fewer than eight of them."""
    return slope(readings) if len(readings) >= READINGS_MIN else None


def slope(readings: Sequence[Reading], confidence: float = CONFIDENCE) -> Slope | None:
    """The median of the slopes between all pairs of answers, over real dates.

    Up to about 29 % of wild answers do not move it far. `confidence` of the interval [0-1, ends not
    included]. None with fewer than two dates. Source: sen-1968, slope and its interval.
    """
    pairs = combinations(sorted(readings, key=lambda reading: reading.on), 2)
    slopes = sorted(
        (later.value - earlier.value) / (later.on - earlier.on).days
        for earlier, later in pairs
        if later.on != earlier.on
    )
    if not slopes:
        return None
    # How far the count of rising less falling pairs strays by chance, in pairs; ties take from it.
    variance = (
        _scatter([len(readings)])
        - _scatter(Counter(reading.on for reading in readings).values())
        - _scatter(Counter(reading.value for reading in readings).values())
    )
    strays = NormalDist().inv_cdf((1 + confidence) / 2) * sqrt(max(0.0, variance))
    first = max(0, round((len(slopes) - strays) / 2) - 1)
    last = min(len(slopes) - 1, round((len(slopes) + strays) / 2))
    return Slope(median(slopes), slopes[first], slopes[last])


def _scatter(sizes: Iterable[int]) -> float:
    """Variance of the count of rising less falling pairs among so many. Source: sen-1968, 2.6."""
    return sum(n * (n - 1) * (2 * n + 5) for n in sizes) / 18


def _day_to_day(readings: Sequence[Reading]) -> list[float]:
    """Absolute differences between answers of following calendar days."""
    by_date = sorted(readings, key=lambda reading: reading.on)
    return [
        abs(later.value - earlier.value)
        for earlier, later in pairwise(by_date)
        if (later.on - earlier.on).days == 1
    ]
