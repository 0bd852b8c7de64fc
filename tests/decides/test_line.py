"""Where wordings stand on a line of words: one part, parts that `&` joins, and what was blanked.

What a part takes is tried in `test_phrase`. Places are counted from 0; a stretch is given by its
first word and the one after its last.
"""

from __future__ import annotations

import pytest

from rules.line import Line, Span
from rules.phrase import TOGETHER_WORDS_MAX, Phrase, compile_phrase
from rules.plain_text import Pause, Word

PAUSES = {",": Pause.COMMA, "?": Pause.QUESTION, ".": Pause.FULL_STOP}
TURNING = frozenset({"but", "although"})
SIGN, OTHER, ALL = "tendon-rupture", "leg-clot", ""


def phrase(source: str) -> Phrase:
    """A wording without groups, spelled as it is written."""
    return compile_phrase(source, {}, str)


def line(text: str) -> Line:
    """The line of a text in which each mark stands between spaces, as in "calf hot . red"."""
    words: list[Word] = []
    pause = Pause.NONE
    for piece in text.split():
        if piece in PAUSES:
            pause = PAUSES[piece]
        else:
            words.append(Word(piece, pause))
            pause = Pause.NONE
    return Line(tuple(words), TURNING)


def found(on: Line, source: str, key: str = SIGN) -> list[Span]:
    """Where a wording stands, as this sign reads the line."""
    return list(on.spans(phrase(source), key))


# ---------------------------------------------------------------- one part

STANDS = {
    "at the start": ("heard a pop", "heard a", [(0, 2)]),
    "at the end": ("heard a pop", "a pop", [(1, 3)]),
    "all of the line": ("heard a pop", "heard a pop", [(0, 3)]),
    "nowhere": ("heard a pop", "snap", []),
    "begun but not ended": ("heard a pop", "heard a snap", []),
    "one word, twice": ("pop and pop", "pop", [(0, 1), (2, 3)]),
    "one of two, in the line's order": ("felt heard felt", "heard|felt", [(0, 1), (1, 2), (2, 3)]),
    "one of two, only one there": ("i felt it", "heard|felt", [(1, 2)]),
    "any start, in the middle": ("my swollen calf", "swol*", [(1, 2)]),
    "any start, at each end": ("hot and hotter", "hot*", [(0, 1), (2, 3)]),
    "any start or a word": ("pop or cipro", "cipro|po*", [(0, 1), (2, 3)]),
    "the shortest of those that begin here": ("pop a pop", "pop .. pop", [(0, 3)]),
    "one that begins inside another": ("a a b", "a .. b", [(0, 3), (1, 3)]),
    "over a comma": ("heard , pop", "heard pop", [(0, 2)]),
    "not over a question mark": ("heard ? pop", "heard pop", []),
    "not over a full stop": ("heard . pop", "heard pop", []),
    "a short gap over a comma": ("heard a , pop", "heard .. pop", [(0, 3)]),
    "no short gap over a question mark": ("heard a ? pop", "heard .. pop", []),
    "a long gap over a full stop, at its limit": ("heard 1 . 2 pop", "heard ... pop", [(0, 4)]),
    "a long gap over a full stop, over it": ("heard 1 . 2 3 pop", "heard ... pop", []),
    "behind a question mark": ("ok ? heard a pop", "a pop", [(2, 4)]),
    "behind two full stops": ("ok . well . heard a pop", "a pop", [(3, 5)]),
    "behind and ahead of a full stop": ("hot . hot", "hot", [(0, 1), (1, 2)]),
    "an empty line": ("", "pop", []),
}  # fmt: skip


@pytest.mark.parametrize(("text", "source", "expected"), STANDS.values(), ids=STANDS)
def test_one_part_stands_here(text: str, source: str, expected: list[Span]) -> None:
    """A wording of one part is found wherever it begins, in the order of the line."""
    assert found(line(text), source) == expected


# ---------------------------------------------------------------- parts that & joins

UNDER, AT, OVER = (" x" * (TOGETHER_WORDS_MAX + more) for more in (-1, 0, 1))

