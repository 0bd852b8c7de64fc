"""Usual variation, slope and chart limits against printed and calculated values.

"Calculated" means with SciPy 1.17 or by hand, as the row shows.
"""

from __future__ import annotations

from datetime import date, timedelta
from math import isfinite

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import theilslopes

from rules.variation import Reading, individuals_limits, slope, trend, usual_variation

START = date(2026, 3, 1)


def daily(*values: float) -> list[Reading]:
    """Readings on following days."""
    return [Reading(START + timedelta(days=day), value) for day, value in enumerate(values)]


def dated(days: list[int], values: list[float]) -> list[Reading]:
    """Readings on the days numbered."""
    return [
        Reading(START + timedelta(days=day), value) for day, value in zip(days, values, strict=True)
    ]


SEN = dated([1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78])
FALLING = daily(5, 5, 4, 5, 4, 4, 3, 4, 3, 3, 2, 3, 2, 2)
STABLE = daily(3, 2, 3, 4, 3, 2, 3, 3, 2, 4, 3, 3, 2, 3)
FLOW = daily(49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)
CONCENTRATION = daily(
    *(102.0, 94.8, 98.3, 98.4, 102.0, 98.5, 99.0, 97.7, 100.0, 98.1),
    *(101.3, 98.7, 101.1, 98.4, 97.0, 96.7, 100.3, 101.4, 97.2, 101.0),
)


@pytest.mark.parametrize(
    ("readings", "confidence", "expected"),
    [
        # Sen 1968, JASA 63:1379-1389, worked example, by way of SciPy's own test: 4, 93 % interval
        # 26/7 to 35/8.
        pytest.param(SEN, 0.93, (4.0, 3.714, 4.375), id="Sen's example, days apart"),
        # Calculated with SciPy 1.17.
        pytest.param(FALLING, 0.95, (-0.25, -0.333, -0.167), id="a tendon that gets better"),
    ],
)
def test_slope_is_the_printed_one(
    readings: list[Reading], confidence: float, expected: tuple[float, float, float]
) -> None:
    """The median slope over real dates, with its interval."""
    found = slope(readings, confidence)

    assert found is not None
    assert (found.per_day, found.lowest, found.highest) == pytest.approx(expected, abs=0.0005)


def test_a_slope_comes_with_a_95_percent_interval() -> None:
    """Calculated with SciPy 1.17: at 94 % the first end is -0.3, at 96 % the second is -0.083."""
    falling, stable = slope(FALLING), slope(STABLE)

    surer = slope(FALLING, 0.94)

    assert falling is not None
    assert falling.lowest == pytest.approx(-1 / 3)
    assert surer is not None
    assert surer.lowest == pytest.approx(-0.3)
    assert stable is not None
    assert stable.lowest == 0


def test_slope_uses_dates_and_not_rows() -> None:
    """One point a day for four days, then a gap of ten: still one point a day (by hand)."""
    found = slope(dated([0, 1, 2, 3, 14, 15, 16, 17], [0, 1, 2, 3, 14, 15, 16, 17]))

    assert found is not None
    assert found.per_day == 1.0


def test_one_wild_answer_hardly_moves_the_slope() -> None:
    """A single 10 in the falling fortnight leaves the slope where it was, to a tenth."""
    wild = [*FALLING[:7], Reading(FALLING[7].on, 10), *FALLING[8:]]

    found = slope(wild)

    assert found is not None
    assert found.per_day == pytest.approx(-0.25, abs=0.1)


@pytest.mark.parametrize(
    ("readings", "expected"),
    [
        # NIST/SEMATECH e-Handbook 6.3.2.2, flow rates; data from memory, arithmetic rechecked.
        pytest.param(FLOW, (50.81, 45.8159, 55.8041), id="handbook example"),
        # Montgomery and Runger, table 16-8, data; limits calculated (mean range 2.5895).
        pytest.param(CONCENTRATION, (99.095, 92.208, 105.982), id="textbook data"),
        # Calculated: mean 40/14, mean range 12/13.
        pytest.param(STABLE, (2.857, 0.402, 5.312), id="a stable tendon"),
        # By hand: deviation at the floor 0.5, so 3 less and more 1.5.
        pytest.param(daily(*[3] * 8), (3.0, 1.5, 4.5), id="equal answers: limits keep a width"),
    ],
)
def test_chart_limits_are_the_printed_ones(
    readings: list[Reading], expected: tuple[float, float, float]
) -> None:
    """Mean and three deviations either side, from the mean difference between days."""
    found = individuals_limits(readings)

    assert found is not None
    assert (found.centre, found.lower, found.upper) == pytest.approx(expected, abs=0.0005)


