"""How a wording is meant that is denied or long ago, on a small lexicon of invented words.

The shipped lexicon is tried elsewhere; here each row is one behaviour of `sense`, and "um" stands
for any word that means nothing to it. Read next: `test_sense_others_or_feared`.
"""

from __future__ import annotations

import pytest

from rules.lexicon import read_lexicon
from rules.plain_text import Pause
from rules.sense import Meant, Reading, how_meant
from rules.wordings import Kind

LEXICON = read_lexicon("""
about = "an invented one"
together = []
[written_as]
[left_alone]
words = "um"
[groups]
[context]
clause_words = "but since until"
subjects = "i it"
first_person = "i"
third_person = "his"
reporting = "says"
thinking = "think"
list_words = "and or"
time_words = "since until"
either_words = "or"
verbs = "is lacks"
denials = "no nope"
negator = ["no", "not", "zilch", "lacks", "not any"]
not_negation = ["no idea", "oh no wonder", "why not"]
other_person = ["mum"]
past = ["ago"]
now = ["now"]
supposed = ["maybe"]
settled = ["gone"]
idle = ["nosy"]
well = ["heel fine"]
healed = ["healed", "now better", "good now"]
idioms = []
[clues]
hurry = ["hurry"]
[qualities]
numb = ["numb"]
[signs.lump]
tier = "same day"
title = "Reports a lump"
source = "convention"
closed_question = "Is there a lump? Reply YES or NO."
past = "ask"
settles = true
wordings = [
  "lump", "it drips", "calf .. hot", "calf not flat", "calf .. firm not", "calf heel", "not even",
  "nope even", "zil* ice", "ice zil*", "ice* zilch ice*",
]
[signs.drug]
tier = "same day"
title = "Reports a drug"
source = "convention"
closed_question = "Is there a drug? Reply YES or NO."
past = "count"
past_raised = "pass over"
wordings = ["drug"]
ask = ["pill"]
raised = { emergency = ["overdose"] }
[signs.rash]
tier = "same day"
title = "Reports a rash"
source = "convention"
closed_question = "Is there a rash? Reply YES or NO."
past = "pass over"
past_raised = "count"
wordings = ["rash"]
ask = ["itch"]
raised = { emergency = ["blister"] }
[signs.gene]
tier = "next working day"
title = "Reports a gene"
source = "convention"
closed_question = "Is there a gene? Reply YES or NO."
past = "count"
family = true
wordings = ["gene"]
""")

STATED, UNSURE, DENIED = Meant.STATED, Meant.UNSURE, Meant.DENIED


def reading_of(text: str) -> Reading:
    """The text as the small lexicon reads it."""
    words, last_pause = LEXICON.words(text)
    return Reading(LEXICON, words, LEXICON.found_in(words), last_pause)


def meant(text: str) -> Meant:
    """How the one wording of a sign, clue or quality in the text is meant."""
    reading = reading_of(text)
    (here,) = (one for one in reading.found if one.entry.key)
    return how_meant(here, reading)


def ums(count: int) -> str:
    """So many words that mean nothing, with a space on each side."""
    return " " + "um " * count


# ---------------------------------------------------------------- how a text is read


def test_a_text_holds_its_wordings_by_kind_and_in_order() -> None:
    """What is asked for by kind is all of that kind as it stands in the text, or nothing."""
    reading = reading_of("no lump ago and no drug")

    assert [one.start for one in reading.spans(Kind.NEGATOR)] == [0, 4]
    assert [one.start for one in reading.spans(Kind.WORDING)] == [1, 5]
    assert [one.start for one in reading.spans(Kind.PAST)] == [2]
    assert list(reading.spans(Kind.NOW)) == []