JOINED = {
    "side by side": ("calf swollen", "calf & swollen", [(0, 2)]),
    "the other way round": ("swollen calf", "calf & swollen", [(0, 2)]),
    "words around": ("my calf is swollen now", "calf & swollen", [(1, 4)]),
    "one of them missing": ("my calf is hot", "calf & swollen", []),
    "the other one missing": ("my foot is swollen", "calf & swollen", []),
    "five words between": (f"calf{UNDER} swollen", "calf & swollen", [(0, 7)]),
    "six words between": (f"calf{AT} swollen", "calf & swollen", [(0, 8)]),
    "seven words between": (f"calf{OVER} swollen", "calf & swollen", []),
    "six behind a part of two words": (f"my calf{AT} swollen", "my calf & swollen", [(0, 9)]),
    "the nearer of two": ("calf swollen and swollen", "calf & swollen", [(0, 2)]),
    "the nearer, when one is too far": (f"calf swollen{OVER} swollen", "calf & swollen", [(0, 2)]),
    "the nearer, when one is past a stop": ("calf swollen . swollen", "calf & swollen", [(0, 2)]),
    "one twice, then the other": ("calf calf swollen", "calf & swollen", [(0, 3), (1, 3)]),
    "around, once from each side": ("calf swollen calf", "calf & swollen", [(0, 2), (1, 3)]),
    "over a comma": ("calf hot , swollen", "calf & swollen", [(0, 3)]),
    "not over a question mark": ("calf ? swollen", "calf & swollen", []),
    "not over a full stop": ("calf hot . is swollen", "calf & swollen", []),
    "not over a later full stop": ("ok . calf hot . is swollen", "calf & swollen", []),
    "not from the last sentence but one": ("calf . hot . swollen", "calf & swollen", []),
    "in the second sentence": ("ok . calf swollen", "calf & swollen", [(1, 3)]),
    "in the third sentence": ("ok . well . my calf is swollen", "calf & swollen", [(3, 6)]),
    "ahead of a full stop": ("calf swollen . ok", "calf & swollen", [(0, 2)]),
    "parts that share a word": ("calf is hot", "calf is hot & hot", []),
    "shared once, then apart": ("calf is hot and hot", "calf is hot & hot", [(0, 5)]),
    "parts of two words": ("my calf very swollen", "my calf & very swollen", [(0, 4)]),
    "three, in order": ("calf hot swollen", "calf & hot & swollen", [(0, 3)]),
    "three, in another order": ("hot and swollen calf", "calf & hot & swollen", [(0, 4)]),
    "three, one of them again behind": ("calf hot swollen hot", "calf & hot & swollen", [(0, 3)]),
    "three, one missing": ("calf hot", "calf & hot & swollen", []),
    "three, six words apart": (f"calf{AT} hot{AT} swollen", "calf & hot & swollen", [(0, 15)]),
    "three, seven words apart": (f"calf{AT} hot{OVER} swollen", "calf & hot & swollen", []),
    "three, one twice between": ("calf hot hot swollen", "calf & hot & swollen", [(0, 4)]),
    "what begins later and ends first": ("calf a 1 2 b", "calf & (a .. b|1)", [(0, 3)]),
    "what begins first and ends first": ("calf 1 a 2 b", "calf & (a .. b|1)", [(0, 2)]),
}  # fmt: skip


@pytest.mark.parametrize(("text", "source", "expected"), JOINED.values(), ids=JOINED)
def test_joined_parts_stand_here(text: str, source: str, expected: list[Span]) -> None:
    """Joined parts are found in one sentence, in any order, with up to six words between two."""
    assert found(line(text), source) == expected


TURNS = {
    "nothing turns": ("calf is swollen", "calf & swollen", [(0, 3)]),
    "a turn between": ("calf but swollen", "calf & swollen", []),
    "a turn just behind the first": ("calf but is swollen", "calf & swollen", []),
    "a turn just ahead of the second": ("calf is but swollen", "calf & swollen", []),
    "a turn with words on both sides": ("calf is but is swollen", "calf & swollen", []),
    "two turns between": ("calf but although swollen", "calf & swollen", []),
    "a turn before both": ("but calf is swollen", "calf & swollen", [(1, 4)]),
    "a turn behind both": ("calf swollen but fine", "calf & swollen", [(0, 2)]),
    "a turn behind both, words between": ("calf is swollen but fine", "calf & swollen", [(0, 3)]),
    "turns around both": ("but calf is swollen although fine", "calf & swollen", [(1, 4)]),
    "the nearer, when one is past a turn": ("calf swollen but swollen", "calf & swollen", [(0, 2)]),
    "the second part is the turn": ("calf hot but fine", "calf & but", [(0, 3)]),
    "the first part ends with the turn": ("calf but swollen", "calf but & swollen", [(0, 3)]),
    "the first part begins with the turn": ("but calf is swollen", "but calf & swollen", [(0, 4)]),
    "the turn stands in one part": ("calf but swollen", "calf but swollen", [(0, 3)]),
    "a turn between the last of three": ("calf hot but swollen", "calf & hot & swollen", []),
    "a turn between the first of three": ("calf but hot swollen", "calf & hot & swollen", []),
}  # fmt: skip


