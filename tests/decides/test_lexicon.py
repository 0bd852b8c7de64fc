"""The lexicon's file: what each key becomes, where each entry stands in a text, what is refused.

All on one small file. How wordings are written is tried in `test_phrase`, what they mean in a text
in `test_screening`.
"""

from __future__ import annotations

import pytest

from rules.errors import LexiconError
from rules.history import Tier
from rules.lexicon import Lexicon, part_of_shipped, read_lexicon, shipped_lexicon
from rules.wordings import Kind, Meeting, Past, Together

FILE = """
about = "a small one"
together = [
  { parts = ["clot", "fever"], sign = "rash", tier = "emergency" },
  { parts = ["rash", "fever"], sign = "clot", tier = "same day", ask = true },
]
[clues]
fever = ["fever"]
[written_as]
calf = "kalf, calve"
colour = "color"
[left_alone]
words = "half"
[groups]
leg = "calf|leg"
[context]
clause_words = "but color"
subjects = "i"
first_person = "my"
third_person = "his"
reporting = "says"
thinking = "think"
list_words = "and"
either_words = "or"
verbs = "is"
denials = "no"
upon = "on"
negator = ["not"]
not_negation = ["not only"]
other_person = ["mum"]
past = ["years ago"]
now = ["today"]
supposed = ["what if"]
settled = ["gone"]
idle = ["just asking"]
idioms = ["cold feet"]
[signs.clot]
tier = "same day"
title = "Reports a swollen leg"
source = "convention"
closed_question = "Is one leg swollen? Reply YES or NO."
past = "pass over"
past_raised = "count"
settles = true
family = true
wordings = ["swollen {leg}"]
ask = ["heavy {leg}"]
ask_instead = ["swollen ankle"]
near_misses = ["swollen foot"]
[signs.clot.raised]
emergency = ["purple {leg}"]
[signs.rash]
tier = "next working day"
title = "Reports a rash"
source = "convention"
closed_question = "Is there a rash? Reply YES or NO."
past = "ask"
idle_too = true
wordings = ["spots"]
[places]
shin = ["shin"]
[qualities]
itchy = ["itchy"]
warm = ["warm"]
[asked_where]
rash = ["shin + itchy"]
clot = ["shin + warm"]
"""


@pytest.fixture
def lexicon() -> Lexicon:
    """The small file, read."""
    return read_lexicon(FILE)


def found(text: str, lexicon: Lexicon) -> list[tuple[str, str, str | None, int, int]]:
    """Kind, key, tier and place of each entry in a text."""
    words, _pause = lexicon.words(text)
    return [
        (here.entry.kind.value, here.entry.key, here.entry.tier, here.start, here.end)
        for here in lexicon.found_in(words)
    ]


ENTRIES = {
    "a wording": ("my swollen calf", [("wording", "clot", "same day", 1, 3)]),
    "a raised wording": ("purple leg", [("wording", "clot", "emergency", 0, 2)]),
    "a wording to ask about": ("heavy calf", [("ask", "clot", None, 0, 2)]),
    "one that is asked about instead": ("swollen ankle", [("ask instead", "clot", None, 0, 2)]),
    "another sign's": ("spots", [("wording", "rash", "next working day", 0, 1)]),
    "a clue": ("fever", [("clue", "fever", None, 0, 1)]),
    "a place and a quality": (
        "itchy shin",
        [("quality", "itchy", None, 0, 1), ("place", "shin", None, 1, 2)],
    ),
    "a negator": ("not", [("negator", "", None, 0, 1)]),
    "no negation": (
        "not only",
        [("negator", "", None, 0, 1), ("not_negation", "", None, 0, 2)],
    ),
    "another person": ("mum", [("other_person", "", None, 0, 1)]),
    "long ago": ("years ago", [("past", "", None, 0, 2)]),
    "today": ("today", [("now", "", None, 0, 1)]),
    "supposed": ("what if", [("supposed", "", None, 0, 2)]),
    "settled": ("gone", [("settled", "", None, 0, 1)]),
    "idle": ("just asking", [("idle", "", None, 0, 2)]),
    "an idiom": ("cold feet", [("idiom", "", None, 0, 2)]),
    "a near-miss without its sign": ("swollen foot", []),
    "a near-miss beside its sign": (
        "swollen foot and swollen leg",
        [("near miss", "clot", None, 0, 2), ("wording", "clot", "same day", 3, 5)],
    ),
    "nothing": ("good day", []),
}


