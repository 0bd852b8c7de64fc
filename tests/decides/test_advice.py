"""The decision order, row by row: worked examples on each side of each limit."""

from __future__ import annotations

from dataclasses import replace

import pytest
from decides.building import (
    LADDER,
    TODAY,
    USUAL_MOVES,
    day,
    level,
    morning,
    moves,
    ready_history,
    session,
    with_last,
    with_mornings,
)
from decides.examples import EXAMPLES

from rules.advice import ORDER, advise, move_made
from rules.errors import HistoryError
from rules.history import LoadingStop, Pause, Tier
from rules.ladder import next_position, one_dose_lower, one_level_lower
from rules.protocol import Position, Tendon
from rules.quantities import Effort, Pain
from rules.reasons import FORMER, Action, Reason
from rules.usual import next_day_pain, two_day_pain, usual_pain


def test_a_reason_is_found_on_its_side_of_the_limit() -> None:
    """Each reason applies where its row says so and nowhere else; each decides in some row, with
    its own action and evidence.
    """
    advices = [advise(one.history, one.protocol, one.today) for one in EXAMPLES]

    assert [
        one.id
        for one, advice in zip(EXAMPLES, advices, strict=True)
        if (one.reason in (advice.reason, *(f.reason for f in advice.also))) is not one.applies
    ] == []
    actions = {rule.reason: rule.action for rule in ORDER}
    assert {advice.reason for advice in advices} == set(Reason) - FORMER
    assert all(advice.action is actions[advice.reason] for advice in advices)
    assert all(advice.because.evidence for advice in advices)


def test_ready_advances_to_the_next_level() -> None:
    """With nothing against it the patient goes one level up, at its lowest dose."""
    advice = advise(ready_history(), LADDER, TODAY)

    assert (advice.action, advice.stood, advice.position) == (
        Action.ADVANCE,
        Position(2, 3),
        Position(3, 1),
    )
    assert (advice.on, advice.also) == (TODAY, ())
    assert advice.session_today


def test_a_hold_keeps_the_dose() -> None:
    """Sore but settled: today's session is the one of before, at the same dose."""
    advice = advise(with_last(ready_history(), pain_during=Pain(4)), LADDER, TODAY)

    assert (advice.reason, advice.position) == (Reason.SORE_BUT_SETTLED, Position(2, 3))


def test_ready_advances_to_the_next_dose() -> None:
    """Inside a level the dose climbs first."""
    stays = moves((-40, Position(1, 1)), (16, Position(2, 2)))
    done = tuple(session(number, Position(2, 2)) for number in range(16, 30, 2))

    advice = advise(ready_history(moves=stays, sessions=done), LADDER, TODAY)

    assert (advice.action, advice.position) == (Action.ADVANCE, Position(2, 3))


BACK, LESS = Action.STEP_BACK, Action.DO_LESS


@pytest.mark.parametrize(
    ("action", "position", "lower"),
    [
        pytest.param(BACK, Position(3, 2), Position(2, 3), id="one level down, highest dose"),
        pytest.param(BACK, Position(1, 2), Position(1, 1), id="at the first level, lowest dose"),
        pytest.param(BACK, Position(1, 1), Position(1, 1), id="nothing below"),
        pytest.param(LESS, Position(2, 3), Position(2, 2), id="one dose down"),
        pytest.param(LESS, Position(2, 1), Position(1, 2), id="the highest of the level below"),
    ],
)
def test_a_step_down_lowers_the_place(action: Action, position: Position, lower: Position) -> None:
    """A step back goes a level down, a do less a dose, and the day has no session."""
    pains = {"pain_during": Pain(7)} if action is BACK else {"pain_24h": Pain(6)}
    history = with_last(ready_history(moves=moves((-40, position))), **pains)

    advice = advise(with_mornings(history, morning(29, 6)), LADDER, TODAY)
    made = move_made(advice, history.sessions)

    assert (advice.action, advice.position, advice.session_today) == (action, lower, False)
    assert made is not None
    assert (made.down, made.step_back, made.session_on) == (True, action is BACK, day(28))


def test_a_do_less_after_a_break_goes_no_higher_than_the_break() -> None:
    """A session that hurt, told of only after a break: the lowest dose, as the break asks."""
    history = with_last(ready_history(), pain_during=Pain(6), pain_after=Pain(6))

    advice = advise(history, LADDER, day(42))

    assert (advice.action, advice.position) == (Action.DO_LESS, Position(2, 1))


def test_after_a_break_the_lowest_dose_comes_first() -> None:
    """Fourteen days without a session lead to the level's lowest dose, with a session today."""
    advice = advise(ready_history(), LADDER, day(42))

    assert (advice.reason, advice.position, advice.session_today) == (
        Reason.AFTER_A_BREAK,
        Position(2, 1),
        True,
    )


