"""VISA-A points and their change, heel-raise symmetry.

Points: Robinson 2001, Br J Sports Med 35:335-341; items 1 to 6 from memory, 7 and 8 by way of
public scoring code. Change: Lagas 2021, J Orthop Sports Phys Ther 51(10), abstract.
"""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.errors import HistoryError, ScoreError
from rules.outcomes import (
    TRAINING_SCORES,
    VISA_A_AT_12_WEEKS,
    VISA_A_AT_24_WEEKS,
    ImportantDifference,
    TrainingBranch,
    VisaA,
    heel_raise_symmetry,
    stiffness_points,
    training_points,
    visa_a_change,
)
from rules.quantities import Count, Minutes

NO_PAIN = TrainingBranch.NO_PAIN
GOES_ON = TrainingBranch.PAIN_DOES_NOT_STOP
STOPS = TrainingBranch.PAIN_STOPS


@pytest.mark.parametrize(
    ("stiffness", "items_2_to_6", "sport", "branch", "training", "total"),
    [
        # Calculated from the tables: 60 + 10 + 30.
        pytest.param(0, (10, 10, 10, 10, 10), 10, NO_PAIN, 31, 100, id="all best"),
        # Calculated: 7 + 6 + 7 + 7 + 6 + 5 = 38; 38 + 4 + 10 = 52.
        pytest.param(30, (6, 7, 7, 6, 5), 4, GOES_ON, 15, 52, id="in between"),
        # Calculated: nothing but zeros.
        pytest.param(120, (0, 0, 0, 0, 0), 0, STOPS, 0, 0, id="all worst"),
    ],
)
def test_visa_a_adds_up(
    stiffness: int,
    items_2_to_6: tuple[int, ...],
    sport: int,
    branch: TrainingBranch,
    training: int,
    total: int,
) -> None:
    """The worked totals of the eight items."""
    first = stiffness_points(Minutes(stiffness))
    last = training_points(branch, Minutes(training))

    assert VisaA((first, *items_2_to_6, sport, last)).total == total


@pytest.mark.parametrize(
    ("minutes", "points"),
    [
        pytest.param(0, 10, id="none"),
        pytest.param(4, 10, id="4 rounds to 0"),
        pytest.param(44, 6, id="44 rounds to 40"),
        pytest.param(45, 5, id="45 rounds to 50: half up"),
        pytest.param(94, 1, id="94 rounds to 90"),
        pytest.param(95, 0, id="95 rounds to 100"),
        pytest.param(105, 0, id="over 100 stays 0"),
        pytest.param(1440, 0, id="all day stays 0"),
    ],
)
def test_item_1_rounds_to_whole_tens(minutes: int, points: int) -> None:
    """Minutes are rounded to the nearest ten, half up (convention), and never score under 0."""
    found = stiffness_points(Minutes(minutes))

    assert (found, type(found)) == (points, int)


@pytest.mark.parametrize(
    ("branch", "points"),
    [
        pytest.param(NO_PAIN, (0, 7, 7, 14, 14, 21, 21, 30), id="A: steps of 7, 7, 7 and 9"),
        pytest.param(GOES_ON, (0, 4, 4, 10, 10, 14, 14, 20), id="B: steps of 4, 6, 4 and 6"),
        pytest.param(STOPS, (0, 2, 2, 5, 5, 7, 7, 10), id="C: steps of 2, 3, 2 and 3"),
    ],
)
def test_item_8_follows_its_branch(branch: TrainingBranch, points: tuple[int, ...]) -> None:
    """Each branch has its own uneven steps at nil, 1-10, 11-20, 21-30 and over 30 minutes."""
    edges = (0, 1, 10, 11, 20, 21, 30, 31)

    assert tuple(training_points(branch, Minutes(minutes)) for minutes in edges) == points


BEST = (10, 10, 10, 10, 10, 10, 10, 30)


@pytest.mark.parametrize(
    ("item", "points"),
    [
        pytest.param(6, 11, id="over 10"),
        pytest.param(7, 5, id="item 7 has no 5"),
        pytest.param(8, 28, id="item 8 has no 28: the last step is 9"),
        pytest.param(8, 31, id="over 30"),
        pytest.param(1, True, id="a truth value is not a number"),
    ],
)
def test_points_an_item_does_not_have_are_refused(item: int, points: int) -> None:
    """The message names the item, what it takes and what came."""
    items = [*BEST]
    items[item - 1] = points

    with pytest.raises(ScoreError, match=f"item {item} takes one of .*found {points}"):
        VisaA(tuple(items))