@pytest.mark.parametrize(("text", "source", "expected"), TURNS.values(), ids=TURNS)
def test_joined_parts_of_one_turn_stand_here(text: str, source: str, expected: list[Span]) -> None:
    """Where it is asked so, no word between joined parts turns to something else."""
    assert list(line(text).spans(phrase(source), SIGN, in_turn=True)) == expected


def test_a_turn_does_not_count_unless_it_is_asked_for() -> None:
    """Parts are joined over a word that turns to something else where nobody asked for one turn."""
    on = line("calf but swollen")

    assert found(on, "calf & swollen") == [(0, 3)]


def test_no_word_turns_unless_it_is_named() -> None:
    """A line that was told no turning words has one turn only."""
    on = Line((Word("calf"), Word("but"), Word("swollen")))

    assert list(on.spans(phrase("calf & swollen"), SIGN, in_turn=True)) == [(0, 3)]


# ---------------------------------------------------------------- what may be there

MAY_HOLD = {
    "its first word": ("heard a pop", "heard a snap", True),
    "only a later word": ("a pop", "heard a pop", False),
    "one of its first words": ("felt it", "heard|felt|had it", True),
    "any start": ("heard a pop", "swell*", True),
    "both parts": ("swollen calf", "calf & swollen", True),
    "the first part only": ("hot calf", "calf & swollen", False),
    "the second part only": ("swollen foot", "calf & swollen", False),
    "a part, and one of any start": ("hot calf", "calf & swell*", True),
    "only the one of any start": ("hot foot", "calf & swell*", False),
    "an empty line": ("", "pop", False),
}  # fmt: skip


@pytest.mark.parametrize(("text", "source", "expected"), MAY_HOLD.values(), ids=MAY_HOLD)
def test_a_line_may_hold_a_wording(text: str, source: str, expected: bool) -> None:
    """A line may hold a wording where each of its parts can begin with one of the words."""
    assert line(text).may_hold(phrase(source)) is expected


def test_a_line_knows_its_words() -> None:
    """Each word is named once, sentence ends are not among them."""
    assert line("pop and pop . and hot").distinct == {"pop", "and", "hot"}


# ---------------------------------------------------------------- what was blanked

BLANKED = {
    "the stretch itself": ("heard a pop", (1, 3), "a pop", []),
    "its first word": ("heard a pop", (1, 3), "a", []),
    "its last word": ("heard a pop", (1, 3), "pop", []),
    "a word in its middle": ("i heard a pop", (1, 4), "a", []),
    "the word before it": ("i a b c", (1, 3), "i", [(0, 1)]),
    "the word behind it": ("i a b c", (1, 3), "c", [(3, 4)]),
    "one letter": ("i a b c", (1, 2), "a", []),
    "beside one letter": ("i a b c", (1, 2), "b", [(2, 3)]),
    "the first word of all": ("pop a pop", (0, 1), "pop", [(2, 3)]),
    "the last word of all": ("pop a pop", (2, 3), "pop", [(0, 1)]),
    "a wording that reaches in": ("heard a pop", (2, 3), "a pop", []),
    "a wording that any word may start": ("my swelling calf", (1, 2), "swell*", []),
    "a short gap still passes": ("heard a loud pop", (1, 3), "heard .. pop", [(0, 4)]),
    "and counts each word": ("heard a very loud pop", (1, 4), "heard .. pop", []),
    "words behind keep their place": ("heard a loud pop today", (1, 3), "pop today", [(3, 5)]),
    "joined parts, one in it": ("calf is swollen", (0, 1), "calf & swollen", []),
    "joined parts around it": ("calf very swollen", (1, 2), "calf & swollen", [(0, 3)]),
    "behind a full stop": ("ok . heard a pop", (2, 4), "a", []),
    "ahead of it, behind a full stop": ("ok . heard a pop", (2, 4), "heard", [(1, 2)]),
    "over a full stop, its first word": ("heard . pop", (0, 2), "heard", []),
    "over a full stop, its last word": ("heard . pop", (0, 2), "pop", []),
    "over a full stop, which still counts": ("i heard a . pop it", (1, 4), "i ... it", []),
    "over a full stop, a long gap": ("i heard . pop it", (1, 3), "i ... it", [(0, 4)]),
}  # fmt: skip