@pytest.mark.parametrize(("text", "entries"), ENTRIES.values(), ids=ENTRIES)
def test_each_key_of_the_file_is_an_entry_at_its_place(
    lexicon: Lexicon, text: str, entries: list[tuple[str, str, str | None, int, int]]
) -> None:
    """Kind, key and tier follow from where a wording stands in the file."""
    assert found(text, lexicon) == entries


BLANKED = {
    "an idiom hides from all": ('idioms = ["swollen leg"]', "swollen leg", ["idiom"]),
    "what is asked instead hides from its sign": (
        'idioms = ["x"]',
        "swollen ankle spots",
        ["ask instead", "wording"],
    ),
}


@pytest.mark.parametrize(("idioms", "text", "kinds"), BLANKED.values(), ids=BLANKED)
def test_what_explains_words_away_is_read_first(idioms: str, text: str, kinds: list[str]) -> None:
    """Covered words are not read again by those they are covered for."""
    lexicon = read_lexicon(FILE.replace('idioms = ["cold feet"]', idioms))

    assert [kind for kind, *_ in found(text, lexicon)] == kinds


def test_a_near_miss_that_denies_itself_explains_nothing() -> None:
    """ "Swollen, not the foot": a word of denial inside it, which it does not name."""
    source = FILE.replace('upon = "on"', 'upon = "on"\nnot_because = "not"').replace(
        '"swollen foot"', '"swollen .. foot"'
    )

    kinds = [kind for kind, *_ in found("swollen leg not foot", read_lexicon(source))]

    assert "near miss" not in kinds
    assert "wording" in kinds


TURNED = {
    "an explanation in one go": ("gym and then swollen leg", ["near miss"]),
    "an explanation that the text turns from": ("gym colour swollen leg", ["wording"]),
    "a wording over a turn": ("heavy colour shin", ["ask", "place"]),
}


@pytest.mark.parametrize(("text", "kinds"), TURNED.values(), ids=TURNED)
def test_only_an_explanation_stops_where_the_text_turns(text: str, kinds: list[str]) -> None:
    """A near-miss that `&` joins ends at a turning word; what shows a sign reaches over it."""
    source = (
        FILE.replace('upon = "on"', 'upon = "on"\nturning_words = "colour"')
        .replace('"swollen foot"', '"gym & swollen {leg}"')
        .replace('"heavy {leg}"', '"heavy & shin"')
    )

    assert [kind for kind, *_ in found(text, read_lexicon(source))] == kinds


def test_a_wording_may_start_with_any_word() -> None:
    """One that begins with an ending is looked for at each word."""
    source = FILE.replace('"spots"', '"*spots"')

    assert [key for _, key, *_ in found("sunspots", read_lexicon(source))] == ["rash"]


def test_concepts_may_lack() -> None:
    """A file without places, qualities and what they ask about is whole."""
    bare = read_lexicon(FILE[: FILE.index("[places]")])

    assert bare.meetings == ()


def test_signs_keep_what_the_file_says_of_them(lexicon: Lexicon) -> None:
    """Tier, title, question, source, and how wordings bear what stands around them."""
    clot, rash = lexicon.signs["clot"], lexicon.signs["rash"]

    assert (clot.sign.key, clot.sign.tier) == ("clot", Tier.SAME_DAY)
    assert clot.sign.title == "Reports a swollen leg"
    assert clot.sign.closed_question == "Is one leg swollen? Reply YES or NO."
    assert clot.sign.source == "convention"
    assert (clot.past, clot.past_raised) == (Past.PASS_OVER, Past.COUNT)
    assert (clot.settles, clot.family, clot.idle_too) == (True, True, False)
    assert (rash.past, rash.past_raised) == (Past.ASK, Past.ASK)
    assert (rash.settles, rash.family, rash.idle_too) == (False, False, True)


def test_signs_and_concepts_are_put_in_company(lexicon: Lexicon) -> None:
    """Rows of `together` and of `asked_where`, in the order of the file."""
    assert lexicon.together == (
        Together(frozenset({"clot", "fever"}), "rash", Tier.EMERGENCY, ask=False),
        Together(frozenset({"rash", "fever"}), "clot", Tier.SAME_DAY, ask=True),
    )
    assert set(lexicon.meetings) == {
        Meeting("rash", frozenset({"shin", "itchy"})),
        Meeting("clot", frozenset({"shin", "warm"})),
    }


