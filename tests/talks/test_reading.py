"""Replies as people type them, and what is read: never a guess."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time

import pytest
from hypothesis import given
from hypothesis import strategies as st
from talks.talking import TODAY

from dialogs.questions import Kind
from dialogs.reading import command, read_answers
from dialogs.reading_places import read_place
from dialogs.reading_times import PAUSE_DAYS_MAX, read_time, read_until
from dialogs.turn import Asked, Question
from dialogs.words import plain, shipped_words

WORDS = shipped_words()
PAIN, STIFF = Question.FIRST_STEP_PAIN, Question.STIFFNESS
NUMBERS = [q for q in Question if q.row.kind in (Kind.SCALE, Kind.MINUTES, Kind.COUNT)]


def asked(*questions: Question, sets: int = 3) -> tuple[Asked, ...]:
    """Questions as they wait, about today."""
    return tuple(Asked(q, TODAY, out_of=sets if q is Question.SETS_DONE else 0) for q in questions)


def read(text: str, *questions: Question) -> list[int | str]:
    """The values read, in the order of the questions; empty where nothing was."""
    reading = read_answers(text, asked(*questions), WORDS)
    return [found.value for found in reading.reads]


MORNING = {
    "two numbers": ("3 10", [3, 10]),
    "a comma": ("3, 10", [3, 10]),
    "a comma without a space": ("3,10", [3, 10]),
    "and": ("3 and 10", [3, 10]),
    "two lines": ("3\n10", [3, 10]),
    "a unit": ("3, 20 min", [3, 20]),
    "the unit tells which, turned round": ("10 min 3", [3, 10]),
    "an hour and minutes": ("3 1h15", [3, 75]),
    "an hour and a half": ("3 an hour and a half", [3, 90]),
    "half an hour": ("4, half an hour", [4, 30]),
    "out of ten": ("3/10 15", [3, 15]),
    "out of ten in words": ("3 out of 10 and 15 minutes", [3, 15]),
    "words": ("three ten", [3, 10]),
    "labels first": ("pain 3 stiffness 10", [3, 10]),
    "labels turned round": ("stiff 10, pain 2", [2, 10]),
    "one label": ("3 stiffness 10", [3, 10]),
    "labels last": ("3 pain 10 stiff", [3, 10]),
    "a courtesy before": ("good morning 3 10", [3, 10]),
    "none of both": ("no pain, no stiffness", [0, 0]),
    "wide digits": ("\uff13 \uff11\uff10", [3, 10]),
    "Arabic digits": ("\u0663 \u0661\u0660", [3, 10]),
    "keycaps": ("3\ufe0f\u20e3 1\ufe0f\u20e30\ufe0f\u20e3", [3, 10]),
    "the keycap ten": ("\U0001f51f 15", [10, 15]),
    "words after the numbers": ("3 10 but the calf is sore", [3, 10]),
    "a span of days after the numbers": ("3 10, hot for 2 days now", [3, 10]),
    "only the first": ("3", [3]),
    "only the second, by its unit": ("10 minutes", [10]),
    "the second is out of range": ("3 2000", [3]),
}


@pytest.mark.parametrize(("text", "values"), MORNING.values(), ids=MORNING)
def test_a_morning_reply_is_read(text: str, values: list[int]) -> None:
    """A reply to the two questions of the morning gives each its number."""
    found = read(text, PAIN, STIFF)

    assert found == values


UNREAD = {
    "nothing": "",
    "a word": "banana",
    "a superscript": "\u00b2",
    "a minus": "-3",
    "a number inside a sentence": "my 2 children kept me up",
    "a number and a time past": "3 days ago it was fine",
    "two pains": "3, but 5 on the stairs",
    "a decimal that may be two numbers": "3.10",
    "three numbers with dots between": "3.10.2",
    "a number typed twice with a slip": "2.2.x",
    "at least": "5+",
    "more than": "over 30",
    "a phone number": "5550100123",
    "three numbers for two questions": "3 10 5",
    "the first is out of range": "15 3",
    "a wide range": "3-10",
    "a range turned round": "4-3",
    "a clock": "7:30",
    "a bare no": "no",
    "percent": "30%",
}


@pytest.mark.parametrize("text", UNREAD.values(), ids=UNREAD)
def test_what_may_mean_two_things_is_not_read(text: str) -> None:
    """What cannot be told apart is a problem to ask about, never a value."""
    reading = read_answers(text, asked(PAIN, STIFF), WORDS)

    assert reading.reads == ()
    assert reading.problem in ("unclear", "out-of-range", "too-many")


NOTED = {
    "a range takes the higher": ("3-4", PAIN, 4, "higher"),
    "a range in words": ("3 or 4", PAIN, 4, "higher"),
    "a range of minutes": ("10-15 min", STIFF, 15, "higher"),
    "under takes the bound": ("less than 5", STIFF, 5, "higher"),
    "the sign for under": ("<5", STIFF, 5, "higher"),
    "a half is rounded up": ("3.5", PAIN, 4, "rounded"),
    "a half as one letter": ("3\u00bd", PAIN, 4, "rounded"),
    "about is nothing to note": ("about a 4", PAIN, 4, ""),
    "a couple of minutes": ("a couple of minutes", STIFF, 2, ""),
    "nine and a half is ten": ("9.5", PAIN, 10, "rounded"),
}


@pytest.mark.parametrize(("text", "question", "value", "note"), NOTED.values(), ids=NOTED)
def test_what_was_rounded_or_chosen_is_noted(
    text: str, question: Question, value: int, note: str
) -> None:
    """Rounding is upward, a range gives its higher end, and both are marked to be said back."""
    reading = read_answers(text, asked(question), WORDS)

    assert [(found.value, found.note) for found in reading.reads] == [(value, note)]


LIMITS = {
    "pain at the top": ("10", PAIN, [10]),
    "pain over the top": ("11", PAIN, []),
    "pain under the top": ("9", PAIN, [9]),
    "pain at the bottom": ("0", PAIN, [0]),
    "minutes at the top": ("1440", STIFF, [1440]),
    "minutes over the top": ("1441", STIFF, []),
    "minutes under the top": ("1439", STIFF, [1439]),
    "heel raises at the top": ("200", Question.HEEL_RAISES, [200]),
    "heel raises over the top": ("201", Question.HEEL_RAISES, []),
    "heel raises under the top": ("199", Question.HEEL_RAISES, [199]),
    "sets at the top": ("20", Question.SETS_DONE, [20]),
    "sets over the top": ("21", Question.SETS_DONE, []),
    "sets under the top": ("19", Question.SETS_DONE, [19]),
}


@pytest.mark.parametrize(("text", "question", "values"), LIMITS.values(), ids=LIMITS)
def test_a_range_holds_at_its_ends(text: str, question: Question, values: list[int]) -> None:
    """Both ends of a question's range are taken, one beyond is not."""
    found = read(text, question)

    assert found == values


