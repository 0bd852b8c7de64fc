"""Wordings: what each mark of their small language takes, and what is refused.

Each row tries one mark on a text of a few words. Where a wording stands on a longer line is tried
in `test_screening`.
"""

from __future__ import annotations

import pytest

from rules.errors import LexiconError
from rules.phrase import ANY_START, STOP_MARK, Phrase, compile_phrase

GROUPS = {
    "circle": "a {circle}",
    "leg": "calf|shin",
    "bad_leg": "sore {leg}",
    "told": "my {bad_leg}",
}
SPELLED = {"cant": "can not", "paining": "hurting"}


def compiled(source: str) -> Phrase:
    """The phrase, with the groups and spellings of this file."""
    return compile_phrase(source, GROUPS, lambda word: SPELLED.get(word, word))


def taken(source: str, text: str) -> str | None:
    """The words at the start of a text that a wording of one part takes; None: not there."""
    (part,) = compiled(source).parts
    found = part.pattern.match(f" {text}")
    return found[0].strip() if found else None


# ---------------------------------------------------------------- what a wording takes

TAKEN = {
    "words side by side": ("heard a pop", "heard a pop today", "heard a pop"),
    "words in another order": ("heard pop", "pop heard", None),
    "no word before it": ("pop", "a pop", None),
    "no part of a word": ("pop", "popping", None),
    "the second of two": ("heard|felt it", "felt it", "felt it"),
    "not both of two": ("heard|felt it", "heard felt it", None),
    "the last of three": ("heard|felt|had it", "had it", "had it"),
    "one of two pairs, second": ("(heard a|felt the) pop", "felt the pop", "felt the pop"),
    "a pair behind one bar": ("a|b c", "b c", "b c"),
    "bars in two brackets": ("(a|b) c (d|e)", "b c e", "b c e"),
    "pairs are not mixed": ("(heard a|felt the) pop", "heard the pop", None),
    "a bracket in a bracket": ("(felt (a|the)|heard) pop", "felt the pop", "felt the pop"),
    "a word beside a bracket": ("pop|(big snap) today", "big snap today", "big snap today"),
    "what may be there is": ("heard a? pop", "heard a pop", "heard a pop"),
    "what may be there is not": ("heard a? pop", "heard pop", "heard pop"),
    "what may be there is not twice": ("heard a? pop", "heard a a pop", None),
    "a bracket that may be there": ("heard (a big|the)? pop", "heard a big pop", "heard a big pop"),
    "an option inside a bracket": ("x (the? calf|leg)", "x calf", "x calf"),
    "a short gap at its limit": ("heard .. pop", "heard 1 2 pop", "heard 1 2 pop"),
    "a short gap over": ("heard .. pop", "heard 1 2 3 pop", None),
    "a long gap at its limit": ("heard ... pop", "heard 1 2 3 4 5 pop", "heard 1 2 3 4 5 pop"),
    "a long gap over": ("heard ... pop", "heard 1 2 3 4 5 6 pop", None),
    "a gap takes as little as it can": ("heard ... pop", "heard pop 1 pop", "heard pop"),
    "a gap in a bracket": ("heard (.. pop|it)", "heard a pop", "heard a pop"),
    "a short gap and a full stop": ("heard .. pop", f"heard {STOP_MARK} pop", None),
    "a long gap and a full stop": (
        "heard ... pop", f"heard 1 {STOP_MARK} 2 pop", f"heard 1 {STOP_MARK} 2 pop"
    ),
    "a full stop counts as three": ("heard ... pop", f"heard 1 {STOP_MARK} 2 3 pop", None),
    "an ending": ("*floxacin", "ciprofloxacin", "ciprofloxacin"),
    "not an ending": ("*floxacin", "floxacins", None),
    "a beginning": ("swell*", "swelling", "swelling"),
    "not a beginning": ("swell*", "unswell", None),
    "letters only": ("swell*", "swell5", None),
    "a group of words, last": ("my {leg} hurts", "my shin hurts", "my shin hurts"),
    "a group that may be there": ("my {leg}? hurts", "my hurts", "my hurts"),
    "groups three deep": ("{told} hurts", "my sore calf hurts", "my sore calf hurts"),
    "a word in its other spelling": ("paining now", "hurting now", "hurting now"),
    "a word that is spelled as two": ("i cant push", "i can not push", "i can not push"),
}  # fmt: skip


@pytest.mark.parametrize(("source", "text", "expected"), TAKEN.values(), ids=TAKEN)
def test_a_wording_takes_these_words(source: str, text: str, expected: str | None) -> None:
    """A wording takes the words that its marks allow, from the first on, and no others."""
    assert taken(source, text) == expected


