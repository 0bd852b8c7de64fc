"""From what was typed to words as they are listed: worked examples for `plain_text` and `spelling`.

Each speller is made here of a few words, so an example shows one behaviour and no lexicon hides it.
"""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from rules.plain_text import LAUGH, Pause, Word, words_of
from rules.spelling import Speller

UNITS = (
    "c", "f", "cm", "mm", "min", "mins", "hr", "hrs", "h", "yr", "yrs",
    "km", "kms", "k", "mg", "ml", "am", "pm", "x",
)  # fmt: skip
MARKS = {"": Pause.NONE, ",": Pause.COMMA, "?": Pause.QUESTION, ".": Pause.FULL_STOP}


def words(text: str) -> tuple[Word, ...]:
    """Words apart by spaces; one mark in front of a word is the pause before it."""
    return tuple(
        Word(piece.lstrip(",?."), MARKS[piece[: len(piece) - len(piece.lstrip(",?."))]])
        for piece in text.split()
    )


def speller(
    listed: str = "",
    *,
    targets: str = "",
    variants: Mapping[str, str] | None = None,
    left_alone: str = "",
) -> Speller:
    """A speller of these words. Each target is a listed word as well, as in a lexicon."""
    return Speller(
        [*listed.split(), *targets.split()], targets.split(), variants or {}, left_alone.split()
    )


def spelled(knows: Speller, typed: str) -> str:
    """One word, and the words that became of it, apart by spaces."""
    return " ".join(word.text for word in knows.corrected((Word(typed),)))


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        pytest.param("", "", id="nothing"),
        pytest.param(" \t ", "", id="only spaces"),
        pytest.param("My HEEL Hurts", "my heel hurts", id="capitals become small"),
        pytest.param("sore\theel", "sore heel", id="a tab parts words like a space"),
        pytest.param("sore_heel", "sore heel", id="an underscore parts words"),
        pytest.param("caf\u00e9 cre\u0300me", "cafe creme", id="accents fall away"),
        pytest.param("\u00c9l ni\u00f1o", "el nino", id="accents on capitals fall away"),
        pytest.param("\uff28\uff25\uff25\uff2c", "heel", id="wide letters become plain ones"),
        pytest.param("sti\ufb00", "stiff", id="two letters set as one become two"),
        pytest.param("so", "so", id="one of a letter"),
        pytest.param("soo", "soo", id="two of a letter"),
        pytest.param("sooo", "sooo", id="three of a letter"),
        pytest.param("soooo", "sooo", id="four of a letter become three"),
        pytest.param("sooooo", "sooo", id="five of a letter become three"),
        pytest.param("owwww nooooo", "owww nooo", id="each run is shortened"),
        pytest.param("10000", "10000", id="a run of digits stays"),
    ],
)
def test_text_becomes_plain_words(text: str, plain: str) -> None:
    """Words come in small letters without accents, and no letter more than three times running."""
    found, last_pause = words_of(text)

    assert found == words(plain)
    assert last_pause is Pause.NONE


@pytest.mark.parametrize(
    "mark",
    [
        pytest.param("'", id="straight"),
        pytest.param("`", id="backtick"),
        pytest.param("\u2018", id="opening quote"),
        pytest.param("\u2019", id="closing quote"),
        pytest.param("\u02bc", id="letter apostrophe"),
        pytest.param("\u2032", id="prime"),
        pytest.param("\u00b4", id="acute accent"),
    ],
)
def test_an_apostrophe_falls_away(mark: str) -> None:
    """Whatever a phone makes of an apostrophe, the word around it stays one word."""
    found, _ = words_of(f"can{mark}t walk")

    assert found == words("cant walk")


@pytest.mark.parametrize(
    "face",
    [
        pytest.param("\U0001f602", id="tears of joy"),
        pytest.param("\U0001f923", id="rolling on the floor"),
        pytest.param("\U0001f606", id="eyes shut"),
        pytest.param("\U0001f605", id="with sweat"),
        pytest.param("\U0001f639", id="a cat"),
    ],
)
def test_a_laughing_face_is_a_word(face: str) -> None:
    """A laugh is kept as a word of its own, even where no space is around it."""
    found, _ = words_of(f"dying{face}today")

    assert found == words(f"dying {LAUGH} today")