SESSION = (Question.SETS_DONE, Question.PAIN_DURING, Question.PAIN_AFTER)


@pytest.mark.parametrize(("tries", "values"), [(0, [0, 0]), (1, [0, 0]), (2, [0])])
def test_a_no_answers_what_was_put_together(tries: int, values: list[int]) -> None:
    """Once the painkiller is asked about alone, "no" says nothing of other activity."""
    first, other = asked(Question.PAINKILLER, Question.ACTIVITY_MINUTES)

    reading = read_answers("no", (replace(first, tries=tries), other), WORDS)

    assert [found.value for found in reading.reads] == values


EFFORT = (Question.EFFORT, Question.PAINKILLER)
OTHERS = {
    "three numbers": ("3 2 1", SESSION, [3, 2, 1]),
    "all of them": ("all 2 1", SESSION, [3, 2, 1]),
    "a fraction of sets": ("2/3 4 2", SESSION, [2, 4, 2]),
    "no session": ("no", SESSION, [0]),
    "no session in words": ("didn't do it", SESSION, [0]),
    "all alone": ("all", SESSION, [3]),
    "sets out of another number": ("2/4 1 1", SESSION, []),
    "more sets than there are": ("4/3 1 1", SESSION, []),
    "half a set": ("2.5", SESSION, []),
    "effort, then no": ("4 no", EFFORT, [4, 0]),
    "no, then effort": ("no 4", EFFORT, [4, 0]),
    "yes and what was taken": ("4, yes one tablet", EFFORT, [4, 1]),
    "yes alone goes to the painkiller": ("yes", EFFORT, [1]),
    "no activity": ("no", (Question.ACTIVITY_MINUTES,), [0]),
    "none": ("none", (Question.ACTIVITY_MINUTES,), [0]),
    "hours of activity": ("2 hours", (Question.ACTIVITY_MINUTES,), [120]),
    "a painkiller, in a sentence": ("yes I had one", (Question.PAINKILLER,), [1]),
    "a sign, plainly no": ("No.", (Question.SIGN,), [0]),
    "a sign, no and more": ("no but it is numb", (Question.SIGN,), []),
    "a sign, not sure counts as yes": ("not sure", (Question.SIGN,), [1]),
    "consent with a question mark": ("yes?", (Question.CONSENT,), []),
    "consent with a condition": ("yes if it is free", (Question.CONSENT,), []),
    "side": ("my left", (Question.SIDE,), ["left"]),
    "both sides": ("left and right", (Question.SIDE,), ["both"]),
    "not a side": ("the other one", (Question.SIDE,), []),
}


