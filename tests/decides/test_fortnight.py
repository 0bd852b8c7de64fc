"""The last 14 days against the 14 before and enrolment: worked examples, and an outside mean."""

from __future__ import annotations

from dataclasses import replace
from random import Random
from statistics import fmean
from typing import Any

import pytest
from decides.building import LADDER, TODAY, day, ready_history
from scipy.stats import norm

from rules.fortnight import Load, fortnight
from rules.history import History, LoadingStop, Morning, Move, MovedBy, Pause, Session, Tier
from rules.protocol import Position
from rules.quantities import Minutes, Pain
from rules.usual import usual_stiffness
from rules.variation import usual_band
from rules.weeks import Verdict

# A change counts from 1 point or 20 minutes, a span from 7 answers; the limit is 4: weeks_pain_rise
# creep_minutes, weeks_reference_answers_min, pain_limit of the shipped protocols. TODAY is day 30:
# this span is days 17 to 30, the one before days 3 to 16.


def mornings(first: int, pains: list[int | None], minutes: int | None = 10) -> tuple[Morning, ...]:
    """Following mornings from a day on; None: that morning was not answered."""
    asked = enumerate(pains)
    return tuple(
        Morning(day(first + n))
        if pain is None
        else Morning(day(first + n), Pain(pain), None if minutes is None else Minutes(minutes))
        for n, pain in asked
    )


def lived(*spans: tuple[Morning, ...], **changes: Any) -> History:
    """A patient enrolled with pain 4 and 30 minutes of stiffness, with these mornings alone."""
    told = tuple(one for span in spans for one in span)
    moves = (Move(day(0), Position(2, 1), MovedBy.ENROLMENT),)
    given = {"moves": moves, "usual_pain": Pain(4), "usual_stiffness": Minutes(30), "sessions": ()}
    return replace(ready_history(), enrolled_on=day(0), mornings=told, **{**given, **changes})


def done(*places: tuple[int, int, int]) -> tuple[Session, ...]:
    """Sessions by day, level and dose."""
    return tuple(Session(day(on), Position(level, dose)) for on, level, dose in places)


@pytest.mark.parametrize(
    ("before", "this", "change", "since"),
    [
        pytest.param([3] * 14, [2] * 14, "better", "better", id="a point less"),
        pytest.param([2] * 14, [3] * 14, "worse", "better", id="a point more, still under the 4"),
        pytest.param([3] * 14, [3] * 13 + [2], "the same", "better", id="less than a point"),
        pytest.param([4] * 14, [4] * 14, "the same", "the same", id="nothing changed"),
        pytest.param(
            [2] * 14, [6] * 4 + [2] * 10, "worse", "the same", id="four bad mornings show"
        ),
        pytest.param([2] * 6, [3] * 14, None, "better", id="six answers before"),
        pytest.param([2] * 7, [3] * 14, "worse", "better", id="seven answers before"),
        pytest.param([2] * 14, [3] * 6 + [None] * 8, None, None, id="six answers now"),
    ],
)
def test_symptoms_are_compared_by_their_means(
    before: list[int | None], this: list[int | None], change: str | None, since: str | None
) -> None:
    """Each side of the limits; the stiffness of 10 minutes stays out of it, 20 under the 30."""
    history = lived(mornings(3, before, 11), mornings(17, this, 11))

    found = fortnight(history, LADDER, TODAY)

    assert (found.change, found.since_enrolment) == (change, since)


@pytest.mark.parametrize(
    ("pain", "minutes", "change"),
    [
        pytest.param(3, 29, Verdict.SAME, id="19 minutes more"),
        pytest.param(3, 30, Verdict.WORSE, id="20 minutes more"),
        pytest.param(2, 30, Verdict.MIXED, id="less pain, stiff for longer"),
        pytest.param(2, None, Verdict.BETTER, id="stiffness not answered"),
    ],
)
def test_stiffness_counts_where_it_was_answered(
    pain: int, minutes: int | None, change: Verdict
) -> None:
    """Against 14 mornings of 3 points and 10 minutes."""
    history = lived(mornings(3, [3] * 14), mornings(17, [pain] * 14, minutes))

    assert fortnight(history, LADDER, TODAY).change is change


