"""A patient's own days: mending, wishes, reports out of turn, answers late or about another day."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time, timedelta

import pytest
from talks.talking import SITUATION, TODAY, Conversation, evening, morning

from dialogs import patient
from dialogs.request_words import read_request_words, request_words
from dialogs.turn import (
    Answer,
    Asked,
    Completed,
    Message,
    OptedOut,
    Question,
    Remark,
    SignAnswered,
    Unread,
)
from dialogs.wishes import (
    ChannelChosen,
    LanguageChosen,
    MorningTimeChosen,
    PauseAsked,
    ProgressAsked,
    ZoneChosen,
)

YESTERDAY = TODAY - timedelta(days=1)
SESSION_ON = date(2026, 3, 2)

ON_RECORD = (
    Answer(Question.FIRST_STEP_PAIN, TODAY, 6),
    Answer(Question.STIFFNESS, TODAY, 10),
    Answer(Question.SETS_DONE, SESSION_ON, 3),
    Answer(Question.PAIN_DURING, SESSION_ON, 2),
    Answer(Question.PAIN_AFTER, SESSION_ON, 2),
    Answer(Question.EFFORT, SESSION_ON, 4),
    Answer(Question.NEXT_DAY_PAIN, SESSION_ON, 3),
    Answer(Question.TWO_DAY_PAIN, SESSION_ON, 1),
)


def known() -> Conversation:
    """A conversation with nothing waiting and a week's answers on record."""
    return Conversation().knows(answered=ON_RECORD)


# Mending


@pytest.mark.parametrize(
    ("text", "question", "about", "value"),
    [
        pytest.param("change morning to 2", Question.FIRST_STEP_PAIN, TODAY, 2, id="morning"),
        pytest.param("Change my morning pain to 2.", Question.FIRST_STEP_PAIN, TODAY, 2, id="mine"),
        pytest.param("morning should be 2", Question.FIRST_STEP_PAIN, TODAY, 2, id="should be"),
        pytest.param("sorry, stiffness was 20 min", Question.STIFFNESS, TODAY, 20, id="stiffness"),
        pytest.param("change during to 4", Question.PAIN_DURING, SESSION_ON, 4, id="during"),
        pytest.param(
            "please change pain after to 3", Question.PAIN_AFTER, SESSION_ON, 3, id="after"
        ),
        pytest.param("correct effort to 6", Question.EFFORT, SESSION_ON, 6, id="effort"),
        pytest.param("change 24 h to 5", Question.NEXT_DAY_PAIN, SESSION_ON, 5, id="24 hours"),
        pytest.param("48h should be 4", Question.TWO_DAY_PAIN, SESSION_ON, 4, id="48 hours"),
        pytest.param("change sets to 2", Question.SETS_DONE, SESSION_ON, 2, id="sets"),
    ],
)
def test_a_named_answer_is_corrected(
    text: str, question: Question, about: date, value: int
) -> None:
    """Each answer can be corrected by its name, and the correction is said back."""
    talk = known().says(text)

    assert talk.recorded[0] == Answer(question, about, value, corrects=True)
    assert f"is now {value}" in talk.hears


@pytest.mark.parametrize(
    ("days_ago", "changed"),
    [
        pytest.param(2, True, id="two days old"),
        pytest.param(3, True, id="three days old"),
        pytest.param(4, False, id="four days old"),
    ],
)
def test_a_correction_goes_back_three_days(days_ago: int, changed: bool) -> None:
    """Up to three days old an answer is changed; an older one goes to the clinician."""
    on = TODAY - timedelta(days=days_ago)
    talk = Conversation().knows(answered=(Answer(Question.FIRST_STEP_PAIN, on, 6),))

    talk.says("change morning to 2")

    wanted = (
        Answer(Question.FIRST_STEP_PAIN, on, 2, corrects=True)
        if changed
        else Unread("change morning to 2")
    )
    assert talk.recorded == (wanted,)
    assert ("more than three days" in talk.hears) is not changed


def test_a_correction_may_name_the_day() -> None:
    """ "change yesterday's morning to 2" is about yesterday, whatever came later."""
    kept = (*ON_RECORD, Answer(Question.FIRST_STEP_PAIN, YESTERDAY, 5))
    talk = Conversation().knows(answered=kept).says("change yesterday's morning to 2")

    assert talk.recorded == (Answer(Question.FIRST_STEP_PAIN, YESTERDAY, 2, corrects=True),)


