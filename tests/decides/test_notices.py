"""What is told on the next working day: each side of each limit, and once in four weeks.

The numbers are those of the shipped protocol: convention or own simulation, no outside source.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from decides.building import (
    LADDER,
    TODAY,
    USUAL_MOVES,
    day,
    morning,
    position_on,
    ready_history,
    session,
    with_mornings,
    with_settings,
)

from rules.alerts import NOTICES, Alert, AlertKey, alerts, first_told, is_due
from rules.history import History, Move, MovedBy, Pause, Tier
from rules.protocol import Position, Protocol
from rules.protocol_reader import shipped_protocol
from rules.quantities import Count, Effort, Pain


def told(history: History, protocol: Protocol = LADDER) -> dict[AlertKey, Alert]:
    """The notices of day 30."""
    return {one.key: one for one in alerts(history, protocol, TODAY) if one.key in NOTICES}


def mornings_of(pain: Iterable[int | None], first: int = -40) -> History:
    """The ready history with its mornings answered so, from a day on."""
    return with_mornings(ready_history(), *(morning(first + n, p) for n, p in enumerate(pain)))


@pytest.mark.parametrize(
    ("pain", "changes", "is_told"),
    [
        pytest.param(3, {}, False, id="one under the limit"),
        pytest.param(4, {}, True, id="at the limit"),
        pytest.param(4, {"pain_limit": Pain(5)}, False, id="the clinician has chosen limit 5"),
        pytest.param(3, {"pain_limit": Pain(3)}, True, id="at the patient's own limit"),
        pytest.param(0, {"pain_limit": Pain(0)}, False, id="no pain at a limit of none"),
        pytest.param(4, {"enrolled_on": day(17)}, True, id="fourteen days since enrolment"),
        pytest.param(4, {"enrolled_on": day(18)}, False, id="thirteen days since enrolment"),
        pytest.param(4, {"pauses": (Pause(day(30)),)}, False, id="paused"),
    ],
)
def test_usual_at_the_limit_asks_for_a_choice(
    pain: int, changes: dict[str, Any], is_told: bool
) -> None:
    """Fourteen days running at the limit: choose limit or load."""
    history = replace(mornings_of([pain] * 71), **changes)

    assert (AlertKey.USUAL_AT_LIMIT in told(history)) is is_told


# By hand: usual is the median of fourteen mornings. It is 4 on a day once eight of them are, so
# seven days after the first that is 4, and stays so.
@pytest.mark.parametrize(
    ("began", "is_told"),
    [pytest.param(10, True, id="fourteen days"), pytest.param(11, False, id="thirteen days")],
)
def test_usual_must_be_at_the_limit_on_each_of_fourteen_days(began: int, is_told: bool) -> None:
    """Thirteen days are one too few."""
    history = mornings_of([4] * (31 - began), began)

    assert (AlertKey.USUAL_AT_LIMIT in told(history)) is is_told


def stands_since(number: int, **changes: Any) -> History:
    """A calm patient who stands at level 2, dose 3 since a day, and was not followed up last."""
    moves = (*USUAL_MOVES[:-1], Move(day(number), Position(2, 3), MovedBy.RULES))
    moves = tuple(move for move in moves if move.on <= day(number))
    sessions = tuple(
        session(n, position_on(n, moves), pain_48h=None, pain_after=None) for n in range(-40, 30, 2)
    )
    return ready_history(**{"moves": moves, "sessions": sessions, **changes})


@pytest.mark.parametrize(
    ("history", "is_told"),
    [
        pytest.param(stands_since(-11), False, id="41 days"),
        pytest.param(stands_since(-12), True, id="six weeks"),
        pytest.param(
            stands_since(-13, pauses=(Pause(day(-20), day(-12)),)), True, id="a pause 42 days ago"
        ),
        pytest.param(
            stands_since(-13, pauses=(Pause(day(-20), day(-11)),)), False, id="a pause 41 days ago"
        ),
        pytest.param(
            replace(stands_since(-13), mornings=tuple(morning(n, 4) for n in range(-40, 31))),
            False, id="over what is comfortable",
        ),
        pytest.param(
            stands_since(-13, sessions=tuple(session(n) for n in range(-40, 30, 2))), False,
            id="raised today",
        ),
        pytest.param(
            stands_since(-13, sessions=tuple(session(n) for n in range(-40, 30, 9))), False,
            id="not exercising is why",
        ),
    ],
)  # fmt: skip
def test_who_is_stuck_is_told_with_what_holds_it(history: History, is_told: bool) -> None:
    """No raise in six weeks while all is calm."""
    found = told(history)

    assert (AlertKey.STUCK in found) is is_told
    if is_told:
        assert found[AlertKey.STUCK].evidence["reason"] == "follow-up-missing"


def every(days: Iterable[int], **changes: Any) -> History:
    """The ready history with sessions on these days only."""
    sessions = tuple(session(n, position_on(n), **changes) for n in days)
    return ready_history(sessions=sessions)


# By hand, from day 16 to yesterday, day 29, with a session due every second day.
@pytest.mark.parametrize(
    ("history", "counted"),
    [
        # Free: 16 to 19, 22 and 23, 26 and 27: 4 missed beside 3 done.
        pytest.param(every((20, 24, 28)), (3, 7), id="three of seven"),
        # Free: 20 and 21, 24 and 25, 28 and 29: 3 missed beside 4 done.
        pytest.param(every((16, 18, 22, 26)), None, id="four of seven"),
        pytest.param(every(range(16, 30, 2), sets_done=Count(0)), (0, 7), id="none of the sets"),
        pytest.param(every(range(16, 30, 2), sets_done=Count(1)), None, id="a set of each"),
        pytest.param(
            replace(every(()), rest_days=tuple(day(n) for n in range(20, 30))),
            None,
            id="advised to rest: two were due",
        ),
        pytest.param(
            replace(every(()), rest_days=tuple(day(n) for n in range(22, 30))),
            (0, 3),
            id="three were due",
        ),
        pytest.param(
            replace(every(()), enrolled_on=day(17)), None, id="enrolled thirteen days ago"
        ),
    ],
)
def test_fewer_than_half_of_the_sessions_are_told(
    history: History, counted: tuple[int, int] | None
) -> None:
    """Under half of the sessions for two weeks, or none of the sets."""
    found = told(history).get(AlertKey.NOT_EXERCISING)

    assert (found and (found.evidence["sessions_done"], found.evidence["sessions_due"])) == counted


def with_each(name: str, values: Iterable[object]) -> History:
    """Sessions every second day up to day 28, the last of them answered so, the latest last."""
    given = list(values)
    days = range(30 - 2 * len(given), 30, 2)
    last = tuple(
        session(n, position_on(n), **{name: one}) for n, one in zip(days, given, strict=True)
    )
    before = tuple(session(n, position_on(n)) for n in range(0, days.start, 2))
    return ready_history(sessions=(*before, *last))


@pytest.mark.parametrize(
    ("values", "is_told"),
    [
        pytest.param([True] * 4 + [False] * 3, True, id="four of seven"),
        pytest.param([True] * 3 + [False] * 4, False, id="three of seven"),
        pytest.param([True, False] * 3 + [None], False, id="three of six: half is not most"),
        pytest.param([True, True, False] + [None] * 4, True, id="two of three answered"),
        pytest.param([True, True] + [None] * 5, False, id="two answered"),
        pytest.param([True] * 9 + [False] * 7, False, id="more than two weeks ago"),
    ],
)
def test_a_painkiller_before_most_sessions_is_told(
    values: list[bool | None], is_told: bool
) -> None:
    """More than half of two weeks' sessions, of those that were answered."""
    assert (AlertKey.PAINKILLER_MOSTLY in told(with_each("painkiller", values))) is is_told


