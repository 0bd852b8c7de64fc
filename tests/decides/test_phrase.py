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
    "a word is missing": ("heard a pop", "heard pop", None),
    "words in another order": ("heard pop", "pop heard", None),
    "no word before it": ("pop", "a pop", None),
    "no part of a word": ("pop", "popping", None),
    "the first of two": ("heard|felt it", "heard it", "heard it"),
    "the second of two": ("heard|felt it", "felt it", "felt it"),
    "not both of two": ("heard|felt it", "heard felt it", None),
    "the last of three": ("heard|felt|had it", "had it", "had it"),
    "one of two at the end": ("i heard|felt", "i felt", "i felt"),
    "one of two pairs, first": ("(heard a|felt the) pop", "heard a pop", "heard a pop"),
    "one of two pairs, second": ("(heard a|felt the) pop", "felt the pop", "felt the pop"),
    "pairs are not mixed": ("(heard a|felt the) pop", "heard the pop", None),
    "one of three in a bracket": ("(a|the|my) pop", "my pop", "my pop"),
    "a bracket of one": ("(heard a) pop", "heard a pop", "heard a pop"),
    "one of three pairs, second": ("(a b|c d|e f) pop", "c d pop", "c d pop"),
    "one of three pairs, last": ("(a b|c d|e f) pop", "e f pop", "e f pop"),
    "three pairs are not mixed": ("(a b|c d|e f) pop", "c e f pop", None),
    "a bracket in a bracket": ("(felt (a|the)|heard) pop", "felt the pop", "felt the pop"),
    "beside a bracket in one": ("(felt (a|the)|heard) pop", "heard pop", "heard pop"),
    "a word beside a bracket": ("pop|(big snap) today", "big snap today", "big snap today"),
    "a bracket beside a word": ("(big snap)|pop today", "pop today", "pop today"),
    "two brackets": ("(a|b) (c|d)", "b c", "b c"),
    "what may be there is": ("heard a? pop", "heard a pop", "heard a pop"),
    "what may be there is not": ("heard a? pop", "heard pop", "heard pop"),
    "what may be there is not twice": ("heard a? pop", "heard a a pop", None),
    "one of two that may be there": ("heard a|the? pop", "heard the pop", "heard the pop"),
    "none of two that may be there": ("heard a|the? pop", "heard pop", "heard pop"),
    "a bracket that may be there": ("heard (a big|the)? pop", "heard a big pop", "heard a big pop"),
    "a bracket that need not be": ("heard (a big|the)? pop", "heard pop", "heard pop"),
    "an option inside a bracket": ("x (the? calf|leg)", "x calf", "x calf"),
    "only what is marked may lack": ("heard a? pop", "a pop", None),
    "a short gap of none": ("heard .. pop", "heard pop", "heard pop"),
    "a short gap under": ("heard .. pop", "heard 1 pop", "heard 1 pop"),
    "a short gap at its limit": ("heard .. pop", "heard 1 2 pop", "heard 1 2 pop"),
    "a short gap over": ("heard .. pop", "heard 1 2 3 pop", None),
    "a long gap of none": ("heard ... pop", "heard pop", "heard pop"),
    "a long gap under": ("heard ... pop", "heard 1 2 3 4 pop", "heard 1 2 3 4 pop"),
    "a long gap at its limit": ("heard ... pop", "heard 1 2 3 4 5 pop", "heard 1 2 3 4 5 pop"),
    "a long gap over": ("heard ... pop", "heard 1 2 3 4 5 6 pop", None),
    "a gap takes as little as it can": ("heard ... pop", "heard pop 1 pop", "heard pop"),
    "a gap in a bracket": ("heard (.. pop|it)", "heard a pop", "heard a pop"),
    "two gaps": ("i .. heard .. pop ok", "i just heard a pop ok", "i just heard a pop ok"),
    "a short gap and a full stop": ("heard .. pop", f"heard {STOP_MARK} pop", None),
    "a long gap and a full stop": (
        "heard ... pop", f"heard 1 {STOP_MARK} 2 pop", f"heard 1 {STOP_MARK} 2 pop"
    ),
    "a full stop counts as three": ("heard ... pop", f"heard 1 {STOP_MARK} 2 3 pop", None),
    "no gap and a full stop": ("heard pop", f"heard {STOP_MARK} pop", None),
    "an ending": ("*floxacin", "ciprofloxacin", "ciprofloxacin"),
    "an ending alone": ("*floxacin", "floxacin", "floxacin"),
    "not an ending": ("*floxacin", "floxacins", None),
    "a beginning": ("swell*", "swelling", "swelling"),
    "a beginning alone": ("swell*", "swell", "swell"),
    "not a beginning": ("swell*", "unswell", None),
    "a beginning and no more words": ("swell*", "swell up", "swell"),
    "letters only": ("swell*", "swell5", None),
    "a group of words, first": ("my {leg} hurts", "my calf hurts", "my calf hurts"),
    "a group of words, last": ("my {leg} hurts", "my shin hurts", "my shin hurts"),
    "one name too few for a group": ("my {leg} hurts", "my hurts", None),
    "a group that may be there": ("my {leg}? hurts", "my hurts", "my hurts"),
    "two groups": ("{leg} and {leg}", "calf and shin", "calf and shin"),
    "a group in a group": ("{bad_leg}", "sore shin", "sore shin"),
    "groups three deep": ("{told} hurts", "my sore calf hurts", "my sore calf hurts"),
    "a word in its other spelling": ("paining now", "hurting now", "hurting now"),
    "a word as it was spelled": ("paining now", "paining now", None),
    "a word that is spelled as two": ("i cant push", "i can not push", "i can not push"),
}  # fmt: skip


