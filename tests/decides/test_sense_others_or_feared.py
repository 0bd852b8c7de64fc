"""How a wording is meant: somebody else's, feared or asked about, well, or gone by now.

A lexicon of a dozen invented wordings holds what each rule needs, so that each row shows one
behaviour of `rules.sense`, whatever ships. "very" stands for any word that says nothing here.
"""

from __future__ import annotations

import pytest

from rules.lexicon import read_lexicon
from rules.sense import Meant, Reading, how_meant, is_of_another
from rules.wordings import Found

LEXICON = read_lexicon("""
about = "a small one"
together = []
[written_as]
[left_alone]
words = "very"
[groups]
[context]
clause_words = "but after onset"
subjects = "i my it this"
first_person = "i my"
third_person = "his"
reporting = "says"
thinking = "think"
list_words = "and"
time_words = "after onset"
asking = "is"
towards = "with by"
upon = "over"
either_words = "or"
verbs = "is am"
denials = "no not"
negator = ["no", "not"]
not_negation = []
other_person = ["mum|dad", "by a player", "next door"]
past = []
now = []
supposed = ["what if", "suppose calf", "afraid it is swollen", "fear swollen things"]
settled = ["has gone", "relieved calf"]
idle = ["just curious"]
well = ["heel fine"]
idioms = []
[clues]
for_another = ["filling in for"]
operation = ["operation"]
[places]
foot = ["foot", "big toe"]
chest = ["chest"]
children = ["children"]
[qualities]
tight = ["tight"]
alone = ["alone"]
[asked_where]
heart = ["chest + tight"]
crisis = ["children + alone"]
[signs.leg-clot]
tier = "same day"
title = "Reports a swollen leg"
source = "convention"
closed_question = "Is one leg swollen? Reply YES or NO."
past = "ask"
settles = true
wordings = [
    "swollen", "calf|his ... bulging", "mum ... pulsing", "what if ... sagging", "sagging over",
    "calf ... heel", "leg ... fine", "skin ... today", "no feeling is", "onset",
]
raised = { "emergency" = ["bursting"] }
[signs.steroid]
tier = "next working day"
title = "Takes a steroid"
source = "convention"
closed_question = "Do you take a steroid? Reply YES or NO."
past = "ask"
wordings = ["cortisone"]
[signs.heart]
tier = "next working day"
title = "Has a relative with a heart attack"
source = "convention"
closed_question = "Did a relative have a heart attack? Reply YES or NO."
past = "count"
family = true
wordings = ["heart attack"]
[signs.crisis]
tier = "emergency"
title = "Wants to die"
source = "convention"
closed_question = "Do you want to die? Reply YES or NO."
past = "ask"
idle_too = true
wordings = ["end everything"]
""")

STATED, UNSURE, DENIED = Meant.STATED, Meant.UNSURE, Meant.DENIED


def read(text: str, key: str) -> tuple[Found, Reading]:
    """The first wording of this key in a text, and the text as it was read."""
    words, last_pause = LEXICON.words(text)
    reading = Reading(LEXICON, words, LEXICON.found_in(words), last_pause)
    return next(one for one in reading.found if one.entry.key == key), reading


def very(count: int) -> str:
    """So many words that say nothing."""
    return " ".join(["very"] * count)


