"""The enrolment dialog, from consent to the first morning."""

from __future__ import annotations

from dataclasses import replace
from datetime import time

import pytest
from talks.talking import SITUATION, Conversation

from dialogs import patient
from dialogs.turn import Answer, Consented, Declined, Enrolled, Question, State, Unread


def enrolling() -> Conversation:
    """A patient who has just followed the invitation."""
    talk = Conversation().knows(enrolled=False, side="")
    talk.turn = patient.open_enrolment(State(), talk.situation)
    talk.state = talk.turn.state
    return talk


def test_consent_says_what_it_is_and_what_it_is_not() -> None:
    """The first message names the clinic, the emergency number, STOP and the question."""
    talk = enrolling()

    for part in ("Hill Clinic", "not watched in an emergency", "112", "STOP", "YES or NO"):
        assert part in talk.hears


def test_the_whole_enrolment() -> None:
    """Seven answers enrol the patient, with the consent kept as it was worded."""
    talk = enrolling()
    shown = talk.hears
    consented = talk.says("Yes").recorded

    talk.says("Europe/London", "half past 7", "left", "3", "half an hour", "skip")

    assert consented == (Consented(shown),)
    assert talk.recorded == (Enrolled("Europe/London", time(7, 30), "left", 3, 30),)
    assert talk.state == State()
    assert "07:30" in talk.hears
    assert "not watched in an emergency" in talk.hears


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("run 5 km with my daughter", "run 5 km with my daughter"),
        ("  play football,\n with 2 friends ", "play football, with 2 friends"),
        ("to walk to work without thinking of it and to dance at the wedding of my sister in May",
         "to walk to work without thinking of it and to dance at..."),
        ("skip", None),
        ("no", None),
        ("3 10", None),
    ],
)  # fmt: skip
def test_the_goal_is_kept_in_the_patients_own_words_or_left_out(
    text: str, kept: str | None
) -> None:
    """It may be skipped, a number is none, and it never holds up the plan."""
    talk = enrolling().says("yes", "Europe/London", "7:30", "left", "3", "10", text)

    given = [str(one.value) for one in talk.recorded if isinstance(one, Answer)]
    assert given == ([] if kept is None else [kept])
    assert talk.waits_for == []


def test_a_no_to_consent_ends_kindly() -> None:
    """Without consent nothing waits and the refusal is recorded."""
    talk = enrolling().says("no thanks")

    assert talk.recorded == (Declined(),)
    assert talk.waits_for == []
    assert "That is fine" in talk.hears


def test_consent_is_never_guessed() -> None:
    """A question in reply is no consent."""
    talk = enrolling().says("yes?")

    assert talk.recorded == ()
    assert talk.waits_for[0] == "consent"


def test_a_guessed_zone_is_confirmed_by_the_time_there() -> None:
    """A city gives a zone that counts only once the patient has seen the time there."""
    talk = enrolling().says("yes", "new york")
    asked = talk.hears
    talk.says("yes")

    assert asked.startswith("Is it 03:00 where you are now?")
    assert talk.waits_for[0] == "morning-time"
    assert talk.state.gathered[0].value == "America/New_York"


def test_a_wrong_guess_is_asked_again() -> None:
    """A no to the time offered asks for another city."""
    talk = enrolling().says("yes", "new york", "no")

    assert talk.state.guess == ""
    assert talk.waits_for[0] == "time-zone"
    assert "city" in talk.hears


def test_another_city_replaces_the_guess() -> None:
    """Writing another city instead of yes or no changes what is offered."""
    talk = enrolling().says("yes", "new york", "Berlin")

    assert "09:00" in talk.hears


def test_a_button_confirms_the_zone() -> None:
    """The yes button under the time offered works like the word."""
    talk = enrolling().says("yes", "Berlin")
    button = talk.turn.said[0].choices[0][0]

    talk.presses(button.answer, button.asked)

    assert talk.waits_for[0] == "morning-time"