@pytest.mark.parametrize(("source", "text", "expected"), TAKEN.values(), ids=TAKEN)
def test_a_wording_takes_these_words(source: str, text: str, expected: str | None) -> None:
    """A wording takes the words that its marks allow, from the first on, and no others."""
    assert taken(source, text) == expected


NUMBERS = {
    "under the range": ("#38-42", "37", None),
    "at its low end": ("#38-42", "38", "38"),
    "inside": ("#38-42", "40", "40"),
    "at its high end": ("#38-42", "42", "42"),
    "over the range": ("#38-42", "43", None),
    "with decimals": ("#38-42", "38.25", "38.25"),
    "decimals that are none": ("#38-42", "38.", None),
    "a longer number": ("#38-42", "380", None),
    "a number in words": ("had #2-4 falls", "had 3 falls", "had 3 falls"),
    "one number only": ("#7-7", "7", "7"),
    "decimals wanted, none": ("##38-42", "39", None),
    "decimals wanted, one": ("##38-42", "39.5", "39.5"),
    "decimals wanted, two": ("##38-42", "42.15", "42.15"),
    "decimals wanted, under": ("##38-42", "37.9", None),
    "one of two ranges": ("#1-2|#8-9 days", "8 days", "8 days"),
    "two numbers": ("#1-3 or #1-3", "1 or 3", "1 or 3"),
    "the same again": ("#20-60 and =", "35 and 35", "35 and 35"),
    "not the same again": ("#20-60 and =", "35 and 36", None),
    "the same with its decimals": ("#20-60 and =", "35.5 and 35.5", "35.5 and 35.5"),
    "not the same decimals": ("#20-60 and =", "35.5 and 35", None),
    "the same, that has decimals": ("##20-60 and =", "35.5 and 35.5", "35.5 and 35.5"),
    "the first of two again": ("#1-3 of #1-9 and =", "2 of 5 and 2", "2 of 5 and 2"),
    "the second of two is not meant": ("#1-3 of #1-9 and =", "2 of 5 and 5", None),
    "the same, and once more": ("#1-3 = =", "2 2 2", "2 2 2"),
}  # fmt: skip


@pytest.mark.parametrize(("source", "text", "expected"), NUMBERS.values(), ids=NUMBERS)
def test_a_range_takes_these_numbers(source: str, text: str, expected: str | None) -> None:
    """A number is taken from one end of its range to the other, both included."""
    assert taken(source, text) == expected


# ---------------------------------------------------------------- what is known of a part

STARTS = {
    "the first word": ("heard a pop", {"heard"}),
    "each of several": ("heard|felt|had pop", {"heard", "felt", "had"}),
    "the first of each in a bracket": ("(heard a|felt the) pop", {"heard", "felt"}),
    "a bracket in a bracket": ("((big|loud) snap|pop) today", {"big", "loud", "pop"}),
    "not the second bracket": ("(a|b) (c|d)", {"a", "b"}),
    "a word, then a bracket": ("pop|(big snap) today", {"pop", "big"}),
    "a group": ("{leg} hurts", {"calf", "shin"}),
    "before what may be there": ("heard a? pop", {"heard"}),
    "before a gap": ("heard .. pop", {"heard"}),
    "the first of two that it is spelled as": ("cant push", {"can"}),
    "a word as it will be spelled": ("paining now", {"hurting"}),
    "an ending, so any": ("*floxacin pills", {ANY_START}),
    "a beginning, so any": ("swell*", {ANY_START}),
    "an ending or a word": ("cipro|*floxacin", {"cipro", ANY_START}),
    "an ending that comes later": ("my *floxacin", {"my"}),
    "a number, so any": ("#38-42 degrees", {ANY_START}),
    "a number that comes later": ("fever #38-42", {"fever"}),
}  # fmt: skip


@pytest.mark.parametrize(("source", "expected"), STARTS.values(), ids=STARTS)
def test_a_wording_can_start_with_these_words(source: str, expected: set[str]) -> None:
    """A part knows each word that it can start with; any word where it starts with a pattern."""
    (part,) = compiled(source).parts

    assert part.starts == expected