NUMBERS = {
    "under the range": ("#38-42", "37", None),
    "at its low end": ("#38-42", "38", "38"),
    "at its high end": ("#38-42", "42", "42"),
    "over the range": ("#38-42", "43", None),
    "the widest range": ("#0-400", "400", "400"),
    "with decimals": ("#38-42", "38.25", "38.25"),
    "a longer number": ("#38-42", "380", None),
    "a number in words": ("had #2-4 falls", "had 3 falls", "had 3 falls"),
    "decimals wanted, none": ("##38-42", "39", None),
    "decimals wanted, one": ("##38-42", "39.5", "39.5"),
    "one of two ranges": ("#1-2|#8-9 days", "8 days", "8 days"),
    "the same again": ("#20-60 and =", "35 and 35", "35 and 35"),
    "not the same again": ("#20-60 and =", "35 and 36", None),
    "not the same decimals": ("#20-60 and =", "35.5 and 35", None),
    "the first of two again": ("#1-3 of #1-9 and =", "2 of 5 and 2", "2 of 5 and 2"),
}  # fmt: skip


@pytest.mark.parametrize(("source", "text", "expected"), NUMBERS.values(), ids=NUMBERS)
def test_a_range_takes_these_numbers(source: str, text: str, expected: str | None) -> None:
    """A number is taken from one end of its range to the other, both included."""
    assert taken(source, text) == expected


# ---------------------------------------------------------------- what is known of a part

STARTS = {
    "the first word": ("heard a pop", {"heard"}),
    "the first of each in a bracket": ("(heard a|felt the) pop", {"heard", "felt"}),
    "a group": ("{leg} hurts", {"calf", "shin"}),
    "the first of two that it is spelled as": ("cant push", {"can"}),
    "an ending, so any": ("*floxacin pills", {ANY_START}),
    "a number, so any": ("#38-42 degrees", {ANY_START}),
}  # fmt: skip


@pytest.mark.parametrize(("source", "expected"), STARTS.values(), ids=STARTS)
def test_a_wording_can_start_with_these_words(source: str, expected: set[str]) -> None:
    """A part knows each word that it can start with; any word where it starts with a pattern."""
    (part,) = compiled(source).parts

    assert part.starts == expected


# ---------------------------------------------------------------- what is refused

ONLY = "only words, | ? ( ) {} .. ... & * # = are read"
NO_OPTION = "it cannot start with an option"
AMBIGUOUS = "of 'a|b c|d' it cannot tell; use brackets"
NOT_OPENED = "a bracket is closed that was not opened"
NOT_CLOSED = "a bracket is not closed"
MISSING = "a word is missing at the end"
NO_NUMBER = "before = no number stands"
RANGE = "a range spans 0 to 400"

REFUSED = {
    "nothing between two bars": ("a||b", "a word is missing before |"),
    "nothing before a mark": ("? a", "a word is missing before ?"),
    "an empty bracket": ("() a", "a word is missing in a bracket"),
    "groups in a circle": ("{circle}", ONLY),
    "four parts, one over": ("a & b & c & d", "& joins at most 3 parts"),
    "nothing": ("", ONLY),
    "a capital": ("Calf", ONLY),
    "a range without an end": ("#38-", ONLY),
    "a group that is not there": ("my {arm}", "there is no group 'arm'"),
    "it may start with nothing": ("a? pop", NO_OPTION),
    "a bracket at the start that may lack": ("(a|the)? pop", NO_OPTION),
    "a short gap at the start": (".. pop", NO_OPTION),
    "of a second part too": ("calf & a? pop", NO_OPTION),
    "a pair between bars": ("a|b c|d", AMBIGUOUS),
    "a bracket closed too often": ("calf) hot", NOT_OPENED),
    "a bracket left open": ("(calf hot", NOT_CLOSED),
    "nothing behind a bar": ("calf|", MISSING),
    "the same as nothing": ("pop =", NO_NUMBER),
    "a range one under the narrowest": ("#5-4", RANGE),
    "a range one over the widest": ("#0-401", RANGE),
}  # fmt: skip


@pytest.mark.parametrize(("source", "expected"), REFUSED.values(), ids=REFUSED)
def test_a_wording_is_refused(source: str, expected: str) -> None:
    """A wording that cannot be read is refused, and the message names it and what is wrong."""
    with pytest.raises(LexiconError) as refused:
        compiled(source)

    assert str(refused.value) == f"wording {source!r}: {expected}"