def test_means_and_counts_are_those_of_the_answers_in_the_span() -> None:
    """By the standard library's mean over 60 made-up courses with gaps; the days about them out."""
    chance = Random(14)
    for _ in range(60):
        pains = [chance.choice((None, *range(11))) for _ in range(31)]
        found = fortnight(lived(mornings(0, pains)), LADDER, TODAY)

        for span, part in ((found.before, pains[3:17]), (found.this, pains[17:31])):
            answered = [one for one in part if one is not None]
            assert span.pain.count == len(answered)
            assert not answered or span.pain.value == pytest.approx(fmean(answered))
        assert found.over_limit == sum(one is not None and one > 4 for one in pains[17:31])
        assert (found.at_enrolment.pain.value, found.at_enrolment.stiffness.value) == (4, 30)


@pytest.mark.parametrize(
    ("sessions", "load"),
    [
        pytest.param([(16, 1, 1), (17, 1, 2)], Load.UP, id="a dose more"),
        pytest.param([(16, 2, 1), (17, 1, 2)], Load.DOWN, id="a level less"),
        pytest.param([(16, 1, 1), (17, 1, 1)], Load.LEVEL, id="the same place"),
        pytest.param([(17, 1, 1), (20, 2, 1)], Load.UP, id="in the first span by its beginning"),
        pytest.param([(3, 1, 1), (16, 1, 1), (17, 1, 1)], Load.LEVEL, id="half as many"),
        pytest.param(
            [(3, 1, 1), (5, 1, 1), (7, 1, 1), (17, 1, 1)], Load.DOWN, id="fewer than half"
        ),
        pytest.param([(16, 1, 1)], Load.STOPPED, id="none in 14 days"),
        pytest.param([], None, id="none ever"),
    ],
)
def test_load_goes_by_the_place_and_then_by_how_much_was_done(
    sessions: list[tuple[int, int, int]], load: Load | None
) -> None:
    """What was done, not what was advised."""
    assert fortnight(lived(sessions=done(*sessions)), LADDER, TODAY).load is load


@pytest.mark.parametrize(
    "stop",
    [
        {"loading_stops": (LoadingStop("calf-swelling", Tier.SAME_DAY, TODAY),)},
        {"pauses": (Pause(day(29)),)},
    ],
)
def test_load_is_stopped_while_a_sign_or_a_pause_stands(stop: dict[str, Any]) -> None:
    """However high the last session was."""
    history = lived(sessions=done((16, 1, 1), (29, 2, 1)), **stop)

    found = fortnight(history, LADDER, TODAY)

    assert (found.load, found.place, found.sessions) == (Load.STOPPED, Position(2, 1), 1)


def test_load_goes_down_with_a_plan_set_lower_since_the_last_session() -> None:
    """The last session was higher than those before, and the step down came after it."""
    moves = (
        Move(day(0), Position(2, 1), MovedBy.ENROLMENT),
        Move(day(30), Position(1, 2), MovedBy.RULES, step_back=True),
    )
    history = lived(sessions=done((16, 1, 2), (29, 2, 1)), moves=moves)

    assert fortnight(history, LADDER, TODAY).load is Load.DOWN


def test_the_band_holds_nineteen_of_twenty_answers_of_a_steady_patient() -> None:
    """By the interval of a normal distribution in SciPy."""
    low, high = norm.interval(0.95, loc=3.0, scale=0.8)

    assert usual_band(3.0, 0.8) == pytest.approx((low, high))
    assert usual_band(3.0, 0.5) == (2.0, 4.0)  # a point at least, where it would be 0.98


@pytest.mark.parametrize(("answers", "usual"), [(4, 30.0), (5, 12.0)])
def test_usual_stiffness_is_the_median_of_enough_answers(answers: int, usual: float) -> None:
    """Else the value of the enrolment, as for the pain."""
    told = mornings(26, [2] * answers, 12)

    assert usual_stiffness(lived(told), LADDER, TODAY) == usual
