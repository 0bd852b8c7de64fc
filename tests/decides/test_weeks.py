"""The week against the one four weeks ago, and what opens the next level."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from decides.building import LADDER, TODAY, day, ready_history

from rules.history import HeelRaises, History, Morning, Move, MovedBy
from rules.protocol import Position
from rules.quantities import Count, Minutes, Pain
from rules.weeks import Opens, Verdict, compare_weeks, what_opens

# The change of a week's mean that counts: 1 point, 20 minutes, from 4 answers, over 28 days
# (weeks_pain_rise, creep_minutes, week_answers_min, creep_days of the shipped protocols).


def week(ends_on: date, pain: int, minutes: int, answers: int = 7) -> tuple[Morning, ...]:
    """A week of equal mornings, so many of them answered."""
    days = [ends_on - timedelta(days=ago) for ago in reversed(range(7))]
    given = [Morning(on, Pain(pain), Minutes(minutes)) for on in days[:answers]]
    return (*given, *(Morning(on) for on in days[answers:]))


def told(before: tuple[Morning, ...], this: tuple[Morning, ...]) -> History:
    """A history of these two weeks alone."""
    return replace(ready_history(), enrolled_on=day(-60), mornings=(*before, *this))


@pytest.mark.parametrize(
    ("before", "this", "verdict"),
    [
        pytest.param((4, 30), (3, 30), Verdict.BETTER, id="a point less"),
        pytest.param((3, 30), (4, 30), Verdict.WORSE, id="a point more"),
        pytest.param((3, 30), (3, 11), Verdict.SAME, id="19 minutes less"),
        pytest.param((3, 30), (3, 10), Verdict.BETTER, id="20 minutes less"),
        pytest.param((3, 10), (3, 30), Verdict.WORSE, id="20 minutes more"),
        pytest.param((4, 10), (3, 30), Verdict.MIXED, id="less pain, stiff for longer"),
        pytest.param((3, 10), (3, 10), Verdict.SAME, id="no change"),
    ],
)
def test_a_week_is_better_the_same_or_worse_by_its_means(
    before: tuple[int, int], this: tuple[int, int], verdict: Verdict
) -> None:
    """On each side of each limit."""
    history = told(week(TODAY - timedelta(days=28), *before), week(TODAY, *this))

    assert compare_weeks(history, LADDER, TODAY).verdict is verdict


@pytest.mark.parametrize(("answers", "known"), [(3, False), (4, True)])
def test_a_week_of_too_few_answers_is_not_compared(answers: int, known: bool) -> None:
    """Either way about."""
    old, new = TODAY - timedelta(days=28), TODAY
    few_then = told(week(old, 3, 10, answers), week(new, 3, 10))
    few_now = told(week(old, 3, 10), week(new, 3, 10, answers))

    for history in (few_then, few_now):
        assert (compare_weeks(history, LADDER, TODAY).verdict is not None) is known


@pytest.mark.parametrize(
    ("days", "since_start", "known"),
    [(12, False, False), (13, True, True), (33, True, True), (34, False, True)],
)
def test_the_first_weeks_are_held_against_the_first_of_all(
    days: int, since_start: bool, known: bool
) -> None:
    """Once it is over: days since enrolment."""
    mornings = tuple(
        Morning(TODAY - timedelta(days=ago), Pain(3), Minutes(10)) for ago in range(days, -1, -1)
    )
    began = TODAY - timedelta(days=days)
    history = replace(ready_history(), enrolled_on=began, mornings=mornings)

    found = compare_weeks(history, LADDER, TODAY)

    assert found.since_start is since_start
    assert (found.verdict is not None) is known


def standing(level: int, dose: int, since: int = 0, raises: int | None = None) -> History:
    """A patient who came to a place on a day, with a count of heel raises or none."""
    move = Move(day(since), Position(level, dose), MovedBy.CLINICIAN)
    counts = () if raises is None else (HeelRaises(day(since), Count(raises)),)
    return replace(ready_history(), moves=(move,), heel_raises=counts)


LAST = LADDER.levels[1].doses[-1]


@pytest.mark.parametrize(
    ("history", "expected"),
    [
        pytest.param(standing(2, 1, 20), Opens(3, LAST, None, None, False), id="doses are left"),
        pytest.param(standing(2, 3, 20, 9), Opens(3, None, day(41), 10, False), id="days, raises"),
        pytest.param(standing(2, 3, 9, 10), Opens(3, None, None, None, False), id="calm"),
        pytest.param(standing(3, 2), Opens(4, None, None, None, True), id="hops"),
        pytest.param(standing(5, 1), None, id="the top level"),
    ],
)
def test_what_stands_before_the_next_level(history: History, expected: Opens | None) -> None:
    """The rest of the doses; then days and raises; the gate at any time; nothing at the top."""
    assert what_opens(history, LADDER, TODAY) == expected