def test_what_is_heard_of_relatives_and_idly_takes_its_concepts_along(lexicon: Lexicon) -> None:
    """The signs marked so, and the concepts that ask about them."""
    assert lexicon.of_relatives == {"clot", "shin", "warm"}
    assert lexicon.never_idle == {"rash", "shin", "itchy"}


def test_words_come_in_the_spelling_of_the_file(lexicon: Lexicon) -> None:
    """Other spellings are read as the file's own, in the lists of the context as well."""
    words, _pause = lexicon.words("Kalf half color")

    assert [word.text for word in words] == ["calf", "half", "colour"]
    assert lexicon.clause_words == {"but", "colour"}


def test_lists_that_may_lack_are_empty(lexicon: Lexicon) -> None:
    """Some lists of the context need not stand in the file; one that does is read."""
    assert lexicon.time_words == frozenset()
    assert lexicon.upon == {"on"}


def test_kinds_that_may_lack_are_no_entries(lexicon: Lexicon) -> None:
    """ "Well" and "healed" need not stand in the file."""
    assert found("well healed", lexicon) == []
    assert lexicon.index[None].keys() >= {"not", "mum"}
    assert Kind.IDIOM in lexicon.index


REFUSED = {
    "a key of the file": (
        FILE.replace("[left_alone]", "[let_alone]"),
        "the file: let_alone is not one of ['about', 'asked_where', 'clues', 'context', 'groups',"
        " 'left_alone', 'places', 'qualities', 'signs', 'together', 'written_as']",
    ),
    "a key of a sign": (
        FILE.replace("family = true", "relatives = true"),
        "sign 'clot': relatives is not one of ['ask', 'ask_instead', 'closed_question', 'family',"
        " 'idle_too', 'near_misses', 'past', 'past_raised', 'raised', 'settles', 'source', 'tier',"
        " 'title', 'wordings']",
    ),
    "a list that must be there": (
        FILE.replace('denials = "no"', ""),
        "the warning signs file lacks or misspells 'denials'",
    ),
    "a kind that must be there": (
        FILE.replace('settled = ["gone"]', ""),
        "the warning signs file lacks or misspells 'settled'",
    ),
    "an unknown sign in company": (
        FILE.replace('"rash", "fever"]', '"rush", "fever"]'),
        "together: ['rush', 'fever'] names no sign or clue: {'rush'}",
    ),
    "a clue for a sign": (
        FILE.replace('sign = "rash", tier', 'sign = "fever", tier'),
        "together: ['clot', 'fever'] names no sign or clue: set()",
    ),
    "an unknown concept": (
        FILE.replace("shin + warm", "shin + hot"),
        "asked_where: clot = 'shin + hot' names no sign or concept",
    ),
    "one concept": (
        FILE.replace("shin + warm", "shin"),
        "asked_where: clot = 'shin' names no sign or concept",
    ),
    "a spelling of two words": (
        FILE.replace('colour = "color"', 'colour = "calve"'),
        "spelling 'calve' stands for two words",
    ),
}


@pytest.mark.parametrize(("text", "message"), REFUSED.values(), ids=REFUSED)
def test_a_file_in_error_is_refused_with_what_is_wrong(text: str, message: str) -> None:
    """The message names the place, what was found and what may stand there."""
    with pytest.raises(LexiconError) as refused:
        read_lexicon(text)

    assert str(refused.value) == message


def test_a_text_that_is_no_toml_is_refused() -> None:
    """The library's own message follows ours."""
    with pytest.raises(LexiconError, match=r"^the warning signs file is not TOML: Invalid value"):
        read_lexicon("about = \n")


def test_an_unknown_sign_is_refused_with_those_there_are(lexicon: Lexicon) -> None:
    """Whoever asks for a sign is told which there are."""
    with pytest.raises(LexiconError) as refused:
        lexicon.sign("clott")

    assert str(refused.value) == "there is no sign 'clott'; found clot, rash"


def test_parts_of_a_language() -> None:
    """A part that a language has not is empty; a language that is not there is refused."""
    assert part_of_shipped("en", "_nothing") == ""
    assert part_of_shipped("en", "").startswith("#")
    with pytest.raises(LexiconError) as refused:
        part_of_shipped("xx", "")
    assert str(refused.value) == "there is no warning signs file for the language 'xx'"


def test_the_shipped_lexicon_is_english_unless_asked_otherwise() -> None:
    """Its questions are in English, and each message is read a second time."""
    shipped = shipped_lexicon()

    assert shipped.sign("leg-clot").closed_question.endswith("Reply YES or NO.")
    assert shipped.second_reader is not None