def test_another_face_is_a_pause() -> None:
    """A face that does not laugh leaves a breath behind and no word."""
    found, _ = words_of("sore \U0001f642 today")

    assert found == words("sore ,today")


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        pytest.param("7", "7", id="a digit"),
        pytest.param("38.5", "38.5", id="a point"),
        pytest.param("38,5", "38.5", id="a comma between digits is a point"),
        pytest.param("38.5c", "38.5 c", id="a unit behind decimals"),
        pytest.param("38,5c", "38.5 c", id="a unit behind decimals with a comma"),
        pytest.param("5minutes", "5minutes", id="a unit that goes on is no unit"),
        pytest.param("b4", "b4", id="shorthand stays whole"),
        pytest.param("2day", "2day", id="shorthand that begins with a digit stays whole"),
        pytest.param("3, 4", "3 ,4", id="a comma and a space part two numbers"),
        *(pytest.param(f"12{unit}", f"12 {unit}", id=f"12 {unit}") for unit in UNITS),
    ],
)
def test_a_number_keeps_its_decimals_and_lets_go_of_its_unit(text: str, plain: str) -> None:
    """A number is one word, its unit the next; other mixtures of letters and digits stay whole."""
    found, _ = words_of(text)

    assert found == words(plain)


@pytest.mark.parametrize(
    ("between", "pause"),
    [
        pytest.param(" ", Pause.NONE, id="space"),
        pytest.param(", ", Pause.COMMA, id="comma"),
        pytest.param(" - ", Pause.COMMA, id="hyphen"),
        pytest.param(": ", Pause.COMMA, id="colon"),
        pytest.param("/", Pause.COMMA, id="slash"),
        pytest.param(".. ", Pause.COMMA, id="two dots are a breath"),
        pytest.param("... ", Pause.COMMA, id="three dots are a breath"),
        pytest.param("\u2026 ", Pause.COMMA, id="dots set as one sign are a breath"),
        pytest.param("? ", Pause.QUESTION, id="question mark"),
        pytest.param(". ", Pause.FULL_STOP, id="full stop"),
        pytest.param("! ", Pause.FULL_STOP, id="exclamation mark"),
        pytest.param("; ", Pause.FULL_STOP, id="semicolon"),
        pytest.param("\n", Pause.FULL_STOP, id="new line"),
        pytest.param(",? ", Pause.QUESTION, id="comma then question: the greater"),
        pytest.param("?, ", Pause.QUESTION, id="question then comma: the greater"),
        pytest.param("?! ", Pause.FULL_STOP, id="question then exclamation: the greater"),
        pytest.param("!? ", Pause.FULL_STOP, id="exclamation then question: the greater"),
    ],
)
def test_what_stands_between_words_is_a_pause(between: str, pause: Pause) -> None:
    """The greatest pause before a word is kept with it, and the same after the last word."""
    found, last_pause = words_of(f"no{between}pain at all{between}")

    assert found == (Word("no"), Word("pain", pause), Word("at"), Word("all"))
    assert last_pause is pause


@pytest.mark.parametrize(
    ("text", "plain", "last"),
    [
        pytest.param("?!", "", Pause.FULL_STOP, id="no word at all: the pause is the last"),
        pytest.param("...no pain", "no pain", Pause.NONE, id="dots before the first word"),
        pytest.param("? no", "no", Pause.NONE, id="question mark before the first word"),
        pytest.param("! no, pain", "no ,pain", Pause.NONE, id="nor does it go to the second"),
    ],
)
def test_the_first_word_has_no_pause(text: str, plain: str, last: Pause) -> None:
    """What stands before the first word bounds nothing."""
    assert words_of(text) == (words(plain), last)