def test_a_correction_out_of_range_changes_nothing() -> None:
    """A pain of 12 is asked again with its range."""
    talk = known().says("change morning to 12")

    assert talk.recorded == ()
    assert "0-10" in talk.hears


def test_a_correction_of_nothing_says_so() -> None:
    """Where there is no such answer, nothing is made up."""
    talk = Conversation().says("change morning to 2")

    assert talk.recorded == ()
    assert "no number" in talk.hears


def test_a_correction_of_what_waits_answers_it() -> None:
    """ "stiffness is 20" as a correction of a question still open is its answer."""
    talk = morning().says("4", "change stiffness to 20")

    assert talk.answers == {"stiffness": 20}
    assert Completed("morning", TODAY) in talk.recorded


@pytest.mark.parametrize("text", ["I will change my shoes", "set off early", "put the kettle on"])
def test_a_sentence_with_such_a_word_is_no_correction(text: str) -> None:
    """An opening word alone changes nothing."""
    talk = known().says(text)

    assert talk.answers == {}


# Wishes


@pytest.mark.parametrize(
    ("text", "wish"),
    [
        pytest.param("ask me at 6:45", MorningTimeChosen(time(6, 45)), id="time"),
        pytest.param("Please ask me at half past 8", MorningTimeChosen(time(8, 30)), id="in words"),
        pytest.param("I am in Lisbon till Sunday",
                     ZoneChosen("Europe/Lisbon", date(2026, 3, 8)), id="stay"),
        pytest.param("I'm in Lisbon for a week",
                     ZoneChosen("Europe/Lisbon", date(2026, 3, 10)), id="for a week"),
        pytest.param("I moved to Berlin", ZoneChosen("Europe/Berlin"), id="moved"),
        pytest.param("how am I doing?", ProgressAsked(), id="progress"),
        pytest.param("holiday till 12 March", PauseAsked(date(2026, 3, 12)), id="holiday"),
        pytest.param("I'm ill until Friday", PauseAsked(date(2026, 3, 6), asks=True), id="ill"),
        pytest.param("sick for a week", PauseAsked(date(2026, 3, 10), asks=True), id="sick"),
        pytest.param("don't text me any more", OptedOut(), id="opt-out in free words"),
    ],
)  # fmt: skip
def test_a_wish_is_recorded(text: str, wish: object) -> None:
    """Each wish leads to its record, and something is said."""
    talk = known().says(text)

    assert wish in talk.recorded
    assert talk.hears or isinstance(wish, ProgressAsked)


@pytest.mark.parametrize(
    "text",
    [
        "I am in pain",
        "I am in a lot of pain till the evening",
        "ill at ease about my heel",
        "ask me anything",
        "break it down for me",
    ],
)
def test_what_only_begins_like_a_wish_goes_to_the_clinician(text: str) -> None:
    """A sentence that only begins like one changes nothing."""
    talk = known().says(text)

    assert talk.recorded == (Unread(text),)


def test_a_time_that_is_no_morning_is_asked_for() -> None:
    """3 in the night is no time to ask: the range is told."""
    talk = known().says("ask me at 3 am")

    assert talk.recorded == ()
    assert "5:00 to 12:00" in talk.hears


def test_a_pause_with_more_in_it_is_seen_by_the_clinician() -> None:
    """A pause that tells something besides is kept, and its words are shown."""
    talk = known().says("away with my sister and the whole family till Sunday")

    assert talk.recorded[0] == PauseAsked(date(2026, 3, 8))
    assert isinstance(talk.recorded[1], Unread)


def test_another_channel_only_among_ones_own() -> None:
    """Who has a number for text messages is texted; who has none is told who can help."""
    with_text = known().knows(ways=("chat", "text")).says("text me instead")
    without = known().knows(ways=("chat",)).says("text me instead")

    assert with_text.recorded == (ChannelChosen("text"),)
    assert not any(isinstance(r, ChannelChosen) for r in without.recorded)
    assert "no number" in without.hears


def test_back_home_ends_a_stay_only_for_who_is_away() -> None:
    """ "I'm home" from somebody at home is just talk."""
    away = known().knows(away=True).says("I'm home")
    here = known().says("I'm home")

    assert away.recorded == (ZoneChosen(""),)
    assert here.recorded == (Unread("I'm home"),)


def test_a_wish_puts_the_waiting_question_again() -> None:
    """A wish in the middle of the morning's questions loses none of them."""
    talk = morning().says("ask me at 6:45")

    assert talk.waits_for == ["first-step-pain", "stiffness"]
    assert "First-step pain" in talk.hears