NEGATORS = {
    "a plain no": ("um no um", [1]),
    "undone by its wording, at its start": ("no idea", []),
    "undone by its wording, within it": ("oh no wonder", []),
    "undone by its wording, at its end": ("why not", []),
    "one before what undoes another": ("not um no idea", [0]),
    "one right before what undoes another": ("not no idea", [0]),
    "one right behind what undoes another": ("no idea not", [2]),
    "none at all": ("um", []),
}


@pytest.mark.parametrize(("text", "starts"), NEGATORS.values(), ids=NEGATORS)
def test_a_no_that_denies_nothing_is_no_negator(text: str, starts: list[int]) -> None:
    """Every "no" counts except those that stand within a wording that undoes them."""
    assert [one.start for one in reading_of(text).negators] == starts


PAUSES = {
    "none behind the first word": ("um um, um", 0, Pause.NONE),
    "a comma behind the second": ("um um, um", 1, Pause.COMMA),
    "a question behind the last but one": ("um um? um.", 1, Pause.QUESTION),
    "a full stop behind the last": ("um, um? um.", 2, Pause.FULL_STOP),
    "nothing behind the last": ("um, um? um", 2, Pause.NONE),
}


@pytest.mark.parametrize(("text", "place", "pause"), PAUSES.values(), ids=PAUSES)
def test_the_pause_after_a_word(text: str, place: int, pause: Pause) -> None:
    """It is the one before the next word; behind the last word it is the one that ends the text."""
    assert reading_of(text).pause_after(place) is pause


CLAUSES = {
    "the first word": ("um um", 0, False),
    "the next word": ("um um", 1, False),
    "behind a comma": ("um, um", 1, False),
    "behind a question": ("um? um", 1, True),
    "behind a full stop": ("um. um", 1, True),
    "a clause word": ("um but um", 1, True),
    "a clause word as the last": ("um but", 1, True),
    "the word behind a clause word": ("um but um", 2, False),
    "a list word before a subject": ("um and it", 1, True),
    "a list word before a verb": ("um and is um", 1, True),
    "a list word before any other": ("um and um", 1, False),
    "a list word behind a subject": ("it and um", 1, False),
    "a list word two before a subject": ("um and um it", 1, False),
    "a list word as the last": ("it and", 1, False),
    "a subject with no list word": ("um it it", 1, False),
    "a word before a subject": ("um um it", 1, False),
}


@pytest.mark.parametrize(("text", "place", "ends"), CLAUSES.values(), ids=CLAUSES)
def test_where_a_new_clause_begins(text: str, place: int, ends: bool) -> None:
    """After an end of sentence, at a clause word, at an "and" before a subject or a verb."""
    assert reading_of(text).ends_clause(place) is ends


# ---------------------------------------------------------------- which judge speaks first

FIRST = {
    "nothing around it": ("lump", STATED),
    "somebody else over a comma, then a no": ("mum, no lump", UNSURE),
    "somebody else over a comma, then put together with what is fine": (
        "mum, calf, heel fine",
        UNSURE,
    ),
    "put together with what is fine": ("calf, heel fine", DENIED),
    "put together with what is fine, then a no over a comma": ("no, calf, heel fine", DENIED),
    "a no over a comma, then a denial behind": ("no, lump, no", UNSURE),
    "a no over a comma, then long ago": ("no, rash ago", UNSURE),
    "long ago, then maybe": ("maybe rash ago", DENIED),
    "a denial behind, then long ago": ("um, lump ago, no", DENIED),
    "maybe alone": ("maybe lump", UNSURE),
    "maybe and idle, then gone": ("maybe lump gone nosy", DENIED),
    "gone by now": ("lump gone", UNSURE),
    "a no, then gone": ("no lump gone", DENIED),
}


@pytest.mark.parametrize(("text", "expected"), FIRST.values(), ids=FIRST)
def test_the_first_that_says_more_than_stated_is_heard(text: str, expected: Meant) -> None:
    """Another, a part that is fine, a no before, one behind, the past, fear, an end: in order."""
    assert meant(text) is expected


# ---------------------------------------------------------------- denied before it