OF_OTHERS = {
    "nobody is named": ("swollen", STATED),
    "somebody else's": ("mum swollen", DENIED),
    "named behind it": ("swollen mum", STATED),
    "named as it begins": ("mum very pulsing", DENIED),
    "named within it": ("calf mum bulging", STATED),
    "one word under the reach": (f"mum {very(12)} swollen", DENIED),
    "at the reach": (f"mum {very(13)} swollen", DENIED),
    "one word over the reach": (f"mum {very(14)} swollen", STATED),
    "the nearer of two people counts": ("mum i very dad swollen", DENIED),
    "the patient before them": ("i very mum swollen", DENIED),
    "the patient right behind them": ("mum i swollen", STATED),
    "the patient just before it": ("mum very i swollen", STATED),
    "the patient within it": ("mum calf i bulging", STATED),
    "the patient within it, before a comma": ("mum calf i, bulging", STATED),
    "the patient within it, behind a comma": ("mum calf, i bulging", DENIED),
    "the patient within it, behind a later comma": ("mum calf very, i bulging", DENIED),
    "the patient behind a comma before it": ("mum, calf i bulging", STATED),
    "the patient after it": ("mum swollen i", DENIED),
    "a comma right behind them": ("mum, very swollen", UNSURE),
    "a comma just before it": ("mum very, swollen", UNSURE),
    "a comma before them": ("very, mum swollen", DENIED),
    "a comma behind it": ("mum swollen, very", DENIED),
    "a comma within it": ("mum calf, bulging", DENIED),
    "told by them": ("mum says swollen", STATED),
    "told by them, two words behind": ("mum very says swollen", STATED),
    "told by them, three words behind": ("mum very very says swollen", DENIED),
    "told by them, one word before": ("says mum swollen", STATED),
    "told by them, one word before, later": ("very very says mum swollen", STATED),
    "told by them, two words before": ("says very mum swollen", DENIED),
    "told by people of two words": ("next door very says swollen", STATED),
    "written in the patient's place": ("mum swollen filling in for", UNSURE),
    "another clue changes nothing": ("mum swollen operation", DENIED),
}


@pytest.mark.parametrize(("text", "meant"), OF_OTHERS.values(), ids=OF_OTHERS)
def test_of_somebody_else(text: str, meant: Meant) -> None:
    """Somebody else's is passed over, unless the patient comes in, or they only report it."""
    here, reading = read(text, "leg-clot")

    assert how_meant(here, reading) is meant


POINTED_AT = {
    "with nobody named": ("his swollen", UNSURE),
    "with nobody named, as it begins": ("his bulging", UNSURE),
    "with nobody named, within it": ("calf his bulging", UNSURE),
    "two words before it": ("his very swollen", STATED),
    "two words before it, later": ("very his very swollen", STATED),
    "behind it": ("swollen his", STATED),
    "behind the patient": ("i very his swollen", STATED),
    "before the patient": ("his swollen i", UNSURE),
    "with the patient within it": ("his calf i bulging", STATED),
    "of one who is named and tells it": ("mum says his swollen", DENIED),
    "of one who is named, within it": ("mum says calf his bulging", DENIED),
    "of one who is named, two words before it": ("mum says his very swollen", STATED),
    "of one who is named, the patient within it": ("mum his calf i bulging", UNSURE),
    "of one who is named, the patient before": ("i mum his swollen", DENIED),
    "of one who is named, the patient behind": ("mum his swollen i", DENIED),
    "in the patient's place": ("mum his swollen filling in for", UNSURE),
}


@pytest.mark.parametrize(("text", "meant"), POINTED_AT.values(), ids=POINTED_AT)
def test_pointed_at_with_his(text: str, meant: Meant) -> None:
    """A "his" just before or in a wording points to another, named or not."""
    here, reading = read(text, "leg-clot")

    assert how_meant(here, reading) is meant


LEFT = {
    "at a clause word right behind them": ("mum but very swollen", STATED),
    "at a clause word just before it": ("mum very but swollen", STATED),
    "not at a clause word before them": ("but mum swollen", DENIED),
    "not at a clause word behind it": ("mum swollen but", DENIED),
    "not at a clause word within it": ("mum calf but bulging", DENIED),
    "at a full stop": ("mum. swollen", STATED),
    "at a full stop right behind them": ("mum. very swollen", STATED),
    "at a question mark": ("mum? swollen", STATED),
    "at an and with a verb": ("mum and is swollen", STATED),
    "not at a lone and": ("mum and swollen", DENIED),
    "not where it says when": ("mum after swollen", DENIED),
    "at a time of a subject's": ("mum after this swollen", STATED),
    "at a time behind a full stop": ("mum. after swollen", STATED),
    "at a time behind a question mark": ("mum? after swollen", STATED),
    "in doubt at a time behind a comma": ("mum, after swollen", UNSURE),
    "at a time that is the last word": ("mum onset", STATED),
    "not at a time that a word follows": ("mum onset very", DENIED),
}