@pytest.mark.parametrize(
    ("changes", "number", "reason", "position"),
    [
        pytest.param(
            {}, 9, Reason.WELL_ABOVE_USUAL, Position(2, 1),
            id="a sore morning after it lowers the dose too",
        ),
        pytest.param(
            {"pauses": (Pause(day(42)),)}, 2, Reason.PAUSED, Position(2, 3), id="a pause does not"
        ),
        pytest.param(
            {"loading_stops": (LoadingStop("leg-clot", Tier.SAME_DAY, day(42)),)}, 2,
            Reason.WARNING_SIGN, Position(2, 3), id="a warning sign does not",
        ),
    ],
)  # fmt: skip
def test_a_rest_after_a_break_keeps_or_lowers_the_dose(
    changes: dict[str, object], number: int, reason: Reason, position: Position
) -> None:
    """The break is answered for on the day it ends, and not while nothing may be loaded."""
    history = with_mornings(ready_history(**changes), morning(42, number))

    advice = advise(history, LADDER, day(42))

    assert (advice.reason, advice.position, advice.session_today) == (reason, position, False)


@pytest.mark.parametrize(
    ("hops_allowed", "lower"),
    [
        pytest.param(True, Position(4, 1), id="gate open: to the hops on two legs"),
        pytest.param(False, Position(3, 1), id="gate closed: below all hops"),
    ],
)
def test_a_step_back_from_hops_heeds_the_gate(hops_allowed: bool, lower: Position) -> None:
    """One level down, and where that is hops behind a closed gate, down to the level below them."""
    hopping = ready_history(moves=moves((-40, Position(5, 2))), hops_allowed=hops_allowed)

    advice = advise(with_last(hopping, pain_during=Pain(7)), LADDER, TODAY)

    assert (advice.action, advice.position) == (Action.STEP_BACK, lower)


@pytest.mark.parametrize(
    ("position", "below"),
    [
        pytest.param(Position(4, 1), Position(3, 1), id="from two-leg hops"),
        pytest.param(Position(5, 2), Position(3, 1), id="from one-leg hops, past the others"),
    ],
)
def test_a_closed_gate_takes_the_hops_away(position: Position, below: Position) -> None:
    """A patient on hops whose gate the clinician closes is given the level below the gate."""
    history = ready_history(moves=moves((-40, position)))

    advice = advise(history, LADDER, day(32))

    assert (advice.action, advice.position) == (Action.HOLD, below)


def test_a_closed_gate_leads_down_to_the_first_level_if_it_must() -> None:
    """Where nothing else is open, the first level is."""
    protocol = replace(LADDER, levels=(level("raises"), level("hops", hops=True)))
    history = ready_history(moves=moves((-40, Position(2, 1))))

    assert advise(history, protocol, day(32)).position == Position(1, 1)


def test_a_warning_sign_outranks_everything() -> None:
    """With every other kind of reason there as well, an open sign still decides."""
    sign = LoadingStop("tendon-rupture", Tier.EMERGENCY, day(30))
    history = with_last(
        ready_history(loading_stops=(sign,), pauses=(Pause(day(30)),)),
        pain_during=Pain(9),
        effort=Effort(9),
    )

    advice = advise(history, LADDER, TODAY)

    assert (advice.action, advice.session_today) == (Action.STOP, False)
    assert [finding.reason for finding in advice.also[:2]] == [
        Reason.PAUSED,
        Reason.PAIN_FAR_OVER_LIMIT,
    ]


@pytest.mark.parametrize(
    "answers",
    [
        pytest.param({"pain_during": Pain(8)}, id="during"),
        pytest.param({"pain_during": Pain(6), "pain_after": Pain(6)}, id="a dose"),
    ],
)
def test_one_session_causes_one_step_back(answers: dict[str, Pain]) -> None:
    """Once stepped back for a session, the same answers lead to rest and then to hold."""
    history = with_last(ready_history(), **answers)
    first = advise(history, LADDER, TODAY)
    after = replace(history, moves=(*USUAL_MOVES, move_made(first, history.sessions)))
    settled = with_mornings(after, morning(31, 2))

    assert first.steps_down
    assert advise(after, LADDER, TODAY).action is Action.REST_DAY
    assert advise(settled, LADDER, day(31)).action is Action.HOLD