def test_a_place_that_is_never_understood_goes_to_the_clinician() -> None:
    """After three tries the text is shown to the clinician and the question stays."""
    talk = enrolling().says("yes", "somewhere", "somewhere", "somewhere")

    assert talk.recorded == (Unread("somewhere"),)
    assert talk.waits_for[0] == "time-zone"


def test_both_sides_are_asked_about_the_worse_one() -> None:
    """Who has two sore tendons is asked about the worse side from then on."""
    talk = enrolling().says("yes", "Europe/London", "7", "both")

    assert "worse side" in talk.hears


def test_a_number_on_the_scale_is_needed() -> None:
    """A usual pain over ten is refused with the range."""
    talk = enrolling().says("yes", "Europe/London", "7", "left", "11")

    assert "0 to 10" in talk.hears
    assert talk.waits_for[0] == "usual-pain"


def test_a_range_is_said_back_while_enrolling() -> None:
    """The higher end of a usual pain is taken and named, and words beside it are kept."""
    talk = enrolling().says("yes", "Europe/London", "7", "left", "3-4, but less in summer")

    assert talk.recorded == (Unread("but less in summer"),)
    assert "4 for usual pain" in talk.hears
    assert talk.waits_for[0] == "usual-stiffness"


@pytest.mark.parametrize(
    ("texts", "answers"),
    [
        pytest.param(["no"], ["rises-on-both"], id="cannot rise on both"),
        pytest.param(["yes", "no"], ["rises-on-both", "rises-on-one"], id="nor on one"),
        pytest.param(
            ["yes", "yes", "12"],
            ["rises-on-both", "rises-on-one", "rises-in-a-row"],
            id="in a row",
        ),
        pytest.param(["yes", "skip"], ["rises-on-both"], id="one skipped, and what follows"),
        pytest.param(["skip"], [], id="all skipped"),
    ],
)
def test_who_may_begin_higher_is_asked_what_they_can_do(
    texts: list[str], answers: list[str]
) -> None:
    """Three plain questions at most, each only where the one before leaves it open; then they are
    enrolled, whatever was said or skipped."""
    talk = Conversation().knows(enrolled=False, side="", asks_ability=True)
    talk.turn = patient.open_enrolment(State(), talk.situation)
    talk.state = talk.turn.state
    talk.says("yes", "Europe/London", "7:30", "left", "3", "10", "skip")
    asked = talk.hears
    talk.says(*texts)

    assert "on the toes of both feet ten times" in asked
    assert talk.recorded[0] == Enrolled("Europe/London", time(7, 30), "left", 3, 10)
    assert list(talk.answers) == answers
    assert talk.waits_for == []
    assert "We begin at the first step" in talk.hears


@pytest.mark.parametrize("text", ["skip", "pause", "why", "done"])
def test_enrolment_goes_on_whatever_keyword_comes(text: str) -> None:
    """A keyword of daily use does not lose the enrolment question."""
    talk = enrolling().says("yes", text)

    assert talk.waits_for[0] == "time-zone"


def test_stop_ends_the_enrolment() -> None:
    """STOP counts while enrolling as at any time."""
    talk = enrolling().says("stop")

    assert talk.waits_for == []


def test_start_opens_the_enrolment_again() -> None:
    """Who said no, or stopped in the middle, can begin afresh with START."""
    talk = enrolling().says("no", "start")

    assert talk.waits_for[0] == "consent"
    assert len(talk.waits_for) == 7


def test_the_questions_of_enrolment_have_their_order() -> None:
    """Consent comes first, and every enrolment question waits from the start."""
    turn = patient.open_enrolment(State(), replace(SITUATION, side=None))

    assert [asked.question for asked in turn.state.waiting] == [
        Question.CONSENT,
        Question.TIME_ZONE,
        Question.MORNING_TIME,
        Question.SIDE,
        Question.USUAL_PAIN,
        Question.USUAL_STIFFNESS,
        Question.GOAL,
    ]
