"""Conversations with a patient, turn by turn."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from talks.talking import SITUATION, TODAY, ZONE, Conversation, evening, morning

from dialogs import patient
from dialogs.memory import read_state, state_text
from dialogs.rendering import render
from dialogs.turn import (
    Answer,
    Asked,
    Completed,
    Message,
    OptedIn,
    OptedOut,
    Question,
    Remark,
    SignAnswered,
    Skipped,
    State,
    Unread,
)
from dialogs.wishes import PauseAsked, PersonAsked, PlanAsked, ResumeAsked, TopicsAsked, WhyAsked
from rules.history import Tier
from rules.warning_sign import Sign

YESTERDAY = date(2026, 3, 3)
RUPTURE = Sign("tendon-rupture", Tier.EMERGENCY, "pop", "Did you feel a pop? YES or NO.", "-")
CLOT = Sign("leg-clot", Tier.SAME_DAY, "calf", "Is one calf swollen? YES or NO.", "-")


# The morning


def test_both_numbers_complete_the_morning() -> None:
    """Two numbers answer both questions, and the reply is left to the advice."""
    talk = morning().says("3 10")

    assert talk.answers == {"first-step-pain": 3, "stiffness": 10}
    assert Completed("morning", TODAY) in talk.recorded
    assert talk.hears == ""
    assert talk.waits_for == []


def test_one_number_answers_the_first_and_the_second_is_asked() -> None:
    """A single number is the first question's, and only the second is put again."""
    talk = morning().says("3")

    assert talk.answers == {"first-step-pain": 3}
    assert talk.waits_for == ["stiffness"]
    assert "minutes" in talk.hears
    assert "0-10" not in talk.hears


def test_what_was_chosen_from_a_range_is_said_back() -> None:
    """The higher end of a range is recorded and named."""
    talk = morning().says("3-4 10")

    assert talk.answers["first-step-pain"] == 4
    assert "4 for first-step pain. That is the higher" in talk.hears


def test_words_beside_an_answer_go_to_the_clinician() -> None:
    """Words after the numbers are kept for the clinician, and the patient is told so."""
    talk = morning().says("3 10 but the heel is a bit red")

    assert talk.answers == {"first-step-pain": 3, "stiffness": 10}
    assert Remark("but the heel is a bit red") in talk.recorded
    assert "Dr Moss will see your words" in talk.hears


def test_three_tries_go_from_a_question_to_choices_to_the_clinician() -> None:
    """First asked again, then offered choices, then shown to the clinician, still waiting."""
    first = morning().says("banana")
    first_heard, first_recorded = first.hears, first.recorded
    second = first.says("banana")
    second_heard, second_recorded = second.hears, second.recorded
    third = second.says("banana")

    assert "could not read" in first_heard
    assert "Let us try it this way" in second_heard
    assert (first_recorded, second_recorded) == ((), ())
    assert third.recorded == (Unread("banana"),)
    assert third.waits_for == ["first-step-pain", "stiffness"]


def test_an_answer_out_of_range_is_asked_again_with_the_range() -> None:
    """A number beyond the scale is refused by naming the scale."""
    talk = morning().says("12")

    assert talk.answers == {}
    assert "0 to 10" in talk.hears


@pytest.mark.parametrize(("letter", "minutes"), [("a", 0), ("B", 5), ("c.", 15), ("d", 30)])
def test_lettered_minutes_count_once_they_were_offered(letter: str, minutes: int) -> None:
    """After two tries minutes can be chosen by letter, so that no number is mistaken."""
    talk = morning().says("3", "um", "hm", letter)

    assert talk.answers == {"stiffness": minutes}


def test_a_letter_means_nothing_before_it_was_offered() -> None:
    """A letter is no answer while no choices were offered."""
    talk = morning().says("3", "b")

    assert talk.answers == {}


