"""A share, a mean or a median of many patients, each with its 95 percent interval."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, isfinite, sqrt
from statistics import NormalDist, fmean, median, stdev

Z = NormalDist().inv_cdf(0.975)
"""Half of a 95 percent interval, in standard errors."""


@dataclass(frozen=True)
class Estimate:
    """A value and the ends of its 95 percent interval; infinite: never, within what was watched.

    `percent`: it is a share [0-1], to be told in percent.
    """

    value: float
    low: float
    high: float
    percent: bool = False

    def __str__(self) -> str:
        """As it is read: "1.2 (0.8-1.7)", shares in percent, a dash for never."""
        if not isfinite(self.value):
            return self.brief()
        return f"{self.brief()} ({self._told(self.low)}-{self._told(self.high)})"

    def brief(self) -> str:
        """Without its interval."""
        return self._told(self.value)

    def _told(self, value: float) -> str:
        if not isfinite(value):
            return "-"
        number = 100 * value if self.percent else value
        return f"{number:.1f}" if number < 10 else f"{number:.0f}"


def share(counts: Sequence[int], totals: Sequence[int]) -> Estimate:
    """The share of what was counted, each patient giving so many of so many.

    Weeks of one patient are alike, and so the interval widens by what they are more alike than
    chance would have it. Sources: Wilson 1927, JASA 22:209-212, the score interval; Kish 1965,
    Survey Sampling, the design effect of clusters.
    """
    count, of = sum(counts), sum(totals)
    value = count / of
    likeness = 1.0
    if len(counts) > 1 and 0 < count < of:
        off = sum((n - value * t) ** 2 for n, t in zip(counts, totals, strict=True))
        by_chance = of * value * (1 - value)
        likeness = max(1.0, off * len(counts) / (len(counts) - 1) / by_chance)
    worth = of / likeness
    middle = value + Z**2 / (2 * worth)
    half = Z * sqrt(value * (1 - value) / worth + (Z / (2 * worth)) ** 2)
    shrunk = 1 + Z**2 / worth
    low, high = (middle - half) / shrunk, (middle + half) / shrunk
    return Estimate(value, max(0.0, low), min(1.0, high), percent=True)


def mean(values: Sequence[float]) -> Estimate:
    """The mean of one number a patient."""
    middle = fmean(values)
    half = Z * stdev(values) / sqrt(len(values)) if len(values) > 1 else inf
    return Estimate(middle, max(0.0, middle - half), middle + half)


def middle(values: Sequence[float]) -> Estimate:
    """The median of one number a patient, infinite where it never came.

    The ends are those of the sign test. Source: Conover 1999, Practical Nonparametric
    Statistics, the interval of a quantile by ranks.
    """
    ranked = sorted(values)
    half = Z * sqrt(len(ranked)) / 2
    first = max(0, round(len(ranked) / 2 - half) - 1)
    last = min(len(ranked) - 1, round(len(ranked) / 2 + half))
    return Estimate(median(ranked), ranked[first], ranked[last])
