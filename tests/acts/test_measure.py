"""`nextmorning measure`: who is invented, how they are played, what is counted and printed."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from math import inf
from pathlib import Path
from random import Random
from statistics import fmean, pstdev

import pytest
from acts.typing_commands import Ended, typed
from scipy.stats import binomtest, quantile_test, sem, t

from bot.measuring.answering import DAY_SHARE, Noise, StablePatient, Tendency, Trouble
from bot.measuring.course import PlayedDay, Start, play
from bot.measuring.estimates import mean, middle, share
from bot.measuring.recovering import RecoveringPatient, Speed, loads
from bot.measuring.tables import landmarks, measured
from bot.measuring.trials import ClimbTrial, Sizes, StableTrial, TroubleTrial, played, tasks
from rules.protocol import Position
from rules.protocol_reader import shipped_protocol
from rules.reasons import Action, Advice, Reason

MID = shipped_protocol("mid-portion-ladder")

Command = Callable[..., Ended]


@pytest.fixture
def nextmorning(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Command:
    """The command line, typed."""
    return lambda *words: typed(monkeypatch, capsys, *words)


class Still:
    """A patient without noise: pain is 2, and from `flare_from` on 5; every answer comes."""

    usual = 2

    def __init__(self, flare_from: int = 999) -> None:
        self.flare_from, self.pain = flare_from, 2
        self.today, self.asked = 0, list[int]()

    def wake(self, day: int) -> None:
        self.today = day
        self.pain = 5 if day >= self.flare_from else 2

    def morning(self) -> tuple[int, int]:
        return self.pain, 10

    def follow_up(self) -> int:
        self.asked.append(self.today)
        return self.pain

    def train(self, _position: Position) -> tuple[int, int]:
        return self.pain, self.pain


class TooMuchOnce(Still):
    """Hurts 7 in the first session at level 4."""

    hurt_on: int | None = None

    def train(self, position: Position) -> tuple[int, int]:
        if position.level < 4 or self.hurt_on is not None:
            return self.pain, self.pain
        self.hurt_on = self.today
        return 7, self.pain


def days_of(patient: object, days: int, level: int = 1) -> list[PlayedDay]:
    """The days of a patient on the shipped mid-portion ladder."""
    return list(play(patient, MID, days, Start(level)))  # type: ignore[arg-type]


def test_a_patient_without_noise_only_climbs() -> None:
    """Who answers the same every day is never stepped back and never rested for pain."""
    days = days_of(Still(), 84)

    assert {day.advice.action for day in days} == {Action.ADVANCE, Action.HOLD, Action.REST_DAY}
    assert not any(day.answers_to_pain or day.costs_a_session or day.raised for day in days)
    assert all(day.advice.position >= before.advice.position for before, day in pairwise(days))


def test_the_next_day_is_asked_about_where_the_bot_asks() -> None:
    """Sessions on every other day from the first: after the first one, and the first of a dose."""
    patient = Still()

    days = days_of(patient, 12)

    trained = [day.number for day in days if day.advice.session_today]
    raised = [day.number for day in days if day.advice.action is Action.ADVANCE]
    assert (trained, raised) == ([0, 2, 4, 6, 8, 10], [2, 10])
    assert patient.asked == [1, 2, 3, 4, 6, 8, 10, 11]


def test_a_flare_without_noise_is_answered_at_once() -> None:
    """A rise of three points over a usual of two is met on the morning it begins, or the next."""
    days = days_of(Still(flare_from=28), 32)

    assert min(day.number for day in days if day.answers_to_pain) in (28, 29)


def test_a_level_left_upwards_before_asks_a_week_on_return() -> None:
    """Down from level 4 to the top of level 3, whose 21 days do not begin anew: seven are asked.

    As the session hurt, the next raise waits for twice the days between raises, and a session day.
    """
    patient = TooMuchOnce()
    days = days_of(patient, 50, 3)

    down = next(day.number for day in days if day.advice.action is Action.STEP_BACK)
    few = [day.number for day in days if Reason.TOO_FEW_DAYS in reasons_of(day.advice)]
    back = next(day for day in days[down:] if day.advice.action is Action.ADVANCE)
    assert down == (patient.hurt_on or 0) + 1
    assert (max(few) - down, back.number - down) == (6, 15)
    assert back.advice.position == Position(4, 1)


def reasons_of(advice: Advice) -> list[Reason]:
    """All reasons that apply."""
    return [advice.reason, *(finding.reason for finding in advice.also)]


@pytest.mark.parametrize(
    ("deviation", "carry"), [(0.8, 0.4), (1.2, 0.0)], ids=["least, alike", "most, apart"]
)
def test_answers_vary_as_they_are_said_to(
    deviation: float, carry: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Mean, deviation, correlation from day to day and within a day are those assumed."""
    monkeypatch.setattr("bot.measuring.answering.CARRIES", (carry, carry))
    noise = Noise((deviation, deviation), Random(7))
    days: list[tuple[int, int]] = []
    for _ in range(9000):
        noise.next_day()
        days.append((noise.around(5 + noise.today), noise.around(5 + noise.today)))

    pains, others = zip(*days, strict=True)
    middle_, spread = fmean(pains), pstdev(pains)
    covers = [
        fmean((a - middle_) * (b - middle_) for a, b in pairs) for pairs in (days, pairwise(pains))
    ]
    # Whole numbers add a variance of a twelfth.
    assert (middle_, fmean(others)) == pytest.approx((5.0, 5.0), abs=0.06)
    assert spread == pytest.approx((deviation**2 + 1 / 12) ** 0.5, rel=0.04)
    shared = DAY_SHARE * deviation**2
    assert covers == pytest.approx([shared, carry * shared], abs=0.05)