@pytest.mark.parametrize("count", [0, 7, 9])
def test_a_sheet_with_an_item_missing_is_refused(count: int) -> None:
    """A missing item is not a zero."""
    with pytest.raises(ScoreError, match=f"8 items; found {count}"):
        VisaA((*BEST, 0)[:count])


ITEMS = st.tuples(
    *[st.integers(0, 10)] * 6, st.sampled_from([0, 4, 7, 10]), st.sampled_from([*TRAINING_SCORES])
)


@given(ITEMS)
def test_every_sheet_scores_from_0_to_100(items: tuple[int, ...]) -> None:
    """Any possible sheet has a total within the scale."""
    assert 0 <= VisaA(items).total <= 100


@pytest.mark.parametrize(
    ("after", "reaches", "over", "under"),
    [
        pytest.param(52, False, False, True, id="2 points: under the interval"),
        pytest.param(53, False, False, False, id="3 points: at its lower end"),
        pytest.param(63, False, False, False, id="13 points: just under the figure"),
        pytest.param(64, True, False, False, id="14 points: at the figure"),
        pytest.param(68, True, False, False, id="18 points: just under the upper end"),
        pytest.param(69, True, True, False, id="19 points: at the upper end"),
    ],
)
def test_a_change_is_set_beside_the_published_one(
    after: int, reaches: bool, over: bool, under: bool
) -> None:
    """From 50 points, against 14 points with its interval of 3 to 19 (Lagas 2021, 12 weeks)."""
    change = visa_a_change((date(2026, 1, 5), 50), (date(2026, 3, 30), after))

    assert change.points == after - 50
    assert change.days == 84
    assert (change.against.points, change.against.lowest, change.against.highest) == (14, 3, 19)
    assert (change.reaches, change.over_interval, change.under_interval) == (reaches, over, under)


@pytest.mark.parametrize(
    ("figure", "expected"),
    [
        pytest.param(VISA_A_AT_12_WEEKS, (14, 3, 19, 12), id="12 weeks: 14 points, 3 to 19"),
        pytest.param(VISA_A_AT_24_WEEKS, (7, -10, 28, 24), id="24 weeks: 7 points, -10 to 28"),
    ],
)
def test_the_published_figures_are_these(
    figure: ImportantDifference, expected: tuple[int, int, int, int]
) -> None:
    """Points and 95 % interval of the smallest change that matters (Lagas 2021, abstract)."""
    assert (figure.points, figure.lowest, figure.highest, figure.at_weeks) == expected


def test_the_24_week_figure_cannot_be_used_alone() -> None:
    """Its interval, -10 to 28, crosses zero; so the 12-week figure stands for longer spans too."""
    change = visa_a_change((date(2026, 1, 5), 50), (date(2026, 6, 22), 58))

    assert VISA_A_AT_24_WEEKS.crosses_zero
    assert not VISA_A_AT_12_WEEKS.crosses_zero
    assert change.against == VISA_A_AT_12_WEEKS
    assert not change.reaches


@pytest.mark.parametrize(
    ("earlier", "later", "error"),
    [
        pytest.param((1, 101), (2, 50), ScoreError, id="earlier over 100"),
        pytest.param((1, 50), (2, -1), ScoreError, id="later under 0"),
        pytest.param((2, 50), (2, 60), HistoryError, id="same day"),
        pytest.param((3, 50), (2, 60), HistoryError, id="wrong order"),
    ],
)
def test_a_change_that_makes_no_sense_is_refused(
    earlier: tuple[int, int], later: tuple[int, int], error: type[Exception]
) -> None:
    """Totals off the scale and dates out of order are named errors, not a change of 0."""
    with pytest.raises(error, match="found"):
        visa_a_change((date(2026, 1, earlier[0]), earlier[1]), (date(2026, 1, later[0]), later[1]))


@pytest.mark.parametrize(
    ("affected", "other", "percent"),
    [
        # Calculated: 100 x affected / other.
        pytest.param(6, 12, 50.0, id="half"),
        pytest.param(15, 12, 125.0, id="affected side does more"),
        pytest.param(0, 12, 0.0, id="none on the affected side"),
        pytest.param(5, 0, None, id="none on the other side: undefined"),
    ],
)
def test_symmetry_is_a_share_of_the_other_side(
    affected: int, other: int, percent: float | None
) -> None:
    """A share of nothing is None, never infinity."""
    assert heel_raise_symmetry(Count(affected), Count(other)) == percent