BEFORE = {
    "right before it": ("no lump", DENIED),
    "no as the last word of what came before": ("um no lump", DENIED),
    "five words between": (f"no{ums(5)}lump", DENIED),
    "six words between": (f"no{ums(6)}lump", DENIED),
    "seven words between": (f"no{ums(7)}lump", STATED),
    "six words between, and words before": (f"um um no{ums(6)}lump", DENIED),
    "a no of two words, six words between": (f"not any{ums(6)}lump", DENIED),
    "a no far behind it": ("lump um um um um um not um", STATED),
    "a no that is undone": ("no idea lump", STATED),
    "over a comma": ("no, lump", UNSURE),
    "over a comma further off": ("no um, um lump", UNSURE),
    "over two commas": ("no, um, lump", UNSURE),
    "a comma before the no": ("um, no lump", DENIED),
    "a comma behind the wording": ("no lump, um", DENIED),
    "over a question": ("no? lump", STATED),
    "over a full stop": ("no. lump", STATED),
    "over a full stop further off": ("no um. um lump", STATED),
    "a full stop before the no": ("um. no lump", DENIED),
    "over a clause word": ("no um but lump", STATED),
    "over a clause word right behind the no": ("no but lump", DENIED),
    "over an and": ("no um and lump", DENIED),
    "over an and with a subject": ("no um and it lump", STATED),
    "over an and with a verb": ("no um and is lump", STATED),
    "over a subject right behind the no": ("no it lump", STATED),
    "over a subject right before the wording": ("no um um it lump", STATED),
    "over a subject in the middle": ("no um it um lump", STATED),
    "a subject behind the wording": ("no um lump it", DENIED),
    "a subject before the no": ("it no lump", DENIED),
    "a subject within the wording": ("no it drips", STATED),
    "a thought": ("no think lump", DENIED),
    "a thought with a subject": ("no think it lump", DENIED),
    "a thought with a subject in the wording": ("no think it drips", DENIED),
    "a thought and a comma": ("no think it, lump", UNSURE),
    "a thought not right behind the no": ("no um think it lump", STATED),
}


@pytest.mark.parametrize(("text", "expected"), BEFORE.values(), ids=BEFORE)
def test_a_no_before_a_wording_denies_it(text: str, expected: Meant) -> None:
    """Within six words and the same clause; another subject takes it over; a comma makes doubt."""
    assert meant(text) is expected


INSIDE = {
    "a no in a gap": ("calf not hot", DENIED),
    "a no of two words in a gap": ("calf not any hot", DENIED),
    "no gap, no no": ("calf hot", STATED),
    "another word in the gap": ("calf um hot", STATED),
    "a no that the wording names": ("calf not flat", STATED),
    "one it names, and another in its gap": ("calf zilch firm not", DENIED),
    "a no that is undone": ("calf no idea hot", STATED),
    "all that it names": ("icecream zilch icecream", STATED),
    "a no that begins it": ("zilch ice", STATED),
    "a no that ends it": ("ice zilch", STATED),
}


@pytest.mark.parametrize(("text", "expected"), INSIDE.values(), ids=INSIDE)
def test_a_no_within_a_wording_denies_it(text: str, expected: Meant) -> None:
    """Only between its first and its last word, and only where the wording does not name it."""
    assert meant(text) is expected