@pytest.mark.parametrize(
    ("word", "found"),
    [
        pytest.param("rite", "right", id="another spelling"),
        pytest.param("gonna", "going to", id="another spelling, of two words"),
        pytest.param("right", "right", id="the listed spelling"),
        pytest.param("plum", "plum", id="a word that is not listed"),
    ],
)
def test_one_listed_word_is_spelled(word: str, found: str) -> None:
    """Only what is listed as another spelling changes; no slip is forgiven here."""
    knows = speller("right", variants={"rite": "right", "gonna": "going to"})

    assert knows.spelled(word) == found


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        pytest.param("calf", "calf", id="a listed word"),
        pytest.param("rite", "right", id="another spelling becomes the listed one"),
        pytest.param("gonna", "going to", id="another spelling of two words"),
        pytest.param("plum", "plum", id="an unknown word"),
        pytest.param("1234", "1234", id="a number is not cut into listed ones"),
        pytest.param("calff", "calf", id="a doubled letter too many"),
        pytest.param("ccalff", "calf", id="two doubled letters too many"),
        pytest.param("calfff", "calf", id="a letter drawn out"),
        pytest.param("feeel", "feel", id="a letter drawn out that is doubled in the word"),
        pytest.param("bee", "bee", id="a word left alone keeps its doubled letter"),
        pytest.param("beee", "be", id="unless it is drawn out"),
        pytest.param("foots", "foot", id="an s falls away before a doubled letter does"),
    ],
)
def test_a_word_comes_to_its_listed_spelling(typed: str, found: str) -> None:
    """Listed spellings, then letters too many; what is left alone or unknown stays."""
    knows = speller(
        "calf feel be foot fots 12 34",
        variants={"rite": "right", "gonna": "going to"},
        left_alone="bee",
    )

    assert spelled(knows, typed) == found


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        pytest.param("toes", "toes", id="3 letters: kept"),
        pytest.param("heels", "heel", id="4 letters: falls away"),
        pytest.param("ankles", "ankle", id="5 letters: falls away"),
    ],
)
def test_an_s_falls_away_behind_four_letters(typed: str, found: str) -> None:
    """A known word of four letters and more loses an s behind it; a shorter one keeps it."""
    assert spelled(speller("toe heel ankle"), typed) == found


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        pytest.param("tender", "tender", id="no slip"),
        pytest.param("tendar", "tender", id="a wrong letter"),
        pytest.param("tendr", "tender", id="a missing letter"),
        pytest.param("tendper", "tender", id="a letter too many"),
        pytest.param("tedner", "tender", id="two letters swapped"),
        pytest.param("tandar", "tandar", id="two slips in a short word"),
        pytest.param("tomato", "tomato", id="a word of as many letters that begins alike"),
        pytest.param("tenddar", "tender", id="a doubled letter and a slip"),
        pytest.param("tend3r", "tend3r", id="a digit in it is no slip"),
    ],
)
def test_one_slip_is_forgiven(typed: str, found: str) -> None:
    """A word that is one letter off a known one becomes it."""
    assert spelled(speller(targets="tender"), typed) == found


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        pytest.param("calx", "calx", id="4 letters: left"),
        pytest.param("calfx", "calfx", id="4 letters, 5 typed: left"),
        pytest.param("ankla", "ankle", id="5 letters: forgiven"),
        pytest.param("ankl", "ankle", id="5 letters, 4 typed: forgiven"),
        pytest.param("tandon", "tendon", id="6 letters: forgiven"),
    ],
)
def test_one_slip_is_forgiven_from_five_letters(typed: str, found: str) -> None:
    """It is the known word that needs five letters, not what was typed."""
    assert spelled(speller(targets="calf ankle tendon"), typed) == found


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        pytest.param("swallung", "swallung", id="8 letters: left"),
        pytest.param("swallungy", "swallungy", id="8 letters, 9 typed: left"),
        pytest.param("tughtnass", "tightness", id="9 letters: forgiven"),
        pytest.param("tightne", "tightness", id="9 letters, two missing: forgiven"),
        pytest.param("twightnyess", "tightness", id="9 letters, two too many: forgiven"),
        pytest.param("tughtnozs", "tughtnozs", id="9 letters, three slips: left"),
        pytest.param("unbaerible", "unbearable", id="10 letters: forgiven"),
    ],
)
def test_two_slips_are_forgiven_from_nine_letters(typed: str, found: str) -> None:
    """A known word needs nine letters before two of them may be wrong; three never may."""
    assert spelled(speller(targets="swelling tightness unbearable"), typed) == found


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        pytest.param("zwollen", "zwollen", id="7 letters: left"),
        pytest.param("zwelling", "swelling", id="8 letters: forgiven"),
        pytest.param("dightness", "tightness", id="9 letters: forgiven"),
        pytest.param("wsollen", "swollen", id="7 letters, first two swapped: forgiven"),
        pytest.param("wollen", "wollen", id="7 letters, first one missing: left"),
        pytest.param("welling", "swelling", id="8 letters, first one missing: forgiven"),
        pytest.param("sollen", "swollen", id="7 letters, second one missing: forgiven"),
    ],
)
def test_the_first_letter_may_be_the_slip_from_eight_letters(typed: str, found: str) -> None:
    """In a shorter word only a swap of its first two letters may touch the first."""
    assert spelled(speller(targets="swollen swelling tightness"), typed) == found


