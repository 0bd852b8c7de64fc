"""From what was typed to words as they are listed: worked examples for `plain_text` and `spelling`.

What patients type is read with the shipped lexicon; each limit is shown on a few words of its own.
"""

from __future__ import annotations

import pytest

from rules.lexicon import shipped_wordings
from rules.plain_text import LAUGH, Pause, Word, words_of
from rules.spelling import Speller

LEXICON = shipped_wordings("en")
MARKS = {"": Pause.NONE, ",": Pause.COMMA, "?": Pause.QUESTION, ".": Pause.FULL_STOP}


def words(text: str) -> tuple[Word, ...]:
    """Words apart by spaces; one mark in front of a word is the pause before it."""
    return tuple(
        Word(piece.lstrip(",?."), MARKS[piece[: len(piece) - len(piece.lstrip(",?."))]])
        for piece in text.split()
    )


PLAIN = {
    "only spaces": (" \t ", ""),
    "capitals": ("My HEEL Hurts", "my heel hurts"),
    "an underscore": ("sore_heel", "sore heel"),
    "accents": ("\u00c9l ni\u00f1o, cre\u0300me", "el nino ,creme"),
    "wide letters": ("\uff28\uff25\uff25\uff2c", "heel"),
    "two letters set as one": ("sti\ufb00", "stiff"),
    "drawn out": ("owww nooooo", "owww nooo"),
    "a run of digits": ("10000", "10000"),
    "an apostrophe": ("can't", "cant"),
    "a curly apostrophe": ("can\u2019t", "cant"),
    "a laughing face": ("dying\U0001f602today", f"dying {LAUGH} today"),
    "another face": ("sore \U0001f642 today", "sore ,today"),
    "decimals": ("38.5 or 38,5", "38.5 or 38.5"),
    "a unit": ("38,5c for 45min, 3km", "38.5 c for 45 min ,3 km"),
    "shorthand": ("b4 2day", "b4 2day"),
    "two numbers": ("3, 4", "3 ,4"),
    "a pause before the first word": ("...! no, pain", "no ,pain"),
}  # fmt: skip


@pytest.mark.parametrize(("text", "plain"), PLAIN.values(), ids=PLAIN)
def test_text_becomes_plain_words(text: str, plain: str) -> None:
    """Small letters without accents; a number keeps its decimals and lets go of its unit."""
    assert words_of(text) == (words(plain), Pause.NONE)


PAUSES = {
    " ": Pause.NONE, ", ": Pause.COMMA, " - ": Pause.COMMA, "/": Pause.COMMA, "... ": Pause.COMMA,
    "? ": Pause.QUESTION, ",? ": Pause.QUESTION, "?, ": Pause.QUESTION, ". ": Pause.FULL_STOP,
    "! ": Pause.FULL_STOP, "; ": Pause.FULL_STOP, "\n": Pause.FULL_STOP, "?! ": Pause.FULL_STOP,
}  # fmt: skip


@pytest.mark.parametrize(("between", "pause"), PAUSES.items())
def test_what_stands_between_words_is_a_pause(between: str, pause: Pause) -> None:
    """The greatest pause before a word is kept with it, and the same after the last word."""
    found, last_pause = words_of(f"no{between}pain at all{between}")

    assert found == (Word("no"), Word("pain", pause), Word("at"), Word("all"))
    assert last_pause is pause


TYPED = {
    "letters swapped": ("chset pain", "chest pain"),
    "a letter missing": ("can\u2019t brethe", "cant breathe"),
    "a wrong letter, twice": ("achilies tendan", "achilles tendon"),
    "two slips in a long word": ("brethles", "breathless"),
    "two slips in a short word": ("nubm", "nubm"),
    "a doubled letter too many": ("swolen and hott", "swollen and hot"),
    "drawn out": ("poooop", "pop"),
    "another spelling": ("feels wierd 2nite", "feels weird tonight"),
    "a plural that stands for a verb": ("my calfs swollen", "my calf swollen"),
    "run together": ("cantfeelmyfoot", "cant feel my foot"),
    "run together, with a short form": ("imhot", "i am hot"),
    "the first letter, in a short word": ("manic", "manic"),
    "words near a listed one": ("thumb call top half", "thumb call top half"),
    "pauses stay": ("my calf... heelpain, numbb", "my calf ,heel pain ,numb"),
}  # fmt: skip


@pytest.mark.parametrize(("typed", "read"), TYPED.values(), ids=TYPED)
def test_what_patients_type_is_read_as_it_is_meant(typed: str, read: str) -> None:
    """Slips, shorthand and missing spaces are mended; ordinary words stay themselves."""
    found, _ = LEXICON.words(typed)

    assert found == words(read)


TARGETS = [
    "calf", "ankle", "swelling", "swollen", "tightness", "physiotherapist", "stuck", "stuck",
    "stack",
]  # fmt: skip
LISTED = [
    "fever", "heel", "pain", "toe", "my", "hot", "a", "i", "u", "b", "so", "am", "agony", "sore",
]  # fmt: skip
SPELLER = Speller(
    LISTED + TARGETS,
    TARGETS,
    {"rite": "right", "gonna": "going to", "to nite": "tonight", "th": "the", "tht": "that"},
    ["thumb"],
)
LIMITS = {
    "4 letters, one slip": ("calx", "calx"),
    "5 letters, one slip": ("ankla", "ankle"),
    "8 letters, two slips": ("swallung", "swallung"),
    "9 letters, two slips": ("tughtnass", "tightness"),
    "9 letters, three slips": ("tughtnozs", "tughtnozs"),
    "the first of 7 letters": ("zwollen", "zwollen"),
    "the first of 8 letters": ("zwelling", "swelling"),
    "the first two of 7 letters swapped": ("wsollen", "swollen"),
    "a digit is no slip": ("ank1e", "ank1e"),
    "a listed word takes no slips": ("faver", "faver"),
    "of two equally close the most used": ("stck", "stuck"),
    "an s behind 3 letters": ("toes", "toes"),
    "an s behind 4 letters": ("heels", "heel"),
    "a word left alone": ("thumb", "thumb"),
    "another spelling": ("rite", "right"),
    "another spelling, of two words": ("gonna", "going to"),
    "two words for one": ("my to nite", "my tonight"),
    "a pause keeps them apart": ("to ,nite", "to ,nite"),
    "3 letters are not cut": ("ahi", "ahi"),
    "4 letters are cut": ("imso", "im so"),
    "a lone letter that is a word": ("ihot", "i hot"),
    "a lone letter that is none": ("bhot", "bhot"),
    "159 letters are cut": ("pain" * 39 + "toe", "pain " * 39 + "toe"),
    "161 letters are not": ("pain" * 39 + "ankle", "pain" * 39 + "ankle"),
    "three words of 7 letters": ("iamsore", "iamsore"),
    "three words of 8 letters": ("iamagony", "i am agony"),
    "a part of 15 letters": ("myphysiotherapist", "my physiotherapist"),
    "another spelling of 2 letters is no part": ("thheel", "thheel"),
    "another spelling of 3 letters is": ("ththeel", "that heel"),
    "an unknown part": ("heelxpain", "heelxpain"),
}  # fmt: skip


@pytest.mark.parametrize(("typed", "found"), LIMITS.values(), ids=LIMITS)
def test_each_limit_has_an_example_on_both_sides(typed: str, found: str) -> None:
    """How long a word must be before a slip is forgiven, an s falls away, or it is cut."""
    assert SPELLER.corrected(words(typed)) == words(found)