@pytest.mark.parametrize(
    ("tendency", "day", "expected"),
    [
        pytest.param(Tendency(2, Trouble.OUTSIDE_FLARE, 3.0), 36, 5.0, id="a flare lasts"),
        pytest.param(Tendency(2, Trouble.DRIFT, 0.5), 28 + 28, 4.0, id="a drift goes on"),
        pytest.param(Tendency(2, later=1.0), 30, 3.0, id="later answers lie higher"),
    ],
)
def test_trouble_adds_what_it_says(tendency: Tendency, day: int, expected: float) -> None:
    """The mean over many patients of one day's answers, by hand."""
    found = []
    for number in range(1500):
        patient = StablePatient(tendency, Random(f"{number}"))
        if tendency.trouble is Trouble.OUTSIDE_FLARE and (day == 36) != (patient.lasts == 10):
            continue
        for one in range(day + 1):
            patient.wake(one)
        answer = patient.follow_up()
        found += [] if answer is None else [int(answer)]

    assert fmean(found) == pytest.approx(expected, abs=0.15)


def test_a_session_that_is_too_much_hurts_and_goes_on_hurting() -> None:
    """Three points more in the session, and two to three on the next day, as halved in 2 to 5."""
    during, after_it = [], []
    for number in range(1500):
        patient = StablePatient(Tendency(2, Trouble.FLARE_FROM_SESSION, 3.0), Random(f"{number}"))
        patient.wake(28)
        answers = patient.train(Position(1, 1))
        if answers is None or answers[0] is None:
            continue
        during.append(int(answers[0]))
        patient.wake(29)
        pain = patient.morning()[0]
        after_it += [] if pain is None else [int(pain)]

    assert fmean(during) == pytest.approx(5.0, abs=0.1)
    assert fmean(after_it) == pytest.approx(
        2 + 3 * fmean(0.5 ** (1 / n) for n in (2, 3, 4, 5)), abs=0.1
    )


@pytest.mark.parametrize(
    ("place", "overloads", "hurts"),
    [
        pytest.param(Position(1, 1), False, False, id="within capacity: it builds"),
        pytest.param(Position(9, 2), True, True, id="far over: harm, and a sore tendon"),
    ],
)
def test_a_tendon_answers_to_its_load(place: Position, overloads: bool, hurts: bool) -> None:
    """A year of the lowest load never harms; the highest does from the first session."""
    patient = RecoveringPatient(Speed.SLOW, False, loads(MID), 1, Random(3))
    for day in range(60):
        patient.wake(day)
        if day % 2:
            patient.train(place)

    assert (patient.overloads > 20) is overloads
    assert (patient.bad_days > 30) is hurts


def test_the_ladder_of_loads_rises_by_about_the_same_at_each_place() -> None:
    """26 places about 6.5 percent apart, from 1 to 4.9; a dose between two halves the step."""
    found = loads(MID)
    holds = MID.levels[0]
    between = replace(holds, doses=(holds.doses[0], replace(holds.doses[0], amount=45)))
    closer = loads(replace(MID, levels=(between, *MID.levels[1:])))

    steps = [after / before for before, after in pairwise(found.values())]
    assert len(found) == 26
    assert (min(steps), max(steps)) == pytest.approx((1.054, 1.087), abs=0.001)
    assert found[Position(9, 2)] == pytest.approx(1.065**25, rel=0.03)
    assert closer[Position(1, 2)] == pytest.approx(1.035, abs=0.001)


@pytest.mark.parametrize(
    ("count", "of"), [(0, 10), (1, 10), (5, 10), (10, 10), (3, 1200), (600, 1200), (1199, 1200)]
)
def test_a_share_has_the_reference_librarys_interval(count: int, of: int) -> None:
    """The score interval of SciPy 1.17, where patients are one apiece."""
    expected = binomtest(count, of).proportion_ci(0.95, method="wilson")
    found = share([1] * count + [0] * (of - count), [1] * of)

    ends = (expected.low, expected.high)
    # n / (n - 1): a sample's variance between patients.
    assert (found.low, found.high) == pytest.approx(ends, abs=0.02 if of < 100 else 3e-4)
    assert share([count], [of]).low == pytest.approx(expected.low, abs=1e-12)