def test_what_did_you_ask() -> None:
    """The question that waits is put again; where none waits, that is said."""
    open_now = morning().says("what did you ask?")
    nothing = Conversation().says("what did you ask?")

    assert "First-step pain" in open_now.hears
    assert "no open question" in nothing.hears


def test_in_enrolment_a_city_is_an_answer() -> None:
    """ "I live in London" answers the enrolment question and sets no wish off."""
    turn = patient.open_enrolment(Conversation().state, SITUATION)
    state = patient.step(turn.state, Message("yes"), SITUATION).state

    turn = patient.step(state, Message("I live in London"), SITUATION)

    assert not any(isinstance(r, ZoneChosen) for r in turn.recorded)


# Reports out of turn


@pytest.mark.parametrize(
    ("text", "sets", "during", "after"),
    [
        pytest.param("did 3x12, pain 2, later 3", 3, 2, 3, id="as people write"),
        pytest.param("Did 3 x 12. Pain 2, afterwards 1", 3, 2, 1, id="with spaces"),
        pytest.param("3x12 2 3", 3, 2, 3, id="bare"),
        pytest.param("i did 3 sets, pain during 2, pain after 0", 3, 2, 0, id="sets"),
        pytest.param("finished 3 sets of 12, during 2, after 4", 3, 2, 4, id="sets of"),
    ],
)
def test_a_complete_report_is_taken(text: str, sets: int, during: int, after: int) -> None:
    """Sets and both pains are recorded; the rest is asked in one message."""
    talk = known().says(text)

    assert talk.answers == {"sets-done": sets, "pain-during": during, "pain-after": after}
    assert talk.waits_for == ["effort", "painkiller", "activity-minutes"]
    assert "3)" in talk.hears


def test_an_incomplete_report_is_asked_about() -> None:
    """Sets alone are recorded, and the pains are asked for."""
    talk = known().says("did 3x12")

    assert talk.answers == {"sets-done": 3}
    assert talk.waits_for[:2] == ["pain-during", "pain-after"]


def test_a_report_with_other_repetitions_is_seen_by_the_clinician() -> None:
    """12 were prescribed: what 3x8 means is not ours to judge."""
    talk = known().says("did 3x8, pain 2, later 3")

    assert talk.answers["sets-done"] == 3
    assert Remark("did 3x8, pain 2, later 3") in talk.recorded


def test_a_report_of_yesterday_is_about_yesterday() -> None:
    """The day that is named counts."""
    talk = known().says("did 3x12 yesterday, pain 2, later 3")

    assert {r.about for r in talk.recorded if isinstance(r, Answer)} == {YESTERDAY}


def test_a_second_report_of_the_same_day_asks_nothing() -> None:
    """A session that is on record is not asked about again."""
    talk = known().knows(last_session_on=TODAY).says("did 3x12, pain 2, later 3")

    assert talk.recorded == ()


@pytest.mark.parametrize("text", ["did the dishes for 3 hours", "I did my 2 errands"])
def test_other_deeds_are_no_report(text: str) -> None:
    """ "did" alone makes no session."""
    talk = known().says(text)

    assert talk.answers == {}


# Late and crossed


def test_yesterdays_numbers_land_on_yesterday() -> None:
    """ "yesterday 3 10" with today's questions open is yesterday's morning."""
    talk = morning().says("yesterday 3 10")

    assert talk.recorded[:2] == (
        Answer(Question.FIRST_STEP_PAIN, YESTERDAY, 3),
        Answer(Question.STIFFNESS, YESTERDAY, 10),
    )
    assert talk.waits_for == ["first-step-pain", "stiffness"]
    assert "the morning of yesterday" in talk.hears


def test_numbers_of_a_weekday_land_there() -> None:
    """Today is a Wednesday: "Monday 3 10" is the day before yesterday."""
    talk = Conversation().says("Monday 3 10")

    assert talk.answers == {"first-step-pain": 3, "stiffness": 10}
    assert {r.about for r in talk.recorded if isinstance(r, Answer)} == {date(2026, 3, 2)}


def test_numbers_of_a_week_ago_are_left() -> None:
    """After three days nothing is filled in afterwards."""
    talk = Conversation().says("Saturday 3 10")

    assert talk.recorded == ()
    assert "three days" in talk.hears


