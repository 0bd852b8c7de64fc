"""A late answer goes to the question it answers, never over another one."""

from __future__ import annotations

from datetime import timedelta

import pytest
from talks.talking import TODAY, Conversation

from dialogs.turn import Answer, Asked, Question, State

MORNING = (Question.FIRST_STEP_PAIN, Question.STIFFNESS)
SESSION = (Question.SETS_DONE, Question.PAIN_DURING, Question.PAIN_AFTER, Question.EFFORT)
YESTERDAY = TODAY - timedelta(days=1)


def missing(*questions: Question) -> Conversation:
    """A conversation in which these questions about yesterday were not answered in time."""
    talk = Conversation()
    talk.state = State(missed=tuple(Asked(question, YESTERDAY) for question in questions))
    return talk


@pytest.mark.parametrize("text", ["2 10 3", "2 10 3 4"])
def test_the_morning_is_never_read_as_the_session_that_was_missed(text: str) -> None:
    """More numbers than the morning asks for are asked again, in its own form."""
    talk = missing(*SESSION).prompt("morning", *MORNING).says(text)

    assert talk.answers == {}
    assert talk.hears.endswith("Reply like: 3 10")


def test_what_the_follow_up_may_take_is_not_put_down_for_the_morning_that_was_missed() -> None:
    """The patient is asked which it is."""
    talk = missing(*MORNING).prompt("follow-up", Question.NEXT_DAY_PAIN).says("3 10")

    assert talk.answers == {}
    assert "What is the 3 10 about" in talk.hears


def test_a_follow_up_that_was_asked_last_takes_the_number_that_comes_too_late() -> None:
    """This morning's answers stay as they are, and the patient hears what the number is for."""
    talk = missing(Question.NEXT_DAY_PAIN).says("3")

    assert talk.recorded[0] == Answer(Question.NEXT_DAY_PAIN, YESTERDAY, 3)
    assert "the day after your session" in talk.hears


# How many days ago the session was, and what "2: pain after your session" is then about.
AFTER = {0: Question.PAIN_AFTER, 1: Question.NEXT_DAY_PAIN, 2: Question.TWO_DAY_PAIN}


@pytest.mark.parametrize(("ago", "question"), AFTER.items())
def test_pain_after_a_session_is_about_its_day(ago: int, question: Question) -> None:
    """What was told on an earlier day is not overwritten."""
    on = TODAY - timedelta(days=ago)
    talk = Conversation().knows(last_session_on=on).says("3", "2")

    assert talk.recorded[0] == Answer(question, on, 3, corrects=True)


def test_what_takes_the_place_of_an_answer_is_said_back() -> None:
    """A number that is told again for this morning never changes it silently."""
    known = (Answer(Question.FIRST_STEP_PAIN, TODAY, 2),)
    talk = Conversation().knows(answered=known).says("5", "1")

    assert "first-step pain is now 5" in talk.hears


def test_what_may_correct_this_morning_is_not_put_down_for_yesterday() -> None:
    """Yesterday's were missed and today's are told: the patient is asked which is meant."""
    today = tuple(Answer(question, TODAY, 5) for question in MORNING)
    talk = missing(*MORNING).knows(answered=today).says("5 or so, 20ish")

    assert talk.answers == {}
    assert "What is the 5 or so, 20ish about" in talk.hears


@pytest.mark.parametrize(("minutes", "is_read_back"), [("180", False), ("181", True)])
def test_a_very_long_stiffness_is_read_back(minutes: str, is_read_back: bool) -> None:
    """ "310" may be "3 10" run together."""
    talk = Conversation().prompt("morning", *MORNING).says("3", minutes)

    assert (f"stiffness {minutes}. Wrong?" in talk.hears) is is_read_back