@pytest.mark.parametrize(("text", "meant"), LEFT.values(), ids=LEFT)
def test_the_text_leaves_them(text: str, meant: Meant) -> None:
    """A new clause leaves the other person; a clause that only says when it was does not."""
    here, reading = read(text, "leg-clot")

    assert how_meant(here, reading) is meant


TOUCHED = {
    "with them, and": ("with mum and swollen", STATED),
    "with them, and, later": ("very very with mum very and swollen", STATED),
    "with them, right behind a comma": ("with mum, swollen", STATED),
    "with them, a comma further on": ("with mum, very swollen", STATED),
    "by them, the word within the person": ("by a player and swollen", STATED),
    "by them, in the middle of a text": ("very by a player and swollen", STATED),
    "nothing parts it": ("with mum swollen", DENIED),
    "parted before them": ("and with, mum swollen", DENIED),
    "parted within it": ("with mum calf, bulging", DENIED),
    "an and within it": ("with mum calf and bulging", DENIED),
    "two words before them": ("with very mum and swollen", DENIED),
    "two words before them, later": ("very with very mum and swollen", DENIED),
    "right behind them": ("mum with and swollen", DENIED),
    "no such word": ("very mum and swollen", DENIED),
}


@pytest.mark.parametrize(("text", "meant"), TOUCHED.values(), ids=TOUCHED)
def test_they_are_only_touched(text: str, meant: Meant) -> None:
    """What is done with or by another leaves the patient, who goes on over "and" or a comma."""
    here, reading = read(text, "leg-clot")

    assert how_meant(here, reading) is meant


HARMED = {
    "upon a place": ("mum over foot swollen", UNSURE),
    "upon a place, further on": ("mum very over foot very swollen", UNSURE),
    "upon a place of two words": ("mum over big toe swollen", UNSURE),
    "upon a place with a word before it": ("mum over this foot swollen", UNSURE),
    "upon something else": ("mum over very swollen", DENIED),
    "another word before the place": ("mum over very foot swollen", DENIED),
    "two words before the place": ("mum over this very foot swollen", DENIED),
    "beside a place": ("mum very foot swollen", DENIED),
    "a place before": ("mum foot over very swollen", DENIED),
    "two words before, one behind": ("mum foot over this swollen", DENIED),
    "before them": ("over foot mum swollen", DENIED),
    "the last word of it": ("mum sagging over foot", UNSURE),
    "the last word of it, and more": ("mum sagging over foot very", UNSURE),
    "the last word of the text": ("mum sagging over", DENIED),
    "right behind it": ("mum swollen over foot", DENIED),
    "right behind it, and more": ("mum swollen over foot very", DENIED),
}


@pytest.mark.parametrize(("text", "meant"), HARMED.values(), ids=HARMED)
def test_they_may_have_done_it(text: str, meant: Meant) -> None:
    """Where the other one went upon a place of the body, it may be the patient's."""
    here, reading = read(text, "leg-clot")

    assert how_meant(here, reading) is meant


OTHERS_BY_KEY = {
    "a sign that runs in families": ("mum heart attack", "heart", STATED),
    "a sign that runs in families, pointed at": ("mum his heart attack", "heart", STATED),
    "a sign that does not": ("mum cortisone", "steroid", DENIED),
    "a clue": ("mum operation", "operation", DENIED),
}


@pytest.mark.parametrize(("text", "key", "meant"), OTHERS_BY_KEY.values(), ids=OTHERS_BY_KEY)
def test_whose_counts(text: str, key: str, meant: Meant) -> None:
    """A relative's body counts for a sign of families, and for no other sign or clue."""
    here, reading = read(text, key)

    assert how_meant(here, reading) is meant


PLACES_OF_OTHERS = {
    "somebody else's": ("mum foot", "foot", True),
    "the patient's": ("my foot", "foot", False),
    "in doubt": ("mum, foot", "foot", False),
    "of a sign that runs in families": ("mum chest", "chest", False),
    "of a sign that is heard however idly": ("mum children", "children", False),
}


@pytest.mark.parametrize(
    ("text", "key", "expected"), PLACES_OF_OTHERS.values(), ids=PLACES_OF_OTHERS
)
def test_a_place_of_somebody_else(text: str, key: str, expected: bool) -> None:
    """A place is somebody else's where that is certain, and where its sign does not live by it."""
    here, reading = read(text, key)

    assert is_of_another(here, reading) is expected