def test_yesterdays_session_and_morning_are_told_apart_by_their_count() -> None:
    """Three numbers are the session that waits, two are the morning."""
    talk = evening()
    talk.situation = replace(SITUATION, now=SITUATION.now + timedelta(days=1))

    three = Conversation(talk.situation, talk.state).says("yesterday 3 2 1")
    two = Conversation(talk.situation, talk.state).says("yesterday 2 10")

    assert list(three.answers) == ["sets-done", "pain-during", "pain-after"]
    assert list(two.answers) == ["first-step-pain", "stiffness"]


def test_an_expired_prompt_swallows_no_number() -> None:
    """After a morning's prompt is over, a lone number is asked about."""
    talk = Conversation()
    asks = (Question.FIRST_STEP_PAIN, Question.STIFFNESS)
    over = SITUATION.now + timedelta(hours=6)
    talk._keep(patient.open_prompt("morning", talk.state, talk.situation, asks, {}, over))
    before = replace(talk.situation, now=over - timedelta(seconds=1))
    at = replace(talk.situation, now=over)

    in_time = Conversation(before, talk.state).says("3")
    late = Conversation(at, talk.state).says("3")
    both = Conversation(at, talk.state).says("3 10")

    assert in_time.answers == {"first-step-pain": 3}
    assert late.answers == {}
    assert "about" in late.hears
    assert both.answers == {"first-step-pain": 3, "stiffness": 10}
    assert "I put that down for this morning" in both.hears


def test_two_numbers_after_the_evening_came_are_asked_about() -> None:
    """With the session's three questions open and the morning missed, "3 10" may be either."""
    talk = morning().prompt("evening", Question.SETS_DONE).says("3 10")

    assert talk.answers == {}
    assert talk.waits_for[0] == "what-about"

    talk.says("1")

    assert talk.answers == {"first-step-pain": 3, "stiffness": 10}
    assert talk.waits_for[0] == "sets-done"


def test_minutes_after_the_evening_came_are_the_mornings() -> None:
    """ "3, 10 min" cannot be sets and pains: it is the morning, and that is said."""
    talk = morning().prompt("evening", Question.SETS_DONE).says("3, 10 min")

    assert talk.answers == {"first-step-pain": 3, "stiffness": 10}
    assert "this morning" in talk.hears


def test_three_numbers_in_the_evening_are_the_session() -> None:
    """What answers all that is open counts for it, missed morning or not."""
    talk = morning().prompt("evening", Question.SETS_DONE).says("3 2 1")

    assert list(talk.answers) == ["sets-done", "pain-during", "pain-after"]


def test_a_late_answer_about_a_sign_counts() -> None:
    """A button about a warning sign counts whenever it is pressed."""
    talk = Conversation().presses("yes", Asked(Question.SIGN, YESTERDAY, "leg-clot"))

    assert SignAnswered("leg-clot", yes=True) in talk.recorded


# What set it off


def test_words_on_what_set_it_off_are_kept_and_seen() -> None:
    """The patient's words are an answer of their own, and the clinician sees them."""
    talk = Conversation()
    talk.state = replace(talk.state, waiting=(Asked(Question.SET_OFF, TODAY),))

    talk.says("long walk on the beach")

    assert Answer(Question.SET_OFF, TODAY, "long walk on the beach") in talk.recorded
    assert Unread("long walk on the beach") in talk.recorded


def test_a_number_is_no_answer_to_what_set_it_off() -> None:
    """A number under that question is asked about like any other."""
    talk = Conversation()
    talk.state = replace(talk.state, waiting=(Asked(Question.SET_OFF, TODAY),))

    talk.says("3")

    assert talk.answers == {}
    assert talk.waits_for == ["what-about"]


# The words


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_words_of_both_languages_are_complete(language: str) -> None:
    """Every section is there, and the answers that can be named are the same."""
    words = request_words(language)

    assert set(words.commands.values()) == {"again", "progress", "stop", "leave"}
    assert set(words.answers.values()) == set(request_words("en").answers.values())
    assert all(Question(code) for code in words.answers.values())


def test_words_with_a_section_missing_are_refused() -> None:
    """A damaged file is a named error."""
    with pytest.raises(Exception, match="missing"):
        read_request_words("[commands]\nagain = []\n")


def test_language_is_changed_by_its_own_name() -> None:
    """ "español" changes the language where it ships."""
    talk = known().says("Español")

    assert talk.recorded in ((LanguageChosen("es"),), (Unread("Español"),))