def test_a_long_sentence_is_shown_to_the_clinician_at_once() -> None:
    """A message that tells something is kept at the first try, and the question is put again."""
    talk = morning().says("we went to see the lake yesterday")

    assert talk.recorded == (Unread("we went to see the lake yesterday"),)
    assert talk.waits_for == ["first-step-pain", "stiffness"]


@pytest.mark.parametrize(("length", "read"), [(319, True), (320, True), (321, False)])
def test_a_long_letter_is_not_searched_for_numbers(length: int, read: bool) -> None:
    """A text of more than two SMS is kept for the clinician whole, and answers nothing."""
    text = "3 10, and then " + "la " * 120
    talk = morning().says(text[:length])

    assert (talk.answers == {"first-step-pain": 3, "stiffness": 10}) is read
    assert any(isinstance(recorded, Unread) for recorded in talk.recorded)


def test_a_follow_up_in_the_morning_holds_the_advice_until_it_is_answered() -> None:
    """The morning is complete only together with the follow-up asked in the same message."""
    talk = Conversation()
    asks = (Question.FIRST_STEP_PAIN, Question.STIFFNESS, Question.TWO_DAY_PAIN)
    about = {Question.TWO_DAY_PAIN: date(2026, 3, 2)}
    turn = patient.open_prompt("morning", talk.state, talk.situation, asks, about)
    talk.state = turn.state

    talk.says("3 10")
    before = talk.recorded
    talk.says("2")

    assert not any(isinstance(recorded, Completed) for recorded in before)
    assert talk.recorded == (
        Answer(Question.TWO_DAY_PAIN, date(2026, 3, 2), 2),
        Completed("morning", TODAY),
        Completed("follow-up", date(2026, 3, 2)),
    )


# Buttons


def test_a_button_answers_its_own_question() -> None:
    """The pad under the morning message answers its first question, as it says; then the next."""
    talk = morning()
    pad = talk.turn.said[0].choices

    talk.presses(pad[0][3].answer, pad[0][3].asked)

    assert [[choice.label for choice in row] for row in pad] == [
        ["1) 0", "1) 1", "1) 2", "1) 3", "1) 4", "1) 5"],
        ["1) 6", "1) 7", "1) 8", "1) 9", "1) 10"],
    ]
    assert talk.answers == {"first-step-pain": 3}
    assert talk.waits_for == ["stiffness"]


def test_an_old_button_answers_its_own_day() -> None:
    """A button of yesterday's question never answers today's; it counts for yesterday."""
    talk = morning()
    before = talk.waits_for

    talk.presses("5", Asked(Question.FIRST_STEP_PAIN, YESTERDAY))

    assert talk.recorded[0] == Answer(Question.FIRST_STEP_PAIN, YESTERDAY, 5)
    assert talk.waits_for == before


def test_an_old_button_changes_nothing_that_is_answered() -> None:
    """Where yesterday has its answer, yesterday's button is dead."""
    talk = morning().knows(answered=(Answer(Question.FIRST_STEP_PAIN, YESTERDAY, 3),))
    before = talk.state

    talk.presses("5", Asked(Question.FIRST_STEP_PAIN, YESTERDAY))

    assert talk.recorded == ()
    assert talk.state == before
    assert "nothing was changed" in talk.hears


def test_a_button_a_week_old_changes_nothing() -> None:
    """After three days nobody remembers: the button is dead."""
    talk = morning()

    talk.presses("5", Asked(Question.FIRST_STEP_PAIN, TODAY - timedelta(days=7)))

    assert talk.recorded == ()
    assert "nothing was changed" in talk.hears


def test_a_button_pressed_twice_counts_once() -> None:
    """The second press of the same button finds its question answered."""
    talk = morning()
    asked = talk.state.waiting[0]

    talk.presses("3", asked).presses("4", asked)

    assert talk.recorded == ()
    assert "nothing was changed" in talk.hears


# The session


def test_a_whole_session_report() -> None:
    """Two messages, one after the other, and the session is complete."""
    talk = evening().says("3 2 1 4")
    first = talk.answers
    talk.says("no 30")

    assert first == {"sets-done": 3, "pain-during": 2, "pain-after": 1, "effort": 4}
    assert talk.answers == {"painkiller": 0, "activity-minutes": 30}
    assert Completed("session", TODAY) in talk.recorded
    assert talk.waits_for == []