WORDS = {
    "all side by side": ("heard a pop", {"heard", "a", "pop"}),
    "what may be there": ("heard (a|the)? pop", {"heard", "a", "the", "pop"}),
    "those of a group": ("my {leg}", {"my", "calf", "shin"}),
    "both that one is spelled as": ("cant push", {"can", "not", "push"}),
    "no pattern": ("my *floxacin", {"my"}),
    "no number, gap or mark": ("#1-3 .. days and =", {"days", "and"}),
    "those of each part": ("calf hot & leg|foot", {"calf", "hot", "leg", "foot"}),
}  # fmt: skip


@pytest.mark.parametrize(("source", "expected"), WORDS.values(), ids=WORDS)
def test_a_wording_names_these_words(source: str, expected: set[str]) -> None:
    """A phrase knows each word that it names, in the spelling that the text will have."""
    assert compiled(source).words == expected


PARTS = {
    "one": ("calf hot", ["calf hot"]),
    "two": ("calf hot & swollen", ["calf hot", "swollen"]),
    "three, the most": ("calf & hot & very swollen", ["calf", "hot", "very swollen"]),
}  # fmt: skip


@pytest.mark.parametrize(("source", "expected"), PARTS.values(), ids=PARTS)
def test_a_wording_has_these_parts(source: str, expected: list[str]) -> None:
    """The parts that `&` joins are kept in order, each for itself, beside what was written."""
    phrase = compiled(source)

    assert phrase.source == source
    assert len(phrase.parts) == len(expected)
    for part, text in zip(phrase.parts, expected, strict=True):
        assert part.pattern.fullmatch(f" {text}")
        assert part.words == set(text.split())


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
    "a gap as an option": ("a|.. b", "a word is missing before .."),
    "an empty bracket": ("() a", "a word is missing in a bracket"),
    "an empty option": ("(|a) b", "a word is missing in a bracket"),
    "a bar before a bracket's end": ("(a) b|)", "a word is missing before )"),
    "groups in a circle": ("{circle}", ONLY),
    "four parts, one over": ("a & b & c & d", "& joins at most 3 parts"),
    "nothing": ("", ONLY),
    "spaces": ("  ", ONLY),
    "a part of nothing": ("calf & ", ONLY),
    "a capital": ("Calf", ONLY),
    "a mark that means nothing": ("calf, hot", ONLY),
    "a & that joins nothing": ("calf &hot", ONLY),
    "a range without an end": ("#38-", ONLY),
    "a group that is not there": ("my {arm}", "there is no group 'arm'"),
    "it may start with nothing": ("a? pop", NO_OPTION),
    "a bracket at the start that may lack": ("(a|the)? pop", NO_OPTION),
    "a short gap at the start": (".. pop", NO_OPTION),
    "a long gap at the start": ("... pop", NO_OPTION),
    "a bracket that starts with an option": ("(a? big|loud) pop", NO_OPTION),
    "a later one of a bracket that does": ("(loud|a? big) pop", NO_OPTION),
    "a bracket beside a word that does": ("loud|(a? big) pop", NO_OPTION),
    "of a second part too": ("calf & a? pop", NO_OPTION),
    "a pair between bars": ("a|b c|d", AMBIGUOUS),
    "a pair between bars behind a bracket": ("(x|y) a|b c|d", AMBIGUOUS),
    "a pair between bars ahead of a bracket": ("a|b c|d (x|y)", AMBIGUOUS),
    "a bracket closed too often": ("calf) hot", NOT_OPENED),
    "a bracket closed at the end": ("(calf)) hot", NOT_OPENED),
    "a bracket left open": ("(calf hot", NOT_CLOSED),
    "a bracket left open behind a bar": ("(calf|hot", NOT_CLOSED),
    "nothing behind a bar": ("calf|", MISSING),
    "the same as nothing": ("pop =", NO_NUMBER),
    "the same as what comes later": ("= and #1-3", NO_NUMBER),
    "a range one under the narrowest": ("#5-4", RANGE),
    "a range one over the widest": ("#0-401", RANGE),
}  # fmt: skip


@pytest.mark.parametrize(("source", "expected"), REFUSED.values(), ids=REFUSED)
def test_a_wording_is_refused(source: str, expected: str) -> None:
    """A wording that cannot be read is refused, and the message names it and what is wrong."""
    with pytest.raises(LexiconError) as refused:
        compiled(source)

    assert str(refused.value) == f"wording {source!r}: {expected}"


ACCEPTED = {
    "a pair behind one bar": "a|b c",
    "pairs between bars in a bracket": "(a|b c|d) e",
    "a bracket of a pair between bars": "a|(b c)|d",
    "bars in two brackets": "(a|b) c (d|e)",
    "two choices with a gap between": "a|b .. c|d",
    "an option behind a word": "x (a? pop|snap)",
    "a range at the narrowest": "#5-5",
    "a range one over the narrowest": "#5-6",
    "a range one under the widest": "#1-400",
    "a range at the widest": "#0-400",
}  # fmt: skip


@pytest.mark.parametrize("source", ACCEPTED.values(), ids=ACCEPTED)
def test_a_wording_is_accepted(source: str) -> None:
    """A wording just inside each limit is read, and its expression can be used."""
    phrase = compiled(source)

    assert all(part.pattern for part in phrase.parts)
