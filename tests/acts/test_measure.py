"""`nextmorning measure`: who is invented, what is counted, what is printed."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from itertools import pairwise
from random import Random
from statistics import fmean, pstdev

import pytest
from acts.typing_commands import Ended, typed
from scipy.stats import binomtest

from bot.measuring.invented import (
    FIRST_DAY,
    Answers,
    Flare,
    PlayedDay,
    Tendency,
    levels,
    play,
)
from bot.measuring.shares import Share, StableWeeks, flare_days, stable_weeks
from rules.protocol import Position
from rules.protocol_reader import shipped_protocol
from rules.reasons import Action, Advice, Finding, Reason

MID = shipped_protocol("mid-portion-ladder")
STILL = Tendency(mean=2.0, deviation=0.0, carry=0.0, answer_rate=1.0)

Command = Callable[..., Ended]


@pytest.fixture
def nextmorning(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Command:
    """The command line, typed."""
    return lambda *words: typed(monkeypatch, capsys, *words)


def advised(number: int, action: Action, reason: Reason) -> PlayedDay:
    """A day on which this was advised, and nobody was told anything."""
    here = Position(1, 1)
    on = date.fromordinal(FIRST_DAY.toordinal() + number)
    return PlayedDay(number, Advice(on, Finding(action, reason, {}), (), here, here), ())


def test_a_patient_without_noise_only_climbs() -> None:
    """Who answers the same every day is never stepped back and never rested for pain."""
    days = list(play(STILL, MID, 84, Random(1)))

    actions = {day.advice.action for day in days}
    assert actions == {Action.ADVANCE, Action.HOLD, Action.REST_DAY}
    assert {day.advice.reason for day in days if day.advice.action is Action.REST_DAY} == {
        Reason.STILL_RECOVERING
    }
    assert not any(day.raised for day in days)
    assert all(day.advice.position >= before.advice.position for before, day in pairwise(days))


def test_a_flare_without_noise_is_answered_at_once() -> None:
    """A rise of three points over a usual of two is met on the morning it begins, or the next."""
    flaring = replace(STILL, flare=Flare(day=28, points=3.0, half_life_days=7.0))

    days = list(play(flaring, MID, 35, Random(1)))

    backs = [day.number for day in days if day.advice.action is Action.STEP_BACK]
    assert backs[0] in (28, 29)


@pytest.mark.parametrize(
    ("deviation", "carry"),
    [pytest.param(0.8, 0.0, id="least noise"), pytest.param(1.2, 0.4, id="most noise")],
)
def test_answers_vary_as_they_are_said_to(deviation: float, carry: float) -> None:
    """The mornings of a stable patient have the mean, deviation and correlation assumed."""
    # Whole numbers add a variance of a twelfth; what carries over is the day's share, 0.75 of it.
    tendency = Tendency(5.0, deviation, carry, 1.0)
    dice = Random(7)
    pains = [int(Answers(tendency, one, dice).pain() or 0) for one in levels(tendency, 9000, dice)]

    mean, spread = fmean(pains), pstdev(pains)
    together = fmean((a - mean) * (b - mean) for a, b in pairwise(pains)) / spread**2
    expected = (deviation**2 + 1 / 12) ** 0.5
    assert mean == pytest.approx(5.0, abs=0.06)
    assert spread == pytest.approx(expected, rel=0.04)
    assert together == pytest.approx(carry * 0.75 * deviation**2 / expected**2, abs=0.04)


def test_a_week_counts_once_whatever_happens_in_it() -> None:
    """Two step backs in a week are one week, and a rest day between sessions is none."""
    found = StableWeeks(2)

    found.take(
        [
            advised(0, Action.STEP_BACK, Reason.NEXT_DAY_OVER_LIMIT),
            advised(1, Action.REST_DAY, Reason.STILL_RECOVERING),
            advised(2, Action.STEP_BACK, Reason.NEXT_DAY_OVER_LIMIT),
        ]
    )
    found.take([advised(7, Action.REST_DAY, Reason.NEXT_DAY_ABOVE_USUAL)])

    assert (found.weeks, found.stepped_back, found.rested, found.escalated) == (2, 1, 1, 0)
    assert found.back_reasons == {"next-day-over-limit": 1}


@pytest.mark.parametrize(
    ("count", "of"), [(0, 10), (1, 10), (5, 10), (10, 10), (3, 1200), (600, 1200), (1199, 1200)]
)
def test_the_interval_is_the_reference_librarys(count: int, of: int) -> None:
    """The score interval of SciPy 1.17, as a reference outside the program."""
    expected = binomtest(count, of).proportion_ci(0.95, method="wilson")

    assert Share(count, of).interval() == pytest.approx((expected.low, expected.high), abs=1e-12)


def test_the_same_seed_gives_the_same_and_another_something_else() -> None:
    """Chance comes from the seed alone."""
    first, again = stable_weeks(MID, 3, 2, 1), stable_weeks(MID, 3, 2, 1)
    other = stable_weeks(MID, 3, 2, 2)

    assert first == again
    assert first != other


def test_every_flare_is_counted() -> None:
    """Flares that were answered and those that were not are all that there were."""
    found = flare_days(MID, 2, 4, 1)

    assert len(found.days) + found.unanswered == 4
    assert min(found.days) >= 0


def test_the_command_says_what_it_assumes_before_any_number(nextmorning: Command) -> None:
    """The assumptions, the stable weeks and the flares stand there, in a hundred columns."""
    ended = nextmorning("measure", "--patients", "2", "--seed", "3")

    assert ended.status == 0
    told = ["Invented patients, 2 in each group", "Stable patients", "By reason", "A flare of 3"]
    places = [ended.out.index(one) for one in told]
    assert places == sorted(places)
    assert max(len(line) for line in ended.out.splitlines()) <= 104


def test_a_protocol_that_is_not_there_is_refused(nextmorning: Command) -> None:
    """Exit status 2 and a sentence with what was expected."""
    ended = nextmorning("measure", "--protocol", "no-such")

    assert ended.status == 2
    assert "found 'no-such'" in ended.err


def test_a_script_reads_the_same_numbers_as_json(nextmorning: Command) -> None:
    """--json prints one object and nothing else, no bar among it."""
    ended = nextmorning("measure", "--patients", "2", "--seed", "3", "--json")

    told = json.loads(ended.out)
    assert [group["mean"] for group in told["stable"]] == [1, 2, 3, 4]
    assert [group["weeks"] for group in told["stable"]] == [24] * 4
    assert all(len(group["days"]) + group["unanswered"] == 2 for group in told["flares"])