OVER_COMMAS = {
    "a verb behind the wording": ("no um, lump is um", STATED),
    "a verb right before the wording": ("no um, um is lump", STATED),
    "a verb at the start of its clause": ("no um, is lump", STATED),
    "a verb in the clause before": ("no is, lump", UNSURE),
    "a verb in the no itself, before the comma": ("lacks, lump", UNSURE),
    "a verb in the clause behind": ("no, lump, is", UNSURE),
    "no comma and a verb": ("no um lump is", DENIED),
    "or right before": ("no um, um or lump", DENIED),
    "or three words before": ("no, or um um lump", DENIED),
    "or four words before": ("no, or um um um lump", DENIED),
    "or five words before": ("no, or um um um um lump", UNSURE),
    "or as the second word of the text": ("no or, lump", DENIED),
    "or before the no": ("um or no, lump", DENIED),
    "or before a full stop before the no": ("um or. no, lump", UNSURE),
    "or before a question before the no": ("um or? no, lump", UNSURE),
    "or before a comma before the no": ("um or, no, lump", DENIED),
    "or right behind a full stop before the no": ("um. or no, lump", DENIED),
    "or before a verb before the no": ("um or is no, lump", UNSURE),
    "or right behind as the last word": ("no, lump or", DENIED),
    "or right behind": ("no, lump or um", DENIED),
    "or three words behind": ("no, lump um um um or um", DENIED),
    "or four words behind": ("no, lump um um um um or um", DENIED),
    "or five words behind": ("no, lump um um um um um or um", UNSURE),
    "or behind another comma": ("no, lump, um or um", DENIED),
    "or at a full stop behind": ("no, lump. or um", DENIED),
    "or past a full stop behind": ("no, lump. um or um", UNSURE),
    "or past a question behind": ("no, lump? um or um", UNSURE),
    "or past a verb behind": ("no, lump, is or um", UNSURE),
    "stopped before, but or behind": ("um or. no, lump, um or um", DENIED),
    "another list word": ("no um, um and lump", UNSURE),
}


@pytest.mark.parametrize(("text", "expected"), OVER_COMMAS.values(), ids=OVER_COMMAS)
def test_a_no_reaches_over_commas_along_a_list(text: str, expected: Meant) -> None:
    """With an "or" nearby it denies, at a clause with a verb it ends, between the two is doubt."""
    assert meant(text) is expected


# ---------------------------------------------------------------- denied behind it

BEHIND = {
    "right behind, as the last word": ("lump no", DENIED),
    "right behind, at a comma": ("lump no, um", DENIED),
    "right behind, at a full stop": ("lump no. um", DENIED),
    "right behind, but it goes on": ("lump no um", STATED),
    "two words between": ("lump um um no", DENIED),
    "three words between": ("lump um um um no", DENIED),
    "four words between": ("lump um um um um no", STATED),
    "over a comma": ("lump, no", DENIED),
    "over a comma, and it goes on": ("lump, no um", STATED),
    "over a full stop": ("lump. no", UNSURE),
    "over a full stop, and it goes on": ("lump. no um", STATED),
    "over a full stop with a comma behind": ("lump. no, um", UNSURE),
    "over a full stop after three words": ("lump um um um. no", UNSURE),
    "over a full stop after four words": ("lump um um um um. no", STATED),
    "over a full stop, then another word": ("lump. um no", STATED),
    "over a comma, then another word": ("lump, um no", STATED),
    "asked and answered": ("lump? no", DENIED),
    "asked and answered at length": ("lump? no um", DENIED),
    "asked, and answered otherwise": ("lump? um no", STATED),
    "asked with more words, and answered": ("lump um? no", DENIED),
    "asked with more words, and it goes on": ("lump um? no um", STATED),
    "said twice": ("lump no no", DENIED),
    "said twice, and it goes on": ("lump no no um", STATED),
    "said three times": ("lump, no no nope", DENIED),
    "said twice over a full stop": ("lump. no no", UNSURE),
    "the second over a full stop": ("lump no. no", DENIED),
    "the second over a comma": ("lump. no, no", UNSURE),
    "the second goes on": ("lump no, no um", STATED),
    "at a clause word": ("lump but no", STATED),
    "behind a clause word": ("lump um but no", STATED),
    "behind an and": ("lump and no", DENIED),
    "behind an and with a subject": ("lump and it no", STATED),
    "behind a clause word beyond the reach": ("lump um um um but no", STATED),
    "a no that is not one to answer with": ("lump not", STATED),
    "nothing behind it": ("um lump", STATED),
    "any words behind it": ("lump um", STATED),
    "a full stop at the end": ("lump no.", DENIED),
    "an end of text behind the reach": ("lump um um um", STATED),
}