@pytest.mark.parametrize(
    ("readings", "expected"),
    [
        pytest.param(daily(*[3] * 8), 0.5, id="equal answers: the floor"),
        # By hand: differences 1,1,1,1,1,1,0,1,2,1,0,1,1; median 1; 1 / 0.9539.
        pytest.param(STABLE, 1.0483, id="a stable tendon"),
        # By hand: differences all 1.
        # By hand: differences 0,0,7,7,0,0,0; median 0: the floor.
        pytest.param(daily(3, 3, 3, 10, 3, 3, 3, 3), 0.5, id="one bad day adds nothing"),
        # By hand: differences 2, seven times; 2 / 0.9539.
        pytest.param(daily(1, 3, 1, 3, 1, 3, 1, 3), 2.0967, id="up and down by 2"),
        # By hand: only 0-1, 2-3, 4-5, 6-7 are following days, differences 1.
        pytest.param(
            dated([0, 1, 5, 6, 10, 11, 15, 16], [0, 1, 5, 6, 0, 1, 5, 6]),
            1.0483,
            id="over a gap nothing is compared",
        ),
    ],
)
def test_usual_variation_is_robust_with_a_floor(readings: list[Reading], expected: float) -> None:
    """The usual difference between following days as a deviation, never under half a point."""
    assert usual_variation(readings) == pytest.approx(expected, abs=0.0001)


def test_the_floor_is_in_the_readings_unit() -> None:
    """For stiffness the floor is handed in, in minutes."""
    stiffness = daily(*[15] * 8)

    limits = individuals_limits(stiffness, floor=5.0)

    assert usual_variation(stiffness, floor=5.0) == 5.0
    assert limits is not None
    assert (limits.lower, limits.upper) == (0.0, 30.0)


@pytest.mark.parametrize(
    ("count", "known"),
    [
        pytest.param(7, False, id="seven answers: too few"),
        pytest.param(8, True, id="eight answers: enough"),
    ],
)
def test_under_eight_answers_there_is_no_statistic(count: int, known: bool) -> None:
    """With fewer the numbers are shown as they are (convention)."""
    readings = STABLE[:count]

    assert (usual_variation(readings) is not None) is known
    assert (individuals_limits(readings) is not None) is known
    assert (trend(readings) is not None) is known


def test_answers_never_on_following_days_have_no_variation() -> None:
    """Every other day only: the difference from day to day is not known."""
    readings = dated([*range(0, 20, 2)], [3.0] * 10)

    assert usual_variation(readings) is None
    assert individuals_limits(readings) is None


@pytest.mark.parametrize(
    "readings",
    [
        pytest.param([], id="nothing"),
        pytest.param([*daily(3), *daily(5)], id="two answers of one date"),
    ],
)
def test_a_slope_needs_two_dates(readings: list[Reading]) -> None:
    """An undefined slope is None, never infinity."""
    assert slope(readings) is None


POINTS = st.integers(0, 10)


@given(st.dictionaries(st.integers(0, 60), POINTS, max_size=30))
def test_nothing_is_ever_infinite(answers: dict[int, int]) -> None:
    """Any answers on any days give finite numbers or None, in the right order."""
    readings = dated([*answers], [float(value) for value in answers.values()])

    found, limits, usual = slope(readings), individuals_limits(readings), usual_variation(readings)

    if found is not None:
        assert isfinite(found.lowest)
        assert isfinite(found.highest)
        assert found.lowest <= found.per_day <= found.highest
    if limits is not None:
        assert 0 <= limits.centre <= 10
        assert limits.upper - limits.lower >= 3.0 - 1e-9  # the floor, but for rounding
    assert usual is None or usual >= 0.5


@given(st.lists(POINTS, min_size=8, max_size=30))
def test_the_order_of_answers_does_not_matter(values: list[int]) -> None:
    """Readings carry their dates: handed in in any order they give the same."""
    readings = daily(*values)
    mixed = [*reversed(readings)]

    assert individuals_limits(mixed) == individuals_limits(readings)
    assert usual_variation(mixed) == usual_variation(readings)
    assert slope(mixed) == slope(readings)


@given(
    st.dictionaries(st.integers(0, 60), POINTS, min_size=2, max_size=40),
    st.sampled_from([0.5, 0.8, 0.95, 0.99]),
)
def test_slope_and_interval_are_the_reference_librarys(
    answers: dict[int, int], confidence: float
) -> None:
    """Slope and both ends are those of SciPy 1.17, with ties among the answers."""
    days, values = [*answers], [float(value) for value in answers.values()]

    found = slope(dated(days, values), confidence)
    expected = theilslopes(values, days, confidence)

    ends = (expected.slope, expected.low_slope, expected.high_slope)
    assert found is not None
    assert (found.per_day, found.lowest, found.highest) == pytest.approx(ends, abs=1e-12)