@pytest.mark.parametrize(
    ("over", "text", "asked"),
    [
        pytest.param(30, "no 31", True, id="a spike"),
        pytest.param(30, "no 30", False, id="as long as usual"),
        pytest.param(30, "no no", False, id="none"),
        pytest.param(None, "no 90", False, id="too little on record to tell"),
    ],
)
def test_only_of_a_spike_the_effort_is_asked(over: int | None, text: str, asked: bool) -> None:
    """What other activity cost decides nothing: it is asked where a clinician would want it."""
    talk = evening().knows(spike_over=over).says("3 2 1 4", text)

    assert talk.waits_for == (["activity-effort"] if asked else [])
    assert (Completed("session", TODAY) in talk.recorded) is not asked
    if asked:
        talk.says("5")
        assert talk.answers == {"activity-effort": 5}


@pytest.mark.parametrize("text", ["no", "0", "none", "didn't do it", "no time", "not today"])
def test_no_sets_end_the_report_without_a_session(text: str) -> None:
    """Where nothing was done nothing more is asked, and no session is completed."""
    talk = evening().says(text)

    assert talk.recorded == (Answer(Question.SETS_DONE, TODAY, 0),)
    assert talk.waits_for == []
    assert "That is fine" in talk.hears


def test_done_opens_the_report_of_today() -> None:
    """The word done asks the session's first three questions."""
    talk = Conversation().says("Done!")

    assert talk.waits_for[:3] == ["sets-done", "pain-during", "pain-after"]
    assert "Sets done of 3" in talk.hears


def test_done_with_its_numbers_is_read_at_once() -> None:
    """Numbers after the word done answer the first three questions."""
    talk = Conversation().says("done 3 2 1")

    assert talk.answers == {"sets-done": 3, "pain-during": 2, "pain-after": 1}
    assert talk.waits_for[0] == "effort"


def test_done_after_a_reported_session_asks_nothing_again() -> None:
    """A session of today that is reported is not asked about a second time."""
    talk = Conversation().knows(last_session_on=TODAY).says("done")

    assert talk.waits_for == []
    assert "I have today's session" in talk.hears


def test_an_unfinished_report_survives_the_next_morning() -> None:
    """Yesterday's open session questions come back behind this morning's."""
    talk = evening().says("3")
    tomorrow = datetime.combine(date(2026, 3, 5), time(7, 30), ZONE)
    talk.knows(now=tomorrow)

    talk.prompt("morning", Question.FIRST_STEP_PAIN, Question.STIFFNESS).says("3 10")

    assert Completed("morning", tomorrow.date()) in talk.recorded
    assert talk.waits_for == ["pain-during", "pain-after"]
    assert talk.turn.said == ()
    assert [said.template for said in talk.turn.said_after] == ["ask"]


def test_a_new_morning_drops_the_old_one() -> None:
    """An answer given today never lands on yesterday."""
    talk = morning()
    tomorrow = datetime.combine(date(2026, 3, 5), time(7, 30), ZONE)

    talk.knows(now=tomorrow).prompt("morning", Question.FIRST_STEP_PAIN, Question.STIFFNESS)

    assert {asked.about for asked in talk.state.waiting} == {date(2026, 3, 5)}
    assert talk.waits_for == ["first-step-pain", "stiffness"]


# Corrections


def test_sorry_corrects_the_answer_before() -> None:
    """A number after sorry replaces the last answer, said back, and the next question stays."""
    talk = morning().says("3", "sorry, 5")

    assert talk.recorded == (Answer(Question.FIRST_STEP_PAIN, TODAY, 5, corrects=True),)
    assert "first-step pain is now 5" in talk.hears
    assert talk.waits_for == ["stiffness"]