@pytest.mark.parametrize(
    ("values", "is_told"),
    [
        pytest.param([8] * 7, True, id="eight in each"),
        pytest.param([8] * 6 + [7], False, id="seven in one"),
        pytest.param([10] * 3 + [None] * 4, True, id="three answered"),
        pytest.param([10] * 2 + [None] * 5, False, id="two answered"),
        pytest.param([3] + [8] * 7, True, id="easy more than two weeks ago"),
    ],
)
def test_hard_sessions_for_two_weeks_are_told(values: list[int | None], is_told: bool) -> None:
    """Effort of 8 or more in each."""
    efforts = [None if one is None else Effort(one) for one in values]

    assert (AlertKey.ALWAYS_HARD in told(with_each("effort", efforts))) is is_told


@pytest.mark.parametrize("days", [pytest.param(13, id="13 days"), pytest.param(14, id="14 days")])
def test_habits_are_told_of_after_two_weeks_and_not_before(days: int) -> None:
    """Three hard sessions behind a painkiller are no two weeks of them."""
    sessions = tuple(session(n, effort=Effort(9), painkiller=True) for n in (24, 26, 28))
    found = told(ready_history(enrolled_on=day(30 - days), sessions=sessions))

    habits = {AlertKey.ALWAYS_HARD, AlertKey.PAINKILLER_MOSTLY}
    assert habits & set(found) == (habits if days == 14 else set())


def test_heavy_sessions_are_hard_on_purpose() -> None:
    """Heavy slow resistance goes to the most that can be lifted (beyer-2015): no notice of it."""
    settings = shipped_protocol("heavy-slow").settings
    hardest = with_each("effort", [Effort(10)] * 7)

    assert AlertKey.ALWAYS_HARD not in told(hardest, replace(LADDER, settings=settings))


