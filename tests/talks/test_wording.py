"""The text of what is said: strict about values, counted as SMS."""

from __future__ import annotations

import pytest
import smsutil
from hypothesis import given
from hypothesis import strategies as st
from talks.talking import SITUATION, TODAY

from dialogs.errors import WordingError, WordsError
from dialogs.rendering import Segments, day_word, number, render, segments
from dialogs.turn import Said
from dialogs.words import read_words, shipped_words

EURO, BRACE, EMOJI = "\u20ac", "{", "\U0001f600"

# Sizes: 3GPP TS 23.038; expected values counted by hand from them.
SEGMENTS = {
    "nothing": ("", Segments("GSM-7", 1, 0)),
    "one": ("a" * 160, Segments("GSM-7", 1, 160)),
    "over one": ("a" * 161, Segments("GSM-7", 2, 161)),
    "two": ("a" * 306, Segments("GSM-7", 2, 306)),
    "an escaped letter fits": ("a" * 158 + EURO, Segments("GSM-7", 1, 160)),
    "an escaped letter does not fit": ("a" * 159 + EURO, Segments("GSM-7", 2, 161)),
    "escaped letters": (EURO * 80, Segments("GSM-7", 1, 160)),
    "escaped letters over": (BRACE * 81, Segments("GSM-7", 2, 162)),
    "a pair is not split": ("a" * 152 + EURO + "a" * 152, Segments("GSM-7", 3, 306)),
    "wide, one": ("\u2019" + "a" * 69, Segments("UCS-2", 1, 70)),
    "wide, over one": ("\u2019" + "a" * 70, Segments("UCS-2", 2, 71)),
    "wide, two": ("\u2019" + "a" * 133, Segments("UCS-2", 2, 134)),
    "wide, over two": ("\u2019" + "a" * 134, Segments("UCS-2", 3, 135)),
    "emoji, one": (EMOJI * 35, Segments("UCS-2", 1, 70)),
    "emoji, over one": (EMOJI * 36, Segments("UCS-2", 2, 72)),
    "an emoji is not split": ("\u2019" + "a" * 65 + EMOJI + "a" * 66, Segments("UCS-2", 3, 134)),
}


@pytest.mark.parametrize(("text", "expected"), SEGMENTS.values(), ids=SEGMENTS)
def test_segments_are_counted(text: str, expected: Segments) -> None:
    """Parts and units at each limit, and no pair split over two parts."""
    counted = segments(text)

    assert counted == expected


@given(
    st.text(
        alphabet=st.sampled_from("aZ1 \u20ac{}[]~\u00e9\u00a3\u2019\U0001f600\n"),
        min_size=1,
        max_size=400,
    )
)
def test_segments_agree_with_another_counter(text: str) -> None:
    """Our count is that of an independent library."""
    theirs = smsutil.split(text)

    ours = segments(text)

    assert ours.count == max(1, len(theirs.parts))
    assert (ours.encoding == "GSM-7") is (theirs.encoding == "gsm0338")


@pytest.mark.parametrize("template", ["paused", "correct-which", "unclear/choices"])
def test_a_missing_value_is_an_error(template: str) -> None:
    """A template never leaves a hole where a value was not given."""
    with pytest.raises(WordingError, match=template):
        render(Said(template), SITUATION)


def test_a_missing_template_is_an_error() -> None:
    """A template that does not exist is named in the error."""
    with pytest.raises(WordingError, match="no-such-thing"):
        render(Said("no-such-thing"), SITUATION)


def test_the_clinic_may_word_it_otherwise() -> None:
    """An override replaces one template, whole or included, and no other."""
    own = {"skipped": "Left out, {{ name }}."}

    changed = render(Said("skipped"), SITUATION, overrides=own)
    other = render(Said("opted-in"), SITUATION, overrides=own)

    assert changed == "Left out, Ana."
    assert other == render(Said("opted-in"), SITUATION)


def test_plain_text_is_not_escaped() -> None:
    """A phone shows text as it is, so nothing is turned into markup."""
    text = render(Said("x", {"v": "a < b & c"}), SITUATION, overrides={"x": "{{ v }}"})

    assert text == "a < b & c"


NUMBERS = {
    "whole": (3, "3"),
    "whole float": (3.0, "3"),
    "half": (2.5, "2.5"),
}


@pytest.mark.parametrize(("value", "text"), NUMBERS.values(), ids=NUMBERS)
def test_numbers_are_shown_as_people_write_them(value: float, text: str) -> None:
    """No trailing nought and one decimal at most."""
    shown = number(value)

    assert shown == text


DAYS = {
    "today": ("2026-03-04", "today"),
    "yesterday": ("2026-03-03", "yesterday"),
    "six days ago": ("2026-02-26", "Thursday"),
    "a week ago": ("2026-02-25", "Wednesday 25 February"),
}


@pytest.mark.parametrize(("on", "text"), DAYS.values(), ids=DAYS)
def test_days_are_named_as_people_say_them(on: str, text: str) -> None:
    """Today, yesterday, a weekday within the week, else the date."""
    named = day_word(on, TODAY)

    assert named == text


def test_words_of_an_unknown_language_are_refused() -> None:
    """A language without words is a named error."""
    with pytest.raises(WordingError, match="xx"):
        shipped_words("xx")


@pytest.mark.parametrize("text", ["not toml [", "", "[commands]\n"])
def test_broken_words_are_refused(text: str) -> None:
    """Words that are no TOML, or lack a table, are a named error."""
    with pytest.raises(WordsError):
        read_words(text)