@pytest.mark.parametrize(("text", "expected"), BEHIND.values(), ids=BEHIND)
def test_a_lone_no_behind_a_wording_denies_it(text: str, expected: Meant) -> None:
    """Within three words and the same clause; a full stop between makes doubt, a "?" none."""
    assert meant(text) is expected


SAID_BEFORE = {
    "a no between, no pause": ("lump not um no", STATED),
    "a no between, over a comma": ("lump not um, no", DENIED),
    "a no right before the last": ("lump um not no", STATED),
    "a no between, over a full stop": ("lump not. no", UNSURE),
    "a no that begins the wording": ("not even no", STATED),
    "a denial that begins the wording": ("nope even no", STATED),
    "a denial in a gap of the wording": ("calf nope hot no", STATED),
    "a denial before the wording": ("nope lump no", DENIED),
    "a no in the sentence before": ("not. lump no", DENIED),
    "a no behind the last": ("lump no. not um", DENIED),
}


@pytest.mark.parametrize(("text", "expected"), SAID_BEFORE.values(), ids=SAID_BEFORE)
def test_a_no_said_twice_takes_nothing_back(text: str, expected: Meant) -> None:
    """A "no" in the wording or between it and the last one makes that one a repetition."""
    assert meant(text) is expected


# ---------------------------------------------------------------- long ago

COUNTS = {
    "a sign to ask about": ("lump ago", UNSURE),
    "a sign to pass over": ("rash ago", DENIED),
    "a sign that counts": ("drug ago", STATED),
    "a question of a sign that counts": ("pill ago", STATED),
    "a question of a sign to pass over": ("itch ago", DENIED),
    "raised, where only the sign counts": ("overdose ago", DENIED),
    "raised, where only that counts": ("blister ago", STATED),
    "what is said of a place": ("numb ago", DENIED),
    "a clue": ("hurry ago", STATED),
    "a relative's": ("gene ago", STATED),
    "nothing long ago": ("rash um", STATED),
    "nothing long ago, said of a place": ("numb um", STATED),
    "with a now": ("rash ago now", STATED),
    "with a now alone": ("rash now", STATED),
}


@pytest.mark.parametrize(("text", "expected"), COUNTS.values(), ids=COUNTS)
def test_how_long_ago_counts_is_the_signs_choice(text: str, expected: Meant) -> None:
    """Asked about, passed over or counted as its sign says; what raises a sign has its own rule."""
    assert meant(text) is expected


CLAUSE_OF_PAST = {
    "before it": ("ago lump", UNSURE),
    "behind it, further off": (f"lump{ums(9)}ago", UNSURE),
    "before it, further off": (f"ago{ums(9)}lump", UNSURE),
    "at the start of its clause": (f"{ums(6)}, ago lump", UNSURE),
    "right behind a comma": ("lump, ago", STATED),
    "right behind a comma, and more words": ("lump um, ago um", STATED),
    "right behind a full stop": ("lump. ago", STATED),
    "behind a clause word": ("lump but ago", STATED),
    "behind an and with a subject": ("lump and it ago", STATED),
    "behind an and": ("lump and ago", UNSURE),
    "a clause of one word before": ("ago, lump", UNSURE),
    "a clause of one word before, and more behind": ("ago, lump um um", UNSURE),
    "a clause of three words before": ("ago um um, lump", UNSURE),
    "a clause of four words before": ("ago um um um, lump", UNSURE),
    "a clause of five words before": ("ago um um um um, lump", STATED),
    "a clause of four words before, then a clause word": ("ago um um um but lump", UNSURE),
    "a clause of six words before, then a word": ("ago um um um um um, um lump", STATED),
    "a clause of six words before, then two": ("ago um um um um um, um um lump", STATED),
    "two clauses before": ("ago, um, lump", STATED),
    "a short clause before, a long one before that": ("um um um um, ago, lump", UNSURE),
    "a short clause further on in the text": ("um um um, ago, lump", UNSURE),
    "a now in the short clause before": ("now, lump ago", STATED),
    "a now in the long clause before": ("now um um um um, lump ago", UNSURE),
    "a now behind a comma": ("lump ago, now", UNSURE),
    "behind a time word": ("lump since um ago", UNSURE),
    "right behind a time word": ("lump since ago", UNSURE),
    "behind two time words": ("lump since um until um ago", UNSURE),
    "behind a time word over a comma": ("lump, since um ago", STATED),
    "behind a time word, then a comma": ("lump since um, ago", STATED),
    "behind a time word, then a clause word": ("lump since but ago", STATED),
    "a time word as the last": ("ago lump since", UNSURE),
    "a time word, and nothing long ago": ("lump since um", STATED),
}