ASKED = {
    "in a question": ("is swollen bad?", UNSURE),
    "in a question that ends with it": ("is swollen?", UNSURE),
    "in a question, more behind it": ("is swollen bad? very", UNSURE),
    "in a question, idly": ("is swollen bad? just curious", DENIED),
    "in a question behind a sentence": ("my very. is swollen bad?", UNSURE),
    "no asking word first": ("very is swollen bad?", STATED),
    "no question mark": ("is swollen bad", STATED),
    "a full stop": ("is swollen bad.", STATED),
    "a question mark in the next sentence": ("is swollen bad. very?", STATED),
    "of the patient's body": ("is my swollen bad?", STATED),
    "of the patient's body, within it": ("is calf my bulging bad?", STATED),
    "the patient only behind it": ("is swollen my?", UNSURE),
}


@pytest.mark.parametrize(("text", "meant"), ASKED.values(), ids=ASKED)
def test_asked_with_nobodys_body(text: str, meant: Meant) -> None:
    """A question that names nobody's body leaves it open, or passes where it is idle."""
    here, reading = read(text, "leg-clot")

    assert how_meant(here, reading) is meant


SUPPOSED = {
    "just behind it": ("what if swollen", UNSURE),
    "in the middle of a text": ("very very what if swollen", UNSURE),
    "one word under the reach": (f"what if {very(3)} swollen", UNSURE),
    "at the reach": (f"what if {very(4)} swollen", UNSURE),
    "one word over the reach": (f"what if {very(5)} swollen", STATED),
    "behind the wording": ("swollen what if", STATED),
    "as the wording begins": ("what if sagging", STATED),
    "it reaches into the wording": ("suppose calf bulging", UNSURE),
    "it holds the wording": ("fear swollen things", STATED),
    "it ends with the wording": ("afraid it is swollen", STATED),
    "a clause word right behind it": ("what if but very swollen", STATED),
    "a comma right behind it": ("what if, very swollen", STATED),
    "a comma just before the wording": ("what if very, swollen", STATED),
    "a comma before it": ("very, what if swollen", UNSURE),
    "a comma within the wording": ("what if calf, bulging", UNSURE),
    "the patient right behind it": ("what if i very swollen", STATED),
    "the patient just before the wording": ("what if very i swollen", STATED),
    "the patient before it": ("i what if swollen", UNSURE),
    "the patient within the wording": ("what if calf i bulging", UNSURE),
    "the patient behind the wording": ("what if swollen i", UNSURE),
    "the first is cut off, the second is not": ("what if i very what if swollen", UNSURE),
    "idly": ("what if swollen just curious", DENIED),
    "idly, said before it": ("just curious what if swollen", DENIED),
    "idly, but cut off": ("what if, swollen just curious", STATED),
}


@pytest.mark.parametrize(("text", "meant"), SUPPOSED.values(), ids=SUPPOSED)
def test_supposed(text: str, meant: Meant) -> None:
    """A "what if" shortly before a wording leaves it open, unless something cuts it off."""
    here, reading = read(text, "leg-clot")

    assert how_meant(here, reading) is meant


ANSWERED = {
    "by a verb and a no": ("what if swollen and am not", DENIED),
    "by the patient and a no": ("what if swollen and i not", DENIED),
    "a no right behind the wording": ("what if no feeling is not", DENIED),
    "a no of nobody's": (f"what if swollen {very(4)} not", UNSURE),
    "one word under the reach": (f"what if swollen {very(5)} am not", DENIED),
    "at the reach": (f"what if swollen {very(6)} am not", DENIED),
    "one word over the reach": (f"what if swollen {very(7)} am not", UNSURE),
    "no no at all": (f"what if swollen {very(4)} am", UNSURE),
    "a no that goes on": (f"what if swollen {very(3)} am not very", UNSURE),
    "a no before a comma": (f"what if swollen {very(3)} am not, very", DENIED),
    "a no before a full stop": (f"what if swollen {very(3)} am not. very", DENIED),
    "the second no is the last": (f"what if swollen {very(3)} am not i not", DENIED),
    "only before it is supposed": (f"am not, {very(5)} what if swollen", UNSURE),
    "a comma before the answer": (f"what if swollen {very(3)}, am not", DENIED),
    "a question mark before the answer": (f"what if swollen {very(3)}? am not", UNSURE),
    "a full stop before the answer": (f"what if swollen {very(3)}. am not", UNSURE),
    "a full stop before the no": (f"what if swollen {very(3)} am. not", UNSURE),
}


