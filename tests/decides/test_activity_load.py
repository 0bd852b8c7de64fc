"""Effort times minutes, by day and by week. Expected sums are calculated by hand.

Method: Foster 2001, J Strength Cond Res 15:109-115.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from rules.activity_load import session_load, week_load
from rules.history import Activity
from rules.quantities import Effort, Minutes

SUNDAY = date(2026, 3, 8)


def activity(days_ago: int, minutes: int, effort: int | None = 5) -> Activity:
    """An activity so many days before Sunday."""
    rating = None if effort is None else Effort(effort)
    return Activity(SUNDAY - timedelta(days=days_ago), Minutes(minutes), rating)


@pytest.mark.parametrize(
    ("effort", "minutes", "load"),
    [
        pytest.param(4, 60, 240, id="4 x 60"),
        pytest.param(0, 60, 0, id="effort 0 is a load of 0"),
        pytest.param(None, 60, None, id="no effort answered: not known"),
    ],
)
def test_load_is_effort_times_minutes(effort: int | None, minutes: int, load: int | None) -> None:
    """An effort that was not answered gives None, not 0."""
    rating = None if effort is None else Effort(effort)

    assert session_load(rating, Minutes(minutes)) == load


def test_the_worked_week_adds_up() -> None:
    """4x60, rest, 7x45, 3x40, rest, 6x50, 5x90: calculated 240+315+120+300+450 = 1,425."""
    week = (
        activity(6, 60, 4),
        activity(4, 45, 7),
        activity(3, 40, 3),
        activity(1, 50, 6),
        activity(0, 90, 5),
    )

    found = week_load(week, SUNDAY)

    assert found.days == (240, 0, 315, 120, 0, 300, 450)
    assert found.total == 1425
    assert found.unrated == 0


@pytest.mark.parametrize(
    ("days_ago", "total"),
    [
        pytest.param(-1, 0, id="tomorrow: not counted"),
        pytest.param(6, 150, id="six days ago: counted"),
        pytest.param(7, 0, id="seven days ago: not counted"),
    ],
)
def test_a_week_is_seven_days_with_today(days_ago: int, total: int) -> None:
    """The day asked about and the six before it."""
    assert week_load((activity(days_ago, 30),), SUNDAY).total == total


def test_two_activities_of_a_day_add_up_and_unrated_ones_are_counted_apart() -> None:
    """5x30 and 5x20 on one day are 250; one without effort is left out and said so."""
    unrated = (activity(1, 45, None), activity(0, 15, None))

    found = week_load((activity(2, 30), activity(2, 20), *unrated), SUNDAY)

    assert found.days == (0, 0, 0, 0, 250, 0, 0)
    assert found.unrated == 2


def test_a_week_of_rest_is_zero() -> None:
    """No activity at all is a load of 0 on every day."""
    found = week_load((), SUNDAY)

    assert found.days == (0,) * 7
    assert found.total == 0