@pytest.mark.parametrize(
    ("targets", "found"),
    [
        pytest.param("stock stick stuck steck stack", "stack", id="equally used: the alphabet"),
        pytest.param("stack steck stick stuck stock stock", "stock", id="the most used"),
        pytest.param("stack stack stuck stuck stuck", "stuck", id="three uses before two"),
    ],
)
def test_of_words_equally_close_the_most_used_is_meant(targets: str, found: str) -> None:
    """How often a wording uses a word decides between equals, and then the alphabet."""
    assert spelled(speller(targets=targets), "stck") == found


def test_words_that_begin_otherwise_do_not_hide_the_one_that_fits() -> None:
    """However many words are as close, those whose first letter differs are passed over."""
    others = "fight light might night right sight tight"

    knows = speller(targets=f"{others} {others} weight")

    assert spelled(knows, "wight") == "weight"


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        pytest.param("burnimg", "burnimg", id="a listed word that is no target"),
        pytest.param("swolan", "swollen", id="another spelling"),
        pytest.param("covidl", "covidl", id="a target with a digit"),
        pytest.param("thumb", "thumb", id="a word left alone"),
        pytest.param("thumm", "thump", id="the target near the word left alone"),
    ],
)
def test_a_slip_is_corrected_to_targets_and_other_spellings(typed: str, found: str) -> None:
    """Targets and other spellings take slips; listed words do not, and what is left alone stays."""
    knows = speller(
        "burning", targets="thump covid1", variants={"swolen": "swollen"}, left_alone="thumb"
    )

    assert spelled(knows, typed) == found


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        pytest.param("aches", "aches", id="listed"),
        pytest.param("achest", "aches", id="one slip before two words in one"),
        pytest.param("forsitting", "for sitting", id="two words in one before two slips"),
        pytest.param("forgattang", "forgetting", id="two slips where no words fill it"),
    ],
)
def test_words_in_one_come_between_one_slip_and_two(typed: str, found: str) -> None:
    """The surer reading is taken: one slip, then known words run together, then two slips."""
    knows = speller("a chest for sitting", targets="aches forgetting")

    assert spelled(knows, typed) == found


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        pytest.param("heelpain", "heel pain", id="two words"),
        pytest.param("myheelpain", "my heel pain", id="three words"),
        pytest.param("heelplum", "heelplum", id="an unknown end"),
        pytest.param("plumheel", "plumheel", id="an unknown beginning"),
        pytest.param("heelxpain", "heelxpain", id="an unknown middle"),
        pytest.param("apain", "a pain", id="a stands alone"),
        pytest.param("ihurt", "i hurt", id="i stands alone"),
        pytest.param("uhurt", "u hurt", id="u stands alone"),
        pytest.param("bhurt", "bhurt", id="another letter does not, though listed"),
        pytest.param("oheel", "oheel", id="nor is every vowel listed"),
        pytest.param("imhurt", "im hurt", id="im is a word, though not listed"),
        pytest.param("themall", "the mall", id="of two ways as short: the longer last word"),
        pytest.param("informother", "inform other", id="two words rather than three"),
    ],
)
def test_words_run_together_are_cut(typed: str, found: str) -> None:
    """Known words written as one are told apart, as few of them as fill it."""
    knows = speller("my heel pain a i u b hurt the them all mall in for mother inform other")

    assert spelled(knows, typed) == found


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        pytest.param("aim", "aim", id="3 letters: left"),
        pytest.param("imin", "im in", id="4 letters: cut"),
        pytest.param("imhot", "im hot", id="5 letters: cut"),
        pytest.param("pain" * 39 + "toe", "pain " * 39 + "toe", id="159 letters: cut"),
        pytest.param("pain" * 40, "pain " * 39 + "pain", id="160 letters: cut"),
        pytest.param("pain" * 39 + "ankle", "pain" * 39 + "ankle", id="161 letters: left"),
    ],
)
def test_what_is_cut_has_four_to_160_letters(typed: str, found: str) -> None:
    """A shorter one would be cut by chance, and a longer one takes too long."""
    assert spelled(speller("a in hot pain toe ankle"), typed) == found


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        pytest.param("iamsore", "iamsore", id="three words, 7 letters: left"),
        pytest.param("iamfully", "i am fully", id="three words, 8 letters: cut"),
        pytest.param("iamtender", "i am tender", id="three words, 9 letters: cut"),
        pytest.param("iamsosore", "iamsosore", id="four words, 9 letters: left"),
        pytest.param("iamsofully", "i am so fully", id="four words, 10 letters: cut"),
        pytest.param("iamsotender", "i am so tender", id="four words, 11 letters: cut"),
        pytest.param("soiaminagony", "soiaminagony", id="five words, 12 letters: left"),
        pytest.param("soiaminmisery", "so i am in misery", id="five words, 13 letters: cut"),
    ],
)
def test_more_than_two_words_need_two_and_a_half_letters_each(typed: str, found: str) -> None:
    """Many short words that fill a word would be chance."""
    assert spelled(speller("i am so sore fully tender in agony misery"), typed) == found


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        pytest.param("myphysiotherapist", "my physiotherapist", id="15 letters: cut"),
        pytest.param("myphysiotherapists", "my physiotherapists", id="16 letters: cut"),
        pytest.param("mylightheadednesses", "mylightheadednesses", id="17 letters: left"),
    ],
)
def test_a_part_has_sixteen_letters_at_most(typed: str, found: str) -> None:
    """A longer word is not looked for within another."""
    knows = speller("my physiotherapist physiotherapists lightheadednesses")

    assert spelled(knows, typed) == found


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        pytest.param("thheel", "thheel", id="another spelling, 2 letters: left"),
        pytest.param("ththeel", "that heel", id="another spelling, 3 letters: cut and spelled"),
        pytest.param("thisheel", "these heel", id="another spelling, 4 letters: cut and spelled"),
        pytest.param("oxheel", "oxheel", id="left alone, 2 letters: left"),
        pytest.param("catheel", "cat heel", id="left alone, 3 letters: cut"),
        pytest.param("goatheel", "goat heel", id="left alone, 4 letters: cut"),
        pytest.param("myheel", "my heel", id="listed, 2 letters: cut"),
        pytest.param("theheel", "the heel", id="what another spelling stands for: cut"),
        pytest.param("goheel", "go heel", id="a word of the two that one stands for: cut"),
    ],
)
def test_a_part_that_is_not_listed_itself_has_three_letters(typed: str, found: str) -> None:
    """Other spellings and words left alone count as parts from three letters; listed words do."""
    knows = speller(
        "my heel",
        variants={"th": "the", "tht": "that", "this": "these", "gonna": "go to"},
        left_alone="ox cat goat",
    )

    assert spelled(knows, typed) == found


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        pytest.param("", "", id="no words"),
        pytest.param("no ,pain ?my .heel", "no ,pain ?my .heel", id="known words keep theirs"),
        pytest.param("no ,heelpain my", "no ,heel pain my", id="words run together"),
        pytest.param("my .heeel", "my .heel", id="a corrected word"),
        pytest.param("no ,gonna my", "no ,going to my", id="a spelling of two words"),
        pytest.param("no pain my ,to nite heel", "no pain my ,tonight heel", id="two in one"),
        pytest.param("to nite", "tonight", id="two in one at the start"),
        pytest.param("to ,nite", "to ,nite", id="two in one with a comma between: kept apart"),
        pytest.param("pain ,to day ?of", "pain ,day to ?of", id="two written for two"),
        pytest.param("my ,to day my to nite", "my ,day to my tonight", id="two pairs"),
        pytest.param("no ?fort nite ly my", "no ?biweekly my", id="three in one"),
        pytest.param("my too nnite", "my tonight", id="a slip in each of two in one"),
    ],
)
def test_pauses_stay_where_they_were(typed: str, found: str) -> None:
    """A pause stays before the first of what a word became, and keeps two words from being one."""
    knows = speller(
        "no pain my heel of",
        variants={
            "gonna": "going to",
            "to nite": "tonight",
            "to day": "day to",
            "fort nite": "fortnight",
            "fortnight ly": "biweekly",
        },
    )

    assert knows.corrected(words(typed)) == words(found)