@pytest.mark.parametrize("text", ["oops 5", "no, 5", "I meant 5", "Sorry 5", "correction: 5"])
def test_a_correction_has_several_openings(text: str) -> None:
    """Each of the words that take something back works alike."""
    talk = morning().says("3", text)

    assert talk.answers == {"first-step-pain": 5}


def test_one_number_for_two_answers_is_asked_about() -> None:
    """After two pains in one message a single number might mean either, so it is asked."""
    talk = evening().says("3 2 1 4", "sorry 3")

    assert talk.recorded == ()
    assert "Which number was wrong" in talk.hears


def test_both_numbers_correct_both_answers() -> None:
    """After two answers in one message two numbers replace both."""
    talk = morning().says("3 10", "sorry 4 15")

    assert talk.answers == {"first-step-pain": 4, "stiffness": 15}
    assert all(isinstance(r, Answer) and r.corrects for r in talk.recorded)


def test_a_label_tells_which_answer_is_corrected() -> None:
    """A named number replaces the answer it names."""
    talk = morning().says("3 10", "sorry, stiffness 20")

    assert talk.answers == {"stiffness": 20}


def test_a_no_that_may_be_an_answer_is_no_correction() -> None:
    """With a yes-or-no question waiting, no answers it."""
    talk = evening().says("3 2 1", "no, 4")

    assert talk.answers == {"effort": 4, "painkiller": 0}


def test_an_undone_session_comes_back_by_correction() -> None:
    """Sets after all bring the session's other questions back."""
    talk = evening().says("0", "sorry, 3")

    assert talk.answers == {"sets-done": 3}
    assert talk.waits_for[:2] == ["pain-during", "pain-after"]


def test_an_edited_message_is_read_again() -> None:
    """An edit replaces the answers that the message gave."""
    asked = (Asked(Question.FIRST_STEP_PAIN, TODAY), Asked(Question.STIFFNESS, TODAY))

    turn = patient.correct(State(), asked, "4 15", SITUATION)

    assert turn.recorded == (
        Answer(Question.FIRST_STEP_PAIN, TODAY, 4, corrects=True),
        Answer(Question.STIFFNESS, TODAY, 15, corrects=True),
    )


def test_an_edit_that_cannot_be_read_changes_nothing() -> None:
    """An unreadable edit goes to the clinician and leaves the answers alone."""
    asked = (Asked(Question.FIRST_STEP_PAIN, TODAY),)

    turn = patient.correct(State(), asked, "not so bad", SITUATION)

    assert turn.recorded == (Unread("not so bad"),)


# Keywords


KEYWORDS = {
    "stop": ("STOP", (OptedOut(),)),
    "why": ("Why?", (WhyAsked(),)),
    "plan": ("plan", (PlanAsked(),)),
    "a person": ("talk to someone", (PersonAsked(),)),
    "a week off": ("pause for a week", (PauseAsked(date(2026, 3, 10)),)),
    "until a date": ("Pause until 3 May", (PauseAsked(date(2026, 5, 3)),)),
    "back again": ("resume", (ResumeAsked(),)),
    "thanks": ("Thanks!", (TopicsAsked((), plain=True),)),
    "help": ("HELP", ()),
    "hello": ("hello", ()),
}


@pytest.mark.parametrize(("text", "recorded"), KEYWORDS.values(), ids=KEYWORDS)
def test_a_keyword_is_recorded(text: str, recorded: tuple[object, ...]) -> None:
    """Each keyword leads to its record, and to nothing else."""
    talk = Conversation().says(text)

    assert talk.recorded == recorded


@pytest.mark.parametrize("text", ["should I stop?", "end of the day it hurt", "quit after 2 sets"])
def test_stop_in_a_sentence_keeps_the_patient(text: str) -> None:
    """A sentence with an opt-out word in it goes to the clinician and opts nobody out."""
    talk = Conversation().says(text)

    assert OptedOut() not in talk.recorded
    assert Unread(text) in talk.recorded