def test_patients_who_are_unlike_widen_the_interval() -> None:
    """Half of them always and half never is as good as one week of each."""
    alike = share([6] * 40, [12] * 40)
    unlike = share([12, 0] * 20, [12] * 40)

    assert unlike.value == alike.value == 0.5
    assert unlike.high - unlike.low == pytest.approx(12**0.5 * (alike.high - alike.low), rel=0.05)


def test_a_mean_and_a_median_have_the_reference_librarys_interval() -> None:
    """SciPy 1.17: the t interval, wider by little, and the quantile test's."""
    values = [float(n * n % 101) for n in range(1, 100)]
    found, half = mean(values), middle(values)

    assert (found.low, found.high) == pytest.approx(
        t.interval(0.95, 98, fmean(values), sem(values)), rel=0.03
    )
    ends = quantile_test(values, q=0, p=0.5).confidence_interval(0.95)
    assert (half.low, half.high) == pytest.approx((ends.low, ends.high), abs=3)


def test_who_never_comes_there_counts_in_the_median() -> None:
    """Two of three never reach it: told as a dash."""
    assert str(middle([5.0, inf, inf])) == "-"
    assert middle([5.0, 6.0, inf]).value == 6.0


@pytest.mark.parametrize(
    "trial",
    [
        StableTrial("as assumed", Tendency(3)),
        TroubleTrial(Tendency(2, Trouble.DRIFT, 0.5)),
        ClimbTrial(Speed.WELL, 3, True, weeks=12),
    ],
    ids=lambda trial: type(trial).__name__,
)
def test_the_same_seed_gives_the_same_and_another_something_else(
    trial: StableTrial | TroubleTrial | ClimbTrial,
) -> None:
    """Chance comes from the seed and the patient's number alone."""
    first = [trial.one(MID, 1, number) for number in range(5)]

    assert first == [trial.one(MID, 1, number) for number in range(5)]
    assert first != [trial.one(MID, 2, number) for number in range(5)]


def test_a_week_counts_once_whatever_happens_in_it() -> None:
    """No count is over the weeks, and what costs load or a session is the union of its parts."""
    found = sum((StableTrial("", Tendency(4)).one(MID, 1, n) for n in range(3)), Counter[str]())

    assert found["weeks"] == 36
    parts = [found[kind] for kind in ("step back", "do less", "session lost")]
    assert max(parts) <= found["false alarm"] <= min(36, sum(parts))
    assert found["session lost"] <= found["rest day"] <= 36


def test_the_parts_worth_waiting_for_are_read_off_the_ladder() -> None:
    """Single-leg raises follow the first count of heel raises; heavy raises have neither."""
    assert landmarks(MID) == {"single-leg raises": 5, "hops": 8}
    assert landmarks(shipped_protocol("heavy-slow")) == {}


def test_two_protocols_meet_the_same_patients() -> None:
    """A protocol beside itself under another name has its own numbers, row by row."""
    protocols = [MID, shipped_protocol("insertional-ladder")]
    todo = list(tasks(protocols, Sizes(1, 1, weeks=1), seed=1))

    found = measured(protocols, todo, map(played, todo))

    for table in (*found.stable, found.troubles, found.climbs):
        first = [row.group for row in table.rows if row.protocol == 0]
        assert first == [row.group for row in table.rows if row.protocol == 1]
        assert all(len(row.cells) == len(table.columns) for row in table.rows)


def test_the_command_says_what_it_assumes_before_any_number(
    nextmorning: Command, tmp_path: Path
) -> None:
    """The caution stands first, no line is over 110 columns, and the picture is a picture."""
    picture = tmp_path / "trade-off.png"
    ended = nextmorning(
        "measure", "--patients", "2", "--climbers", "2", "--weeks", "2", "--plot", str(picture)
    )

    assert ended.status == 0
    assert ended.out.startswith("INVENTED PATIENTS, INVENTED LOAD MODEL")
    assert max(len(line) for line in ended.out.splitlines()) <= 110
    assert picture.read_bytes().startswith(b"\x89PNG")


def test_a_script_reads_the_same_numbers_as_json(nextmorning: Command) -> None:
    """--json prints one object and nothing else, no bar among it, and no infinity."""
    ended = nextmorning("measure", "--patients", "2", "--climbers", "2", "--weeks", "2", "--json")

    told = json.loads(ended.out)
    assert [row["group"] for row in told["tables"][0]["rows"]] == [
        f"mean {n}" for n in (1, 2, 3, 4)
    ]
    assert "Infinity" not in ended.out


def test_a_protocol_that_is_not_there_is_refused(nextmorning: Command) -> None:
    """Exit status 2 and a sentence with what was expected."""
    ended = nextmorning("measure", "--against", "no-such")

    assert ended.status == 2
    assert "found 'no-such'" in ended.err