@pytest.mark.parametrize(("text", "questions", "values"), OTHERS.values(), ids=OTHERS)
def test_other_questions_are_read(
    text: str, questions: tuple[Question, ...], values: list[int | str]
) -> None:
    """Sets, effort, yes and no, sides and signs each have their ways of being answered."""
    found = read(text, *questions)

    assert found == values


TIMES = {
    "an hour": ("7", time(7, 0)),
    "with a point": ("7.30", time(7, 30)),
    "four digits": ("0730", time(7, 30)),
    "in words": ("half past 7", time(7, 30)),
    "half seven is half past, as the British say": ("half seven", time(7, 30)),
    "quarter to": ("quarter to 8", time(7, 45)),
    "am": ("7am", time(7, 0)),
    "a sentence": ("about 6:45", time(6, 45)),
    "at the earliest": ("5:00", time(5, 0)),
    "before the earliest": ("4:59", None),
    "after the earliest": ("5:01", time(5, 1)),
    "at the latest": ("12:00", time(12, 0)),
    "after the latest": ("12:01", None),
    "before the latest": ("11:59", time(11, 59)),
    "evening": ("8pm", None),
    "no time": ("whenever", None),
    "no such time": ("7:75", None),
}


@pytest.mark.parametrize(("text", "expected"), TIMES.values(), ids=TIMES)
def test_a_morning_time_is_read(text: str, expected: time | None) -> None:
    """A time of day between the earliest and the latest morning is taken."""
    found = read_time(text, WORDS)

    assert found == expected


DAYS = {
    "a week, today included": ("for a week", date(2026, 3, 10)),
    "ten days": ("10 days", date(2026, 3, 13)),
    "two weeks in words": ("two weeks", date(2026, 3, 17)),
    "a month": ("until 3 May", date(2026, 5, 3)),
    "month first": ("until May 3rd", date(2026, 5, 3)),
    "a weekday is the next one": ("till Monday", date(2026, 3, 9)),
    "the same weekday is in a week": ("till Wednesday", date(2026, 3, 11)),
    "tomorrow": ("until tomorrow", date(2026, 3, 5)),
    "ISO": ("2026-03-20", date(2026, 3, 20)),
    "ISO, today": ("2026-03-04", date(2026, 3, 4)),
    "ISO, yesterday": ("2026-03-03", None),
    "a past day is next year, too far": ("until 1 March", None),
    "too long": ("for a year", None),
    "at the longest": (f"for {PAUSE_DAYS_MAX + 1} days", date(2026, 6, 2)),
    "over the longest": (f"for {PAUSE_DAYS_MAX + 2} days", None),
    "under the longest": (f"for {PAUSE_DAYS_MAX} days", date(2026, 6, 1)),
    "no such day": ("until 31 April", None),
    "no day": ("until I am fit", None),
}