@pytest.mark.parametrize(("text", "expected"), CLAUSE_OF_PAST.values(), ids=CLAUSE_OF_PAST)
def test_long_ago_is_said_in_the_same_clause(text: str, expected: Meant) -> None:
    """Or behind a time word that goes on from it, or in a clause of four words just before it."""
    assert meant(text) is expected


HEALED = {
    "in its sentence": ("drug ago, healed", DENIED),
    "of a clue": ("hurry ago, healed", DENIED),
    "of a sign to ask about": ("lump ago, healed", UNSURE),
    "of a relative": ("gene ago, healed", STATED),
    "with no time told": ("drug, healed", STATED),
    "not said": ("drug ago, um", STATED),
    "in the next sentence": ("drug ago. um healed", DENIED),
    "as the first word of the next sentence": ("drug ago. healed", DENIED),
    "in the sentence after the next": ("drug ago. um. healed", STATED),
    "in the sentence before": ("healed. drug ago", STATED),
    "in the question before": ("healed? drug ago", STATED),
    "as the first word of its sentence": ("um. healed drug ago", DENIED),
    "as the first word of the text": ("healed drug ago", DENIED),
    "long ago as the first word of its sentence": ("um. ago drug healed", DENIED),
    "long ago as the first word of the text": ("ago drug healed", DENIED),
    "long ago in the sentence before": ("ago. drug healed", STATED),
    "long ago in the question before": ("ago? drug healed", STATED),
    "long ago in the question before, further off": ("ago um? um drug healed", STATED),
    "long ago in the next sentence": ("drug. ago healed", STATED),
    "long ago behind a question": ("drug? ago healed", STATED),
    "long ago as the last word, in a sentence of its own": ("healed drug. ago", STATED),
    "long ago over a clause word": ("drug but um ago and it healed", DENIED),
    "with a now": ("drug now ago, healed", STATED),
    "with a now at the end": ("drug ago, healed, now", STATED),
    "with a now right behind it": ("drug ago, healed now", STATED),
    "with a now that it begins with": ("drug ago, now better", DENIED),
    "with a now that it ends with": ("drug ago, good now", DENIED),
    "with a now of its own and another": ("drug ago, now better, now", STATED),
    "with a now as the first word of its sentence": ("um. now drug ago healed", STATED),
    "with a now in the sentence before": ("now. drug ago healed", DENIED),
    "with a now in the next sentence": ("drug ago. now healed", DENIED),
    "with a full stop at the end": ("drug ago, healed.", DENIED),
    "of two sentences before": ("um. um. drug ago healed", DENIED),
}


@pytest.mark.parametrize(("text", "expected"), HEALED.values(), ids=HEALED)
def test_long_ago_and_healed_is_passed_over(text: str, expected: Meant) -> None:
    """Told in its sentence, healed there or in the next, and nothing of today beside it."""
    assert meant(text) is expected
