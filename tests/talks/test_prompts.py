"""Prompts: what is asked, in one segment, and what becomes of the questions before."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta

import pytest
from talks.talking import SITUATION, TODAY, ZONE, Conversation, evening, morning

from dialogs import patient
from dialogs.catalogues import languages
from dialogs.rendering import render, segments
from dialogs.turn import Answer, Question, Situation, State

MORNING = (Question.FIRST_STEP_PAIN, Question.STIFFNESS)
EVENING = (Question.SETS_DONE,)
LONG_NAME = "Maximiliane-Alexandrina Featherstonehaugh-Cholmondeley"


def said_by(situation: Situation, kind: str, asks: tuple[Question, ...]) -> str:
    """The text of a prompt."""
    turn = patient.open_prompt(kind, State(), situation, asks, {})
    return render(turn.said[0], situation)


@pytest.mark.parametrize("side", ["left", "both"])
def test_a_morning_with_both_follow_ups_fits_one_segment(side: str) -> None:
    """With the longest name; every other prompt is held to it in `test_templates`."""
    kind, asks = "morning", (*MORNING, Question.NEXT_DAY_PAIN, Question.TWO_DAY_PAIN)
    friday = SITUATION.now + timedelta(days=2)
    about = {Question.TWO_DAY_PAIN: TODAY}

    situation = replace(SITUATION, now=friday, patient_name=LONG_NAME, side=side)
    for prompt in (kind, kind + "-reminder"):
        state = patient.open_prompt(kind, State(), situation, asks, about).state
        turn = patient.open_prompt(prompt, state, situation, asks, about)
        text = render(turn.said[0], situation) if turn.said else ""

        assert segments(text).encoding == "GSM-7", text
        assert segments(text).count == 1, text


@pytest.mark.parametrize("language", languages())
def test_a_prompt_says_nothing_that_its_answer_may_change(language: str) -> None:
    """What to do today comes with the morning's answers, and is not announced before them."""
    session_day = replace(SITUATION, language=language)

    text = said_by(session_day, "morning", MORNING)

    assert text == said_by(replace(session_day, prescription=None), "morning", MORNING)


def test_a_long_prompt_is_cut_from_the_least_needed() -> None:
    """The name goes first; the greeting stays as long as it fits."""
    asks = (*MORNING, Question.TWO_DAY_PAIN)

    text = said_by(replace(SITUATION, patient_name=LONG_NAME), "morning", asks)

    assert text.startswith("Good morning.")


def test_the_same_question_is_not_doubled() -> None:
    """A second prompt of the morning asks again, but nothing waits twice."""
    talk = morning()

    talk.prompt("morning", *MORNING)

    assert talk.waits_for == ["first-step-pain", "stiffness"]


def test_a_reminder_asks_only_what_still_waits() -> None:
    """A reminder after one answer asks for the other."""
    talk = morning().says("3")

    talk.prompt("morning-reminder", *MORNING)

    assert "0-10" not in talk.hears
    assert "reminder" in talk.hears
    assert talk.waits_for == ["stiffness"]


def test_a_reminder_of_nothing_is_not_said() -> None:
    """Where all is answered, or was skipped, a reminder says nothing."""
    answered = morning().says("3 10").prompt("morning-reminder", *MORNING)
    skipped = morning().says("skip").prompt("morning-reminder", *MORNING)

    assert answered.turn.said == ()
    assert skipped.turn.said == ()


def test_the_evening_drops_the_morning() -> None:
    """What was not said of the morning is not filled in at night."""
    talk = morning().prompt("evening", *EVENING)

    assert "first-step-pain" not in talk.waits_for
    assert talk.waits_for[0] == "sets-done"


def test_the_evening_asks_nothing_of_a_session_reported_before() -> None:
    """Who said done and reported is not asked again in the evening."""
    talk = Conversation().knows(last_session_on=TODAY)

    talk.prompt("evening", *EVENING)

    assert talk.turn.said == ()
    assert talk.waits_for == []


def test_the_evening_goes_on_with_a_report_begun_before() -> None:
    """A report that was begun is asked on from where it stopped."""
    talk = Conversation().says("done 3 2 1").knows(last_session_on=TODAY)

    talk.prompt("evening", *EVENING)

    assert talk.waits_for == ["effort", "painkiller", "activity-minutes"]


REPORT_AGES = {
    "at the limit": (date(2026, 3, 5), True),
    "over the limit": (date(2026, 3, 6), False),
}


@pytest.mark.parametrize(("on", "kept"), REPORT_AGES.values(), ids=REPORT_AGES)
def test_an_old_report_is_not_asked_for_ever(on: date, kept: bool) -> None:
    """An unfinished session report is dropped on the second morning."""
    talk = evening().knows(now=datetime.combine(on, time(7, 0), ZONE), last_session_on=None)

    talk.prompt("morning", *MORNING)

    assert ("sets-done" in talk.waits_for) is kept


def test_a_report_of_yesterday_is_asked_as_yesterdays() -> None:
    """The open questions of an older session say which day they are about."""
    talk = evening().knows(now=datetime.combine(date(2026, 3, 5), time(7, 0), ZONE))

    talk.prompt("morning", *MORNING).says("3 10")

    assert "About yesterday's session" in talk.hears


def test_what_the_rules_do_not_wait_for_is_not_asked_again() -> None:
    """Effort and the rest of a report are asked in the evening alone."""
    talk = Conversation().says("done 3 2 1")
    talk.knows(now=datetime.combine(date(2026, 3, 5), time(7, 0), ZONE))

    talk.prompt("morning", *MORNING)

    assert talk.waits_for == ["first-step-pain", "stiffness"]


SESSION_ON = date(2026, 3, 2)
TWO_DAY_WORDINGS = {
    "the first day is known": ("en", SESSION_ON, "Worst tendon pain in the last 24 hours, 0-10?"),
    "another day is known": ("en", date(2026, 3, 1), "from Monday's session to now, 0-10?"),
    "in Spanish": ("es", date(2026, 3, 1), "desde la sesión del lunes hasta ahora, 0-10?"),
}


@pytest.mark.parametrize(
    ("language", "known", "text"), TWO_DAY_WORDINGS.values(), ids=TWO_DAY_WORDINGS
)
def test_the_two_day_question_covers_a_first_day_that_is_missing(
    language: str, known: date, text: str
) -> None:
    """It asks for the last 24 hours; for all since the session where those before are unknown."""
    answered = (Answer(Question.NEXT_DAY_PAIN, known, 2),)
    situation = replace(SITUATION, language=language, answered=answered)
    about = {Question.TWO_DAY_PAIN: SESSION_ON}

    turn = patient.open_prompt("follow-up", State(), situation, (Question.TWO_DAY_PAIN,), about)

    assert text in render(turn.said[0], situation)


def test_both_sides_are_asked_about_the_worse_one() -> None:
    """A patient with two sore tendons reads that the worse side is meant."""
    text = said_by(replace(SITUATION, side="both"), "morning", MORNING)

    assert "Worse side" in text