@pytest.mark.parametrize(("text", "expected"), DAYS.values(), ids=DAYS)
def test_the_last_day_of_a_pause_is_read(text: str, expected: date | None) -> None:
    """A span or a day gives the last day of a pause, and never one that is past."""
    found = read_until(text, TODAY, WORDS)

    assert found == expected


PLACES = {
    "a zone's own name": ("Europe/Paris", "Europe/Paris", True),
    "a zone's own name, carelessly": ("america/new york", "America/New_York", True),
    "a city": ("Berlin", "Europe/Berlin", False),
    "a city of two words": ("new york", "America/New_York", False),
    "a city and its country": ("Manchester, UK", "Europe/London", False),
    "a slip": ("Londn", "Europe/London", False),
    "a country with one zone": ("Japan", "Asia/Tokyo", False),
}


@pytest.mark.parametrize(("text", "zone", "certain"), PLACES.values(), ids=PLACES)
def test_a_place_gives_its_time_zone(text: str, zone: str, certain: bool) -> None:
    """A city or country gives a zone to confirm; a zone's own name needs no question."""
    place = read_place(text, WORDS)

    assert place is not None
    assert (place.zone, place.certain) == (zone, certain)


@pytest.mark.parametrize("text", ["usa", "x", "", "somewhere warm", "australia"])
def test_a_place_with_several_zones_is_not_guessed(text: str) -> None:
    """A country with several zones, or no place at all, gives nothing."""
    place = read_place(text, WORDS)

    assert place is None


STOPPING = ["stop", "STOP", "Stop.", "'stop'", "opt out", "unsubscribe", "END", "quit!", "cancel"]
NOT_STOPPING = [
    "should I stop?", "stop-start running", "end of the day it hurt 4", "quit after 2 sets",
    "cancel Tuesday", "stopped early", "yes", "the end",
]  # fmt: skip


@pytest.mark.parametrize("text", STOPPING)
def test_a_whole_message_of_stop_opts_out(text: str) -> None:
    """The opt-out words of the carriers count as a whole message, however they are written."""
    keyword = command(text, WORDS)

    assert keyword == "stop"


@pytest.mark.parametrize("text", NOT_STOPPING)
def test_stop_inside_other_words_does_not_opt_out(text: str) -> None:
    """An opt-out word within a sentence is part of the sentence."""
    keyword = command(text, WORDS)

    assert keyword != "stop"


def test_plain_text_keeps_what_is_no_decimal_digit() -> None:
    """A superscript stays itself, so that it cannot become a digit of an answer."""
    text = plain("3\u00b2")

    assert text == "3\u00b2"


@given(st.text(max_size=80), st.sampled_from(list(Question)))
def test_reading_never_raises_and_stays_in_range(text: str, question: Question) -> None:
    """Any text at all gives values in the question's range, or a named problem."""
    reading = read_answers(text, asked(question), WORDS)

    fact = question.row
    for found in reading.reads:
        if fact.kind in (Kind.SCALE, Kind.MINUTES, Kind.COUNT, Kind.SETS):
            assert isinstance(found.value, int)
            assert fact.lowest <= found.value <= fact.highest
    assert reading.reads or reading.problem


@given(st.text(alphabet="0123456789 ,.-/+<>hmin\u00bd\u00b2\n", max_size=24))
def test_number_like_text_never_raises(text: str) -> None:
    """Digits and signs in any order give answers in range, or a named problem."""
    reading = read_answers(text, asked(*SESSION), WORDS)

    for found in reading.reads:
        assert 0 <= int(found.value) <= found.asked.question.row.highest
    assert reading.reads or reading.problem