# This week is days 24 to 30, the one four weeks before it days -4 to 2; there stiffness is 10.
@pytest.mark.parametrize(
    ("minutes", "is_told"),
    [
        pytest.param([30] * 7, True, id="up by 20"),
        pytest.param([30] * 6 + [29], False, id="a minute short in one morning"),
        pytest.param([40] * 4 + [None] * 3, True, id="four answered"),
        pytest.param([40] * 3 + [None] * 4, False, id="three answered"),
    ],
)
def test_creeping_stiffness_is_told_whatever_the_pain(
    minutes: list[int | None], is_told: bool
) -> None:
    """20 minutes in four weeks."""
    week = (morning(24 + n, 0, one) for n, one in enumerate(minutes))

    found = told(with_mornings(ready_history(), *week))

    assert (AlertKey.STIFFNESS_CREEPS in found) is is_told


def stepped(*days: int, reason: str = "pain-over-ceiling") -> History:
    """A dose less on these days, each after a session that hurt the day before; then up again."""
    places = [Position(2, 3), Position(2, 2)]
    moves = list(USUAL_MOVES[:3])
    for number in days:
        moves.append(Move(day(number - 2), places[0], MovedBy.RULES))
        moves.append(
            Move(
                day(number), places[1], MovedBy.RULES, do_less=True, session_on=day(number - 1),
                reason=reason,
            )
        )  # fmt: skip
    hurt = tuple(session(n - 1, places[0], pain_during=Pain(6)) for n in days)
    return ready_history(moves=tuple(moves), sessions=(*hurt, session(28, places[1])))


@pytest.mark.parametrize(
    ("on", "is_told"),
    [pytest.param(24, True, id="six days ago"), pytest.param(23, False, id="seven days ago")],
)
def test_weeks_that_grew_worse_are_told_with_the_dose_less(on: int, is_told: bool) -> None:
    """The row of the slow drift is a notice of its own; another reason is none."""
    found = told(stepped(on, reason="weeks-worse-than-before"))

    assert (AlertKey.WEEKS_WORSE_THAN_BEFORE in found) is is_told
    assert AlertKey.WEEKS_WORSE_THAN_BEFORE not in told(stepped(on))


@pytest.mark.parametrize(
    ("days", "is_told"),
    [
        pytest.param((10, 18), False, id="two"),
        pytest.param((10, 18, 26), True, id="three"),
    ],
)
def test_the_third_step_down_from_what_hurt_is_told(days: tuple[int, ...], is_told: bool) -> None:
    """Three within the brake's memory, each from a session that hurt."""
    found = told(stepped(*days)).get(AlertKey.NEEDS_CLINICIAN_AFTER_THREE)

    assert (found is not None) is is_told
    if found:
        assert (found.since, found.evidence["slower"]) == (day(26), 0)


def test_two_of_three_steps_within_a_shorter_memory_are_not_told() -> None:
    """What the brake has forgotten does not count: day 10 is 20 days ago."""
    short = with_settings(brake_memory_days=20)
    long = with_settings(brake_memory_days=21)
    key = AlertKey.NEEDS_CLINICIAN_AFTER_THREE

    assert [key in told(stepped(10, 18, 26), one) for one in (short, long)] == [False, True]


@pytest.mark.parametrize(
    ("days_ago", "due"),
    [(None, True), (0, False), (27, False), (28, True), (29, True)],
)
def test_a_notice_is_told_once_in_four_weeks(days_ago: int | None, due: bool) -> None:
    """The same reason of one patient; an alarm comes at each occurrence."""
    told_on = None if days_ago is None else TODAY - timedelta(days=days_ago)
    notice = Alert(Tier.NEXT_WORKING_DAY, AlertKey.STUCK, TODAY, {})
    alarm = replace(notice, key=AlertKey.SILENCE)

    assert is_due(notice, told_on, LADDER, TODAY) is due
    assert is_due(alarm, told_on, LADDER, TODAY)


def test_each_is_told_for_the_first_time_once() -> None:
    """What was told stays told, for its reason alone."""
    stuck, hard = (
        Alert(Tier.NEXT_WORKING_DAY, key, TODAY, {})
        for key in (AlertKey.STUCK, AlertKey.ALWAYS_HARD)
    )
    silent = Alert(Tier.NEXT_WORKING_DAY, AlertKey.SILENCE, day(20), {})
    before = {(AlertKey.STUCK, day(3)): day(3), (AlertKey.SILENCE, day(20)): day(23)}

    assert first_told((stuck, hard, silent), before, LADDER, TODAY) == (hard,)


def test_who_is_silent_is_told_of_as_silent() -> None:
    """Nothing more is said of habits that nobody told about."""
    history = every(())
    silent = replace(
        history,
        mornings=tuple(one for one in history.mornings if one.on < day(20)),
        activities=(),
        heel_raises=(),
    )

    assert told(silent) == {}