@pytest.mark.parametrize(
    ("answered", "usual"),
    [
        pytest.param([1, 1, 1, 1], 6.0, id="four: enrolment"),
        pytest.param([1, 1, 2, 5, 5], 2.0, id="five: their median"),
        pytest.param([1, 1, 2, 3, 5, 5], 2.5, id="six: halfway"),
    ],
)
def test_usual_is_the_median_once_five_are_answered(answered: list[int], usual: float) -> None:
    """Under five answers the enrolment value stands; from five on their median."""
    mornings = tuple(morning(27 - index, pain) for index, pain in enumerate(answered))
    history = ready_history(usual_pain=Pain(6), mornings=tuple(reversed(mornings)))

    assert usual_pain(history, LADDER, day(28)) == usual


@pytest.mark.parametrize(
    ("number", "counts"),
    [
        pytest.param(14, False, id="fourteen days before"),
        pytest.param(15, True, id="thirteen days before"),
        pytest.param(28, True, id="the session's own morning"),
        pytest.param(29, False, id="the morning after"),
    ],
)
def test_usual_looks_at_the_fourteen_mornings_up_to_the_session(number: int, counts: bool) -> None:
    """The window has the session's own morning as its last and no later one."""
    mornings = tuple(morning(n, 3 if n == number else None) for n in range(10, 31))
    protocol = replace(LADDER, settings=replace(LADDER.settings, usual_answers_min=1))
    history = ready_history(usual_pain=Pain(7), mornings=mornings)

    assert usual_pain(history, protocol, day(28)) == (3.0 if counts else 7.0)


@pytest.mark.parametrize(
    ("woken", "told", "worse"),
    [
        pytest.param(None, None, None, id="neither"),
        pytest.param(3, 4, 4, id="later answer worse"),
        pytest.param(5, 4, 5, id="morning worse"),
        pytest.param(0, None, 0, id="none at all is an answer"),
    ],
)
def test_next_day_and_two_day_pain_are_the_worse_answer(
    woken: int | None, told: int | None, worse: int | None
) -> None:
    """Either answer makes it known, and of two the worse one counts."""
    answer = None if told is None else Pain(told)
    history = with_mornings(
        with_last(ready_history(), pain_24h=answer, pain_48h=answer),
        morning(29, woken),
        morning(30, woken),
    )

    last = history.sessions[-1]

    assert next_day_pain(history, last) == worse
    assert two_day_pain(history, last) == worse


def test_the_ladder_climbs_one_dose_or_level_at_a_time() -> None:
    """From the lowest place to the top each place comes once, and above it nothing."""
    climbed = [Position(1, 1)]
    while (ahead := next_position(LADDER, climbed[-1])) is not None:
        climbed.append(ahead)

    assert climbed == [
        Position(number, dose)
        for number, one in enumerate(LADDER.levels, start=1)
        for dose in range(1, len(one.doses) + 1)
    ]


@pytest.mark.parametrize(
    "position",
    [
        pytest.param(Position(0, 1), id="below the first level"),
        pytest.param(Position(2, 4), id="above the highest dose"),
    ],
)
def test_a_place_off_the_ladder_is_refused(position: Position) -> None:
    """No advice is made up for a place that the protocol does not have."""
    history = ready_history(moves=moves((-40, position)))

    with pytest.raises(HistoryError, match="position on the ladder"):
        advise(history, LADDER, TODAY)
    with pytest.raises(HistoryError, match="position on the ladder"):
        one_level_lower(LADDER, position)
    with pytest.raises(HistoryError, match="position on the ladder"):
        one_dose_lower(LADDER, position)


def test_a_protocol_for_the_other_tendon_is_refused() -> None:
    """A mid-portion protocol gives no advice on an insertional tendon."""
    protocol = replace(LADDER, tendon=Tendon.MID_PORTION)

    with pytest.raises(HistoryError, match="insertional"):
        advise(ready_history(tendon=Tendon.INSERTIONAL), protocol, TODAY)


def test_a_ladder_of_hops_alone_is_refused_while_the_gate_is_closed() -> None:
    """Where no level is open nothing is advised instead."""
    protocol = replace(LADDER, levels=(level("hops", doses=2, hops=True),))

    with pytest.raises(HistoryError, match="found none"):
        advise(ready_history(moves=moves((-40, Position(1, 1)))), protocol, TODAY)


@pytest.mark.parametrize(
    "changes",
    [
        pytest.param({"moves": ()}, id="no move"),
        pytest.param({"mornings": (morning(2), morning(1))}, id="mornings out of order"),
        pytest.param({"rest_days": (day(2), day(1))}, id="rest days out of order"),
        pytest.param({"visa_a": ((day(2), 50), (day(1), 60))}, id="scores out of order"),
    ],
)
def test_a_history_that_contradicts_itself_is_refused(changes: dict[str, object]) -> None:
    """A history out of order never comes to be."""
    with pytest.raises(HistoryError):
        ready_history(**changes)