@pytest.mark.parametrize(("text", "stretch", "source", "expected"), BLANKED.values(), ids=BLANKED)
@pytest.mark.parametrize("key", [SIGN, ALL], ids=["for one sign", "for all"])
def test_a_blanked_stretch_is_not_read(
    text: str, stretch: Span, source: str, expected: list[Span], key: str
) -> None:
    """What was blanked is not found again; the words around it are, where they were."""
    on = line(text)

    on.blank([(key, *stretch)])

    assert found(on, source) == expected


READERS = {
    "one sign, read by it": ([SIGN], SIGN, []),
    "one sign, read by another": ([SIGN], OTHER, [(0, 1)]),
    "one sign, read by all": ([SIGN], ALL, [(0, 1)]),
    "another too, read by the first": ([SIGN, OTHER], SIGN, []),
    "another too, read by it": ([SIGN, OTHER], OTHER, []),
    "all, read by one": ([ALL], SIGN, []),
    "all, read by all": ([ALL], ALL, []),
}


@pytest.mark.parametrize(("keys", "reader", "expected"), READERS.values(), ids=READERS)
def test_a_stretch_is_blanked_for_its_sign(
    keys: list[str], reader: str, expected: list[Span]
) -> None:
    """A stretch that one sign explained away stays readable to the others; an empty key is all."""
    on = line("pop today")

    on.blank((key, 0, 1) for key in keys)

    assert found(on, "pop", reader) == expected


TWICE = {
    "the same sign": (SIGN, SIGN, SIGN, [(1, 2)]),
    "one sign, then another, read by the first": (SIGN, OTHER, SIGN, [(1, 2), (2, 3)]),
    "one sign, then another, read by it": (SIGN, OTHER, OTHER, [(0, 1), (1, 2)]),
    "one sign, then another, read by all": (SIGN, OTHER, ALL, [(0, 1), (1, 2), (2, 3)]),
    "one sign, then all": (SIGN, ALL, SIGN, [(1, 2)]),
    "one sign, then all, read by another": (SIGN, ALL, OTHER, [(0, 1), (1, 2)]),
    "all, then one sign": (ALL, SIGN, SIGN, [(1, 2)]),
    "all, then one sign, read by another": (ALL, SIGN, OTHER, [(1, 2), (2, 3)]),
    "all, twice": (ALL, ALL, SIGN, [(1, 2)]),
}


@pytest.mark.parametrize("at_once", [True, False], ids=["at once", "one after the other"])
@pytest.mark.parametrize(("first", "then", "reader", "expected"), TWICE.values(), ids=TWICE)
def test_what_was_blanked_stays_blanked(
    first: str, then: str, reader: str, expected: list[Span], at_once: bool
) -> None:
    """A second stretch is blanked beside the first, for whoever either was meant for."""
    on = line("pop pop pop")
    covered = [(first, 0, 1), (then, 2, 3)]

    for part in [covered] if at_once else [[one] for one in covered]:
        on.blank(part)

    assert found(on, "pop", reader) == expected


AGAIN = {
    "blanked for it": ([SIGN], SIGN, []),
    "blanked for all": ([ALL], SIGN, []),
    "blanked for all, read by all": ([ALL], ALL, []),
    "blanked for another": ([OTHER], SIGN, [(1, 2)]),
    "blanked for both, read by the first": ([SIGN, OTHER], SIGN, []),
    "blanked for both, read by the second": ([OTHER, SIGN], SIGN, []),
}


@pytest.mark.parametrize(("keys", "reader", "expected"), AGAIN.values(), ids=AGAIN)
def test_what_was_found_before_is_looked_for_again(
    keys: list[str], reader: str, expected: list[Span]
) -> None:
    """What was found on a line is not kept once more of it is blanked for that sign."""
    on = line("pop snap")
    on.blank([(SIGN, 0, 1), (OTHER, 0, 1)])
    before = found(on, "snap", reader)

    on.blank((key, 1, 2) for key in keys)

    assert before == [(1, 2)]
    assert found(on, "snap", reader) == expected


def test_nothing_blanked_changes_nothing() -> None:
    """A line of which nothing is blanked is read as before."""
    on = line("pop snap")

    on.blank([])

    assert found(on, "pop snap") == [(0, 2)]


def test_a_part_is_looked_for_once() -> None:
    """Phrases that share a part share what was found of it; signs that read the same line, too."""
    on = line("my calf is hot")
    (first,) = on.spans(phrase("calf is"), SIGN)

    (again,) = on.spans(phrase("calf is"), OTHER)

    assert again is first