def test_stop_empties_the_queue_and_is_confirmed_once() -> None:
    """After STOP nothing waits, and the one confirmation names the way back."""
    talk = morning().says("stop")

    assert talk.waits_for == []
    assert "START" in talk.hears


def test_who_left_is_sent_nothing() -> None:
    """After the opt-out words are still kept, but nothing is sent."""
    talk = Conversation().knows(opted_out=True).says("is anybody there")

    assert talk.recorded == (Unread("is anybody there"),)
    assert talk.hears == ""


@pytest.mark.parametrize("text", ["START", "unstop", "Yes"])
def test_who_left_comes_back_by_start(text: str) -> None:
    """START and its kin, and a yes, undo the opt-out."""
    talk = Conversation().knows(opted_out=True).says(text)

    assert talk.recorded == (OptedIn(),)


def test_yes_answers_the_question_that_waits() -> None:
    """YES with a yes-or-no question waiting is its answer."""
    talk = evening().says("3 2 1", "4", "YES")

    assert talk.answers == {"painkiller": 1}


def test_skip_drops_what_waits_kindly() -> None:
    """Skipped questions are named in the record and wait no more."""
    talk = morning()
    waiting = talk.state.waiting

    talk.says("skip")

    assert talk.recorded == (Skipped(waiting),)
    assert talk.waits_for == []
    assert "That is fine" in talk.hears


def test_skipping_the_follow_up_lets_the_morning_be_complete() -> None:
    """A morning held for a follow-up is told once that is skipped."""
    talk = Conversation()
    asks = (Question.FIRST_STEP_PAIN, Question.STIFFNESS, Question.TWO_DAY_PAIN)

    talk.prompt("morning", *asks).says("3 10", "skip")

    assert Completed("morning", TODAY) in talk.recorded


def test_a_pause_without_an_end_is_asked_for_one() -> None:
    """Pause alone does not guess for how long."""
    talk = Conversation().says("pause")

    assert talk.recorded == ()
    assert "For how long" in talk.hears


def test_a_pause_inside_a_longer_message_is_not_swallowed() -> None:
    """Words that tell more than a pause go to the clinician."""
    talk = Conversation().says("away from home and my calf feels strange")

    assert talk.recorded == (Unread("away from home and my calf feels strange"),)


def test_thanks_with_a_question_waiting_puts_it_again() -> None:
    """A courtesy is no failed try."""
    talk = morning().says("ok")

    assert talk.state.waiting[0].tries == 0
    assert "0-10" in talk.hears


# Nothing waits


def test_a_number_out_of_nowhere_is_asked_about() -> None:
    """A number with nothing waiting is neither guessed nor dropped."""
    talk = Conversation().says("10")
    asked = talk.hears
    talk.says("1")

    assert "What is the 10 about" in asked
    assert Answer(Question.FIRST_STEP_PAIN, TODAY, 10, corrects=True) in talk.recorded


def test_a_number_that_stays_unclear_goes_to_the_clinician() -> None:
    """Number and explanation are shown to the clinician together."""
    talk = Conversation().says("7", "my new shoes")

    assert talk.recorded == (Unread("7 / my new shoes"),)
    assert "Dr Moss will see this" in talk.hears


def test_unknown_words_go_to_the_clinician() -> None:
    """What is neither an answer nor understood is kept and the patient is told."""
    talk = Conversation().says("my calf feels odd")

    assert talk.recorded == (Unread("my calf feels odd"),)
    assert "Dr Moss will see this" in talk.hears


# Closed questions about signs


def with_signs() -> Conversation:
    """The morning's questions wait, and two signs are asked about before them."""
    talk = morning()
    talk.turn = patient.ask_sign(talk.state, (RUPTURE, CLOT), SITUATION)
    talk.state = talk.turn.state
    return talk


def test_a_closed_question_comes_first() -> None:
    """A sign is asked about before anything else that waits."""
    talk = with_signs()

    assert talk.waits_for == ["sign", "sign", "first-step-pain", "stiffness"]
    assert talk.hears == "Did you feel a pop? YES or NO."


