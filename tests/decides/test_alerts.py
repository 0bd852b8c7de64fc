"""What a clinician is told without a word from the patient: three rows for each limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import pytest
from decides.building import (
    LADDER,
    TODAY,
    USUAL_MOVES,
    day,
    morning,
    ready_history,
    session,
    with_last,
    with_mornings,
)

from rules.alerts import Alert, AlertKey, alerts
from rules.history import Activity, HeelRaises, History, Move, MovedBy, Pause, Tier
from rules.protocol import Position
from rules.quantities import Count, Minutes, Pain

WALKS = [Activity(day(9), Minutes(30)), Activity(day(28), Minutes(30))]
RAISES = [HeelRaises(day(9), Count(9)), HeelRaises(day(28), Count(9))]


def keys(history: History, number: int = 30) -> list[AlertKey]:
    """The keys of the alerts of a day."""
    return [alert.key for alert in alerts(history, LADDER, day(number))]


def silent_since(number: int, **changes: object) -> History:
    """A history whose last answer of any kind is about a day."""
    mornings = tuple(morning(n) for n in range(-40, number + 1))
    quiet = {"mornings": mornings, "sessions": (), "activities": (), "heel_raises": ()}
    return ready_history(**{**quiet, **changes})


@pytest.mark.parametrize(
    ("days", "told"),
    [
        pytest.param(2, False, id="two days"),
        pytest.param(3, True, id="three days"),
    ],
)
def test_three_days_of_silence_are_told(days: int, told: bool) -> None:
    """Silence counts from the last answer and is told from the third day on."""
    found = alerts(silent_since(30 - days), LADDER, TODAY)

    told_of = [(a.key, a.tier, a.since) for a in found if a.key is AlertKey.SILENCE]
    assert told_of == ([(AlertKey.SILENCE, Tier.NEXT_WORKING_DAY, day(30 - days))] if told else [])


@pytest.mark.parametrize(
    "answer",
    [
        pytest.param({"sessions": (session(28),)}, id="a session"),
        pytest.param({"activities": (WALKS[1],)}, id="the only activity"),
        pytest.param({"heel_raises": (RAISES[1],)}, id="the only count"),
        pytest.param({"visa_a": ((day(28), 60),)}, id="the only score"),
        pytest.param({"sessions": (session(26),)}, id="its 48-hour answer"),
        pytest.param({"mornings": (morning(28, None, 10),)}, id="stiffness alone"),
        pytest.param({"mornings": (morning(28, 2, None),)}, id="first-step pain alone"),
        pytest.param({"pauses": (Pause(day(20), day(28)),)}, id="a pause that ended"),
        pytest.param({"enrolled_on": day(28)}, id="enrolment"),
    ],
)
def test_any_answer_ends_the_silence(answer: dict[str, object]) -> None:
    """An answer of any kind two days ago, or a pause, is no silence of three days."""
    assert AlertKey.SILENCE not in keys(silent_since(10, **answer))


@pytest.mark.parametrize(
    "changes",
    [
        pytest.param(
            {"sessions": (session(27, pain_24h=None, pain_48h=None),)},
            id="a session three days ago that was not followed up",
        ),
        pytest.param({"pauses": (Pause(day(31), day(35)),)}, id="a pause planned with an end"),
    ],
)
def test_what_is_no_answer_does_not_end_the_silence(changes: dict[str, object]) -> None:
    """Only what was said counts: not a follow-up that never came, not a pause to come."""
    assert keys(silent_since(10, **changes)) == [AlertKey.SILENCE]


def test_an_unanswered_morning_is_no_answer() -> None:
    """A morning that holds neither pain nor stiffness does not end the silence."""
    history = with_mornings(silent_since(20), morning(30, None, None))

    assert keys(history) == [AlertKey.SILENCE]


@pytest.mark.parametrize(
    ("pain", "told"),
    [pytest.param(9, False, id="nine"), pytest.param(10, True, id="ten")],
)
@pytest.mark.parametrize("answer", ["pain_during", "pain_after", "pain_24h", "pain_48h", "woken"])
def test_pain_of_ten_is_told_the_same_day(answer: str, pain: int, told: bool) -> None:
    """Ten in any answer is for a clinician on the same day, nine is not yet."""
    plain = ready_history()
    woken = with_mornings(plain, morning(30, pain))
    history = woken if answer == "woken" else with_last(plain, **{answer: Pain(pain)})

    found = alerts(history, LADDER, TODAY)

    assert [(a.key, a.tier) for a in found] == (
        [(AlertKey.PAIN_VERY_HIGH, Tier.SAME_DAY)] if told else []
    )


@pytest.mark.parametrize(
    ("answer", "number"),
    [
        pytest.param("pain_24h", 29, id="a day after"),
        pytest.param("pain_48h", 30, id="two days after"),
    ],
)
def test_an_alert_names_the_day_it_is_about(answer: str, number: int) -> None:
    """The day counts from the session, which was on day 28."""
    (found,) = alerts(with_last(ready_history(), **{answer: Pain(10)}), LADDER, TODAY)

    assert (found.since, dict(found.evidence)) == (day(number), {answer: 10, "pain_same_day": 10})


@pytest.mark.parametrize(
    ("days_later", "told"),
    [
        pytest.param(0, True, id="the same day"),
        pytest.param(4, False, id="four days later"),
    ],
)
def test_pain_of_ten_is_told_of_the_last_days(days_later: int, told: bool) -> None:
    """An answer about up to three days ago is still noticed when it comes late."""
    history = with_mornings(ready_history(), morning(26, 10))

    assert (AlertKey.PAIN_VERY_HIGH in keys(history, 26 + days_later)) is told


@pytest.mark.parametrize(
    ("sessions", "answer", "number", "told"),
    [
        pytest.param((30,), "pain_during", 30, True, id="during the first session of all"),
        pytest.param(
            range(25, 31), "pain_48h", 25, True, id="two days after, daily, three days late"
        ),
        pytest.param(
            range(24, 31), "pain_48h", 24, False, id="two days after, daily, four days late"
        ),
        pytest.param((26, 27, 30), "pain_during", 27, True, id="before the last session"),
    ],
)
def test_pain_of_ten_is_told_however_often_one_trains(
    sessions: Sequence[int], answer: str, number: int, told: bool
) -> None:
    """Every answer about the last three days is looked at, of a first session or of daily ones."""
    done = tuple(session(n, **({answer: Pain(10)} if n == number else {})) for n in sessions)

    assert (AlertKey.PAIN_VERY_HIGH in keys(ready_history(sessions=done))) is told


def test_two_tens_about_one_day_are_one_alert() -> None:
    """A date is told once, whatever was answered about it."""
    history = with_last(ready_history(), pain_during=Pain(10), pain_after=Pain(10))

    assert keys(history) == [AlertKey.PAIN_VERY_HIGH]


def stepped_back(*days: int, pain: int = 4) -> History:
    """Step backs on some days, and a last week of one pain; usual before was 2."""
    backs = tuple(
        Move(day(n), Position(1, 1), MovedBy.RULES, True, day(n - 1)) for n in sorted(days)
    )
    history = ready_history(moves=(*USUAL_MOVES[:3], *backs))
    return with_mornings(history, *(morning(n, pain) for n in range(24, 31)))


@pytest.mark.parametrize(
    ("days", "pain", "told"),
    [
        pytest.param((17, 27), 4, True, id="fourteen days with today"),
        pytest.param((16, 27), 4, False, id="fifteen days with today"),
        pytest.param((27,), 4, False, id="one step back"),
        pytest.param((17, 27), 3, True, id="one above usual"),
        pytest.param((17, 27), 2, False, id="at usual"),
    ],
)
def test_two_step_backs_and_still_worse_are_told(
    days: tuple[int, ...], pain: int, told: bool
) -> None:
    """Two step backs within fourteen days are told while the week is above what was usual."""
    found = {a.key: a for a in alerts(stepped_back(*days, pain=pain), LADDER, TODAY)}

    assert (AlertKey.STEPPED_BACK_TWICE in found) is told
    if told:
        assert found[AlertKey.STEPPED_BACK_TWICE].since == day(27)


@pytest.mark.parametrize(
    ("answers", "told"), [pytest.param(3, True, id="three"), pytest.param(4, False, id="four")]
)
def test_too_few_answers_cannot_rule_out_worse(answers: int, told: bool) -> None:
    """At usual, but with fewer than four answers in the week, the alert is given."""
    history = stepped_back(17, 27, pain=2)
    silent = (morning(n, None) for n in range(24, 31 - answers))

    assert (AlertKey.STEPPED_BACK_TWICE in keys(with_mornings(history, *silent))) is told


@pytest.mark.parametrize(
    ("days", "told"),
    [
        pytest.param(13, False, id="thirteen days"),
        pytest.param(14, True, id="fourteen days"),
    ],
)
def test_two_weeks_of_rest_after_a_step_back_are_told(days: int, told: bool) -> None:
    """A tendon that does not settle for two weeks after a step back is for a clinician."""
    history = stepped_back(30 - days, pain=5)
    history = replace(history, sessions=tuple(s for s in history.sessions if s.on < day(15)))

    assert (AlertKey.NOT_SETTLING in keys(history)) is told


def test_a_tendon_that_settled_needs_nobody() -> None:
    """Back at usual two weeks after a step back, with no session since: no alert of the rest."""
    history = stepped_back(15, pain=2)
    history = replace(history, sessions=tuple(s for s in history.sessions if s.on < day(15)))

    assert AlertKey.NOT_SETTLING not in keys(history)


@pytest.mark.parametrize(
    ("days", "scores", "told"),
    [
        pytest.param(83, {6: 50, 83: 55}, False, id="a day under twelve weeks"),
        pytest.param(84, {6: 50, 84: 55}, True, id="twelve weeks"),
        pytest.param(84, {6: 50, 84: 63}, True, id="up by thirteen"),
        pytest.param(84, {6: 50, 84: 64}, False, id="up by fourteen"),
        pytest.param(91, {6: 50}, False, id="one score"),
        pytest.param(90, {6: 50, 34: 70, 90: 55}, True, id="the latest counts"),
        pytest.param(90, {6: 50, 62: 55}, False, id="the score of week 12 is waited for"),
        pytest.param(90, {6: 50, 83: 55}, False, id="a day too early is not of week 12"),
        pytest.param(91, {6: 50, 62: 55}, True, id="after that week the one before has to do"),
    ],
)
def test_too_little_response_by_twelve_weeks_is_told(
    days: int, scores: dict[int, int], told: bool
) -> None:
    """From twelve weeks on, a rise of VISA-A under 14 points is told (lagas-2021)."""
    # Days, and the keys of the scores, are counted from enrolment.
    enrolled_on = day(30 - days)
    visa_a = tuple((enrolled_on + timedelta(days=on), score) for on, score in scores.items())
    history = ready_history(enrolled_on=enrolled_on, visa_a=visa_a)

    assert (AlertKey.NO_RESPONSE in keys(history)) is told


def test_a_score_of_another_day_is_left_for_that_day() -> None:
    """Scores up to today count, the latest is named, and one dated later does not."""
    visa_a = ((day(-40), 50), (day(30), 55), (day(31), 90))
    history = ready_history(enrolled_on=day(-60), visa_a=visa_a)

    (found,) = alerts(history, LADDER, TODAY)

    assert (found.key, found.since, found.evidence["visa_a_rise"]) == (
        AlertKey.NO_RESPONSE,
        day(30),
        5,
    )


def test_still_worse_is_measured_from_before_the_first_step_back() -> None:
    """What became usual between two step backs does not make the second look settled."""
    history = with_mornings(stepped_back(18, 29), *(morning(n, 4) for n in range(18, 31)))

    found = {alert.key: alert.evidence for alert in alerts(history, LADDER, TODAY)}

    assert found[AlertKey.STEPPED_BACK_TWICE]["usual"] == 2.0
    assert found[AlertKey.STEPPED_BACK_TWICE]["pain_mean"] == 4.0


def test_the_most_urgent_alert_comes_first() -> None:
    """A same-day alert stands before those for the next working day."""
    history = with_mornings(stepped_back(17, 27), morning(30, 10))

    found: tuple[Alert, ...] = alerts(history, LADDER, TODAY)

    assert [alert.tier for alert in found] == [Tier.SAME_DAY, Tier.NEXT_WORKING_DAY]