@pytest.mark.parametrize(("text", "meant"), ANSWERED.values(), ids=ANSWERED)
def test_supposed_and_answered(text: str, meant: Meant) -> None:
    """What is supposed and answered with the patient's own "no" is passed over."""
    here, reading = read(text, "leg-clot")

    assert how_meant(here, reading) is meant


NEVER_IDLE = {
    "supposed, of the crisis": ("what if end everything just curious", "crisis", UNSURE),
    "asked, of the crisis": ("is end everything bad? just curious", "crisis", UNSURE),
    "supposed and answered, of the crisis": ("what if end everything and am not", "crisis", UNSURE),
    "supposed, of another sign": ("what if cortisone just curious", "steroid", DENIED),
    "supposed, of a clue": ("what if operation just curious", "operation", UNSURE),
    "asked, of a clue": ("is operation bad? just curious", "operation", DENIED),
    "supposed, of what the crisis shows in": ("what if alone just curious", "alone", UNSURE),
    "asked, of what the crisis shows in": ("is alone bad? just curious", "alone", UNSURE),
}


@pytest.mark.parametrize(("text", "key", "meant"), NEVER_IDLE.values(), ids=NEVER_IDLE)
def test_what_is_heard_however_idly(text: str, key: str, meant: Meant) -> None:
    """Idle talk passes over a sign, not over the crisis; a clue only where it is asked about."""
    here, reading = read(text, key)

    assert how_meant(here, reading) is meant


WELL = {
    "put together over a comma": ("calf bad, heel fine", DENIED),
    "put together over an early comma": ("calf, bad heel fine", DENIED),
    "put together over a clause word": ("calf but heel fine", DENIED),
    "nothing parts it": ("calf bad heel fine", STATED),
    "parted before it": ("very, calf bad heel fine", STATED),
    "parted within what is well": ("calf bad heel, fine", STATED),
    "both end together": ("leg bad, heel fine", DENIED),
    "the wording goes on": ("skin bad, heel fine today", STATED),
    "side by side": ("swollen, heel fine", STATED),
    "further on": ("swollen, very, heel fine", STATED),
    "the second of two": ("heel fine, calf bad, heel fine", DENIED),
}


@pytest.mark.parametrize(("text", "meant"), WELL.values(), ids=WELL)
def test_put_together_from_what_is_well(text: str, meant: Meant) -> None:
    """A wording that takes its end, over a pause, from a part that is well, is none."""
    here, reading = read(text, "leg-clot")

    assert how_meant(here, reading) is meant


SETTLED = {
    "gone by now": ("swollen has gone", "leg-clot", UNSURE),
    "not gone": ("swollen very", "leg-clot", STATED),
    "one word under the reach": (f"swollen {very(5)} has gone", "leg-clot", UNSURE),
    "at the reach": (f"swollen {very(6)} has gone", "leg-clot", UNSURE),
    "one word over the reach": (f"swollen {very(7)} has gone", "leg-clot", STATED),
    "said just before it": ("has gone swollen", "leg-clot", STATED),
    "said into it": ("relieved calf bulging", "leg-clot", UNSURE),
    "an emergency": ("bursting has gone", "leg-clot", STATED),
    "a sign that does not settle": ("cortisone has gone", "steroid", STATED),
    "a clue": ("operation has gone", "operation", STATED),
}


@pytest.mark.parametrize(("text", "key", "meant"), SETTLED.values(), ids=SETTLED)
def test_gone_by_now(text: str, key: str, meant: Meant) -> None:
    """Of what has gone it is asked, where the sign may settle and is no emergency."""
    here, reading = read(text, key)

    assert how_meant(here, reading) is meant