def test_no_to_a_sign_goes_on_to_the_next() -> None:
    """A plain no is recorded and the next question is put."""
    talk = with_signs().says("no")

    assert talk.recorded == (SignAnswered("tendon-rupture", False),)
    assert "Is one calf swollen" in talk.hears


@pytest.mark.parametrize("text", ["yes", "Yes it did", "yes I did", "not sure", "maybe"])
def test_yes_and_not_sure_count_as_the_sign(text: str) -> None:
    """Where the patient cannot tell a person must, so unsure counts as yes."""
    talk = with_signs().says(text)

    assert talk.recorded[0] == SignAnswered("tendon-rupture", True)
    assert talk.turn.said == ()


def test_numbers_under_a_closed_question_are_kept() -> None:
    """Answers to the morning are taken although a sign is asked about first."""
    talk = with_signs().says("3 10")

    assert talk.answers == {"first-step-pain": 3, "stiffness": 10}
    assert talk.waits_for == ["sign", "sign"]


def test_skip_does_not_skip_a_sign() -> None:
    """A closed question about a sign stays until it is answered."""
    talk = with_signs().says("skip")

    assert talk.waits_for == ["sign", "sign"]
    assert "Did you feel a pop" in talk.hears


def test_a_sign_asked_about_already_is_not_asked_twice() -> None:
    """The same closed question does not wait twice."""
    talk = with_signs()

    turn = patient.ask_sign(talk.state, (RUPTURE,), SITUATION)

    assert turn.state == talk.state
    assert turn.said == ()


def test_signs_can_be_dropped_once_one_was_acted_on() -> None:
    """Nothing is left to ask about signs after they are dropped."""
    talk = with_signs()

    state = patient.drop_signs(talk.state)

    assert [asked.question for asked in state.waiting] == [
        Question.FIRST_STEP_PAIN,
        Question.STIFFNESS,
    ]


# Whatever comes


TALK = ["3", "3 10", "no", "yes", "done", "skip", "stop", "START", "sorry 4", "pause", "all", "x",
        "none", "10", "pause for a week", "7:30", "London", "left", "Why?", "my heel is odd today",
        "done 3 2 1", "1", "help", "ok", ""]  # fmt: skip
PROMPTS = [
    ("morning", (Question.FIRST_STEP_PAIN, Question.STIFFNESS, Question.TWO_DAY_PAIN)),
    ("evening", (Question.NEXT_DAY_PAIN, Question.SETS_DONE)),
    ("weekly", (Question.HEEL_RAISES,)),
    ("enrolment", ()),
]


@settings(max_examples=150)
@given(st.lists(st.sampled_from(TALK) | st.sampled_from(PROMPTS) | st.text(max_size=20)))
def test_no_conversation_breaks(moves: list[str | tuple[str, tuple[Question, ...]]]) -> None:
    """Any run of messages and prompts can be said, kept and read back, and asks nothing twice."""
    state = State()
    for move in moves:
        if isinstance(move, str):
            turn = patient.step(state, Message(move), SITUATION)
        elif move[0] == "enrolment":
            turn = patient.open_enrolment(state, SITUATION)
        else:
            turn = patient.open_prompt(move[0], state, SITUATION, move[1], {})

        texts = [render(said, SITUATION) for said in (*turn.said, *turn.said_after)]
        keys = [asked.key for asked in turn.state.waiting]
        assert all(texts)
        assert len(keys) == len(set(keys))
        assert read_state(state_text(turn.state)) == turn.state
        state = turn.state


def test_two_numbers_of_a_slip_are_the_mornings_beside_a_sheet() -> None:
    """ "sorry meant 1 10", where the message before also told two items."""
    asked = (Question.FIRST_STEP_PAIN, Question.STIFFNESS, Question.VISA_A_1, Question.VISA_A_2)
    talk = Conversation().prompt("morning", *asked).says("3 10 7 6", "sorry meant 1 10")

    assert talk.answers == {"first-step-pain": 1, "stiffness": 10}
