"""The clinician's word of the day: above all numbers, below a warning sign and a pause."""

from __future__ import annotations

from dataclasses import replace

import pytest
from decides.building import (
    LADDER,
    TODAY,
    day,
    morning,
    moves,
    ready_history,
    session,
    sessions_until,
    with_last,
    with_mornings,
)

from rules.advice import advise
from rules.history import DayWord, History, LoadingStop, Pause, Says, Tier
from rules.protocol import Position
from rules.quantities import Pain
from rules.reasons import Action, Reason

GO_ON = (DayWord(TODAY, Says.GO_ON, "Dr Moss"),)
REST = (DayWord(TODAY, Says.REST, "Dr Moss"),)
SIGN = (LoadingStop("leg-clot", Tier.SAME_DAY, day(29)),)
PAUSED = (Pause(day(28)),)
SORE = with_mornings(ready_history(), morning(30, 7))
OVER_LIMIT = with_last(ready_history(), pain_during=Pain(8))
RECOVERING = ready_history(sessions=(*sessions_until(28), session(29)))


@pytest.mark.parametrize(
    ("history", "action", "reason"),
    [
        pytest.param(
            replace(ready_history(), day_words=REST), Action.REST_DAY, Reason.CLINICIAN_SAYS_REST,
            id="rest, though ready to advance",
        ),
        pytest.param(
            replace(OVER_LIMIT, day_words=REST), Action.REST_DAY, Reason.CLINICIAN_SAYS_REST,
            id="rest, though a step back is due",
        ),
        pytest.param(
            replace(SORE, day_words=GO_ON), Action.HOLD, Reason.CLINICIAN_SAYS_GO_ON,
            id="go on, though the morning is sore",
        ),
        pytest.param(
            replace(OVER_LIMIT, day_words=GO_ON), Action.HOLD, Reason.CLINICIAN_SAYS_GO_ON,
            id="go on, though a step back is due",
        ),
        pytest.param(
            replace(RECOVERING, day_words=GO_ON), Action.HOLD, Reason.CLINICIAN_SAYS_GO_ON,
            id="go on, though yesterday had a session",
        ),
        pytest.param(
            replace(SORE, day_words=GO_ON, loading_stops=SIGN), Action.STOP, Reason.WARNING_SIGN,
            id="a warning sign stands above go on",
        ),
        pytest.param(
            replace(SORE, day_words=GO_ON, pauses=PAUSED), Action.REST_DAY, Reason.PAUSED,
            id="a pause stands above go on",
        ),
    ],
)  # fmt: skip
def test_the_word_decides_the_day(history: History, action: Action, reason: Reason) -> None:
    """What the clinician said about today is what the patient is told; the place stays."""
    advice = advise(history, LADDER, TODAY)

    assert (advice.action, advice.reason) == (action, reason)
    assert advice.position == history.position


def test_go_on_keeps_the_dose_after_a_break() -> None:
    """The clinician's word is about the present dose, where the rules would lower it."""
    late = day(45)
    history = replace(ready_history(), day_words=(DayWord(late, Says.GO_ON, "Dr Moss"),))

    advice = advise(history, LADDER, late)

    assert (advice.reason, advice.position) == (Reason.CLINICIAN_SAYS_GO_ON, Position(2, 3))
    assert Reason.AFTER_A_BREAK in [finding.reason for finding in advice.also]


def test_go_on_does_not_open_the_gate() -> None:
    """Hops stay behind the gate: the nearest open level below is loaded."""
    history = ready_history(moves=moves((-40, Position(4, 1))), day_words=GO_ON)

    advice = advise(history, LADDER, TODAY)

    assert (advice.action, advice.position) == (Action.HOLD, Position(3, 1))


def test_the_next_day_is_for_the_rules_again() -> None:
    """What was due before the word is due after it."""
    history = replace(OVER_LIMIT, day_words=GO_ON)

    advice = advise(history, LADDER, day(31))

    assert (advice.action, advice.reason) == (Action.STEP_BACK, Reason.PAIN_FAR_OVER_LIMIT)


def test_what_the_session_told_is_for_the_rules_on_the_same_day() -> None:
    """Once the session of the word is done, a pain far over the limit steps back at once."""
    done = (*sessions_until(28), session(30, pain_during=Pain(7)))

    advice = advise(ready_history(sessions=done, day_words=GO_ON), LADDER, TODAY)

    assert (advice.action, advice.reason) == (Action.STEP_BACK, Reason.PAIN_FAR_OVER_LIMIT)
