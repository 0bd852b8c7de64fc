"""Which messages the dialog takes whole, so that nothing of them is left to be read again."""

from __future__ import annotations

import pytest
from talks.talking import Conversation, morning

from dialogs import patient
from dialogs.turn import Message, State, took_all

MESSAGES = {
    "both answers": ("3 10", True),
    "one of two answers": ("3", True),
    "a wish": ("pause until friday", True),
    "an answer and words": ("3 10 and the parrot has learned to count", False),
    "words alone": ("the parrot has learned to count", False),
    "a number out of range": ("30 900", False),
}


@pytest.mark.parametrize(("text", "whole"), MESSAGES.values(), ids=MESSAGES)
def test_a_message_is_taken_whole_where_nothing_is_left_over(text: str, whole: bool) -> None:
    """Answers and wishes are; what was not understood, or not all of it, is not."""
    talk = morning()

    turn = patient.step(talk.state, Message(text), talk.situation)

    assert took_all(talk.state, turn) is whole


def test_an_answer_that_is_only_kept_counts_too() -> None:
    """In the enrolment an answer is recorded at the end; the next question shows it was taken."""
    situation = Conversation().knows(enrolled=False, side="").situation
    asked = patient.open_enrolment(State(), situation)

    turn = patient.step(asked.state, Message("yes"), situation)
    then = patient.step(turn.state, Message("London"), situation)

    assert took_all(turn.state, then)


def test_a_number_that_nobody_asked_for_is_not_taken_yet() -> None:
    """While the bot asks what it belongs to, it stands open."""
    talk = Conversation()

    turn = patient.step(talk.state, Message("4 and it is odd"), talk.situation)

    assert not took_all(talk.state, turn)
