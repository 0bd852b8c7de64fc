"""Warning signs: what is found, what is asked about, and what is let pass.

This is the first reading, by wordings. What the two come to is measured in `test_double_reading`.
"""

from __future__ import annotations

import tomllib
from dataclasses import replace

import pytest
from decides.labelled import shipped_sets
from hypothesis import example, given, settings
from hypothesis import strategies as st
from near_words import is_changed, without_left_alone
from talks.test_templates import reading_grade

from rules.errors import LexiconError
from rules.history import Tier
from rules.lexicon import Lexicon, part_of_shipped, read_lexicon, shipped_lexicon, shipped_wordings
from rules.protocol import Settings
from rules.quantities import Pain
from rules.screening import screen, screen_pain
from rules.sources import is_known
from rules.warning_sign import Screening

# The first reading alone: what a second reader makes of it stands in `test_double_reading`.
LEXICON = shipped_wordings("en")

URGENT = ("emergency", "same day")
KEYS = {
    "tendon-rupture", "lung-clot", "leg-clot", "spreading-infection", "local-infection", "fracture",
    "fluoroquinolone", "corticosteroid", "inflammatory", "lumps-and-cholesterol", "nerve",
    "motor-loss", "cauda-equina", "limb-ischaemia", "crisis", "low-mood", "systemic", "severe-pain",
}  # fmt: skip


def found_in(text: str) -> dict[str, Tier]:
    """Key and tier of every sign found."""
    return {match.sign.key: match.tier for match in screen(text, LEXICON).found}


# ---------------------------------------------------------------- signs, one row a feature

SHOWN = {
    "a pop and no push-off": ("Heard a pop and cannot push off", "tendon-rupture", "emergency"),
    "a kick from nobody": ("felt like I got shot in the calf", "tendon-rupture", "emergency"),
    "low pain is no veto": ("pop in my achilles, hardly hurts", "tendon-rupture", "emergency"),
    "breathing": ("can't catch my breath", "lung-clot", "emergency"),
    "chest pain": ("crushing chest since lunch", "lung-clot", "emergency"),
    "blood": ("coughed up blood", "lung-clot", "emergency"),
    "a swollen calf": ("calf is massive", "leg-clot", "same day"),
    "a swollen calf and breathing": ("calf swollen and cant breathe", "leg-clot", "emergency"),
    "a hot red patch alone": ("red and angry round the heel", "local-infection", "same day"),
    "a hot red patch and fever": (
        "red and angry round the heel, temp 39", "spreading-infection", "emergency",
    ),
    "a streak": ("streak up my leg", "spreading-infection", "emergency"),
    "no weight": ("can't put weight on it", "fracture", "same day"),
    "a quinolone": ("on cipro", "fluoroquinolone", "same day"),
    "a quinolone by its ending": ("they gave me prulifloxacin", "fluoroquinolone", "same day"),
    "a steroid alone": ("on pred", "corticosteroid", "next working day"),
    "a steroid with a quinolone": ("on pred and cipro", "corticosteroid", "same day"),
    "a sausage toe": ("toe like a sausage", "inflammatory", "next working day"),
    "a painful red eye": ("my eye is red and really painful", "inflammatory", "same day"),
    "early heart attacks in the family": (
        "dad had a heart attack at 42", "lumps-and-cholesterol", "next working day",
    ),
    "pins and needles": ("pins and needles in my foot", "nerve", "next working day"),
    "a foot that catches": ("foot keeps catching", "motor-loss", "same day"),
    "both legs weak": ("both legs weak since last night", "motor-loss", "emergency"),
    "a weak foot and the saddle": (
        "cant lift my foot and numb down below", "motor-loss", "emergency",
    ),
    "the saddle": ("numb down below", "cauda-equina", "emergency"),
    "a cold white foot": ("foot has gone cold and white", "limb-ischaemia", "emergency"),
    "a wish to die": ("don't want to be here any more", "crisis", "emergency"),
    "hopelessness": ("hopeless about this leg", "low-mood", "next working day"),
    "fever with no focus": ("got a fever", "systemic", "same day"),
    "cancer": ("I had breast cancer", "systemic", "next working day"),
    "the worst pain": ("pain is 10 out of 10", "severe-pain", "same day"),
}  # fmt: skip


@pytest.mark.parametrize(("text", "key", "tier"), SHOWN.values(), ids=SHOWN)
def test_a_sign_is_found_at_its_tier(text: str, key: str, tier: str) -> None:
    """Each feature of a sign shows it, at exactly the tier that belongs to it."""
    found = found_in(text)

    assert found.get(key) == Tier(tier)


def test_every_sign_has_a_worked_example() -> None:
    """The table above leaves no sign out, and the lexicon holds these signs and no other."""
    shown = {key for _, key, _ in SHOWN.values()}

    assert shown == KEYS == set(LEXICON.signs)


def test_the_most_urgent_sign_comes_first() -> None:
    """A less urgent sign does not hide a more urgent one behind it in the text."""
    first = screen("on pred, toe like a sausage, and chest pain", LEXICON).found[0]

    assert (first.tier, first.sign.key, first.words) == (
        Tier.EMERGENCY, "lung-clot", "chest pain"
    )  # fmt: skip


# ---------------------------------------------------------------- how it is meant

LET_PASS = {
    "long ago and healed, in the next sentence": "Foot drop after a cast in 1994. Long healed",
    "long ago and healed, over a clause word": "foot drop after a cast in 1994, fully healed",
    "a place of somebody else's": "my grandmother is short of breath when climbing. pain 3",
    "an animal's": "the ponies have a red hot swollen leg",
    "denied": "no chest pain",
    "denied twice": "not breathless, no chest pain",
    "denied inside": "calf is not swollen",
    "denied over a list": "no fever, chills or chest pain",
    "denied after": "chest pain? no",
    "denied before just": "no pop, just sore",
    "somebody else's": "my mum had a clot",
    "somebody else's, in the wording": "mate ruptured his achilles on sunday",
    "a laughing face": "dying \U0001f602",
    "somebody else's foot": "my wife's foot is numb",
    "long ago": "cortisone years ago",
    "long ago, with a year": "broke my ankle in 1998",
    "somebody else's, the patient in the next clause": "mum has a clot so i rest my leg",
    "somebody else's, after a time word": "my dad is off work since a fever",
    "long ago, with a now of its own": "used to get panic attacks not for years now",
    "asked by the patient and answered": "cipro? never had it",
    "denied all along a list": "there is no swelling, redness, warmth or numbness to report",
    "long ago, told behind a time word": "had a wound infection after my appendix in the eighties",
    "an idiom": "popped in to the gym",
    "an idiom of dying": "dying to run again",
    "a cause that explains it": "numb from the ice pack",
    "the opt-out word": "END",
    "long ago and healed, of the other leg": "ruptured my other achilles in 2015, all healed",
    "a thought that is denied": "I don't think my calf is swollen",
    "asked back and denied": "calf swollen? No.",
    "numbers": "3 10",
}


@pytest.mark.parametrize("text", LET_PASS.values(), ids=LET_PASS)
def test_what_is_not_meant_is_let_pass(text: str) -> None:
    """What is denied, somebody else's, long ago or an idiom raises and asks nothing."""
    screening = screen(text, LEXICON)

    assert screening == Screening()


STILL_FOUND = {
    "healed long ago and back today": ("foot drop in 1994, healed. Now foot slaps", "motor-loss"),
    "healed, with no time told": ("foot drop, not fully healed", "motor-loss"),
    "asked about the own body": ("is my calf meant to be swollen and hot?", "leg-clot"),
    "a question before it": ("can you ring? chest pain", "lung-clot"),
    "another only met on the way": ("walked the dog and calf swollen and hot", "leg-clot"),
    "another who did it": ("hit by a cyclist and cant walk on my ankle", "fracture"),
    "no as part of an idiom": ("no idea why but heard a pop", "tendon-rupture"),
    "no that belongs to the sign": ("can't push off", "tendon-rupture"),
    "not only": ("not only sore but I cant breathe", "lung-clot"),
    "never like this": ("never had chest pain like this", "lung-clot"),
    "no before a new clause": ("no pop but chest pain", "lung-clot"),
    "no before a full stop": ("No. Chest pain though", "lung-clot"),
    "no over a comma to a verb": ("no pop, my calf is swollen", "leg-clot"),
    "said by somebody else": ("my wife says my calf is huge", "leg-clot"),
    "somebody else, then the patient": ("my mum had a clot and now I cant breathe", "lung-clot"),
    "long ago, then now": ("had a clot in 2015 and now my calf is swollen", "leg-clot"),
    "an idiom, then a sign": ("popped in to the gym and heard a pop", "tendon-rupture"),
    "an explanation that is denied": ("numb bottom and it is not the chair", "cauda-equina"),
    "a no said twice": ("cant feel my foot no more", "nerve"),
    "an opt-out in the same message": ("STOP. I want to kill myself", "crisis"),
    "numbers in the same message": ("3 10 and I cant breathe", "lung-clot"),
    "a question about a fact": ("why is my calf so swollen?", "leg-clot"),
    "idle, but not about oneself": ("just curious, i want to die, is that odd?", "crisis"),
    "one side only": ("one calf is swollen and the other is not", "leg-clot"),
    "told by one who writes for another": (
        "this is her daughter on mums phone. her ankle is red and burning hot",
        "local-infection",
    ),
    "a part that is fine, in one breath": ("heard a pop in my calf is fine", "tendon-rupture"),
    "a pop that no longer hurts": ("heard a pop but its fine now", "tendon-rupture"),
}


@pytest.mark.parametrize(("text", "key"), STILL_FOUND.values(), ids=STILL_FOUND)
def test_what_stands_around_a_sign_does_not_hide_it(text: str, key: str) -> None:
    """A "no", a relative or a year that says nothing about the sign leaves it found."""
    found = found_in(text)

    assert key in found


ASKED = {
    "a question with nobody's body": ("are swollen calves normal?", "leg-clot"),
    "supposed": ("what if it snaps?", "tendon-rupture"),
    "asked about": ("can cipro do this?", "fluoroquinolone"),
    "asked what to do if": ("should I go to hospital if my calf is swollen?", "leg-clot"),
    "denied behind a full stop": ("calf swollen. no", "leg-clot"),
    "written for another": ("writing for my dad, his calf is swollen", "leg-clot"),
    "feared": ("worried about a blood clot", "leg-clot"),
    "a clot long ago": ("had a DVT in 2015", "leg-clot"),
    "idle, but about dying": ("what if i killed myself, just asking", "crisis"),
    "a his with nobody named": ("his calf is swollen", "leg-clot"),
    "a name not known": ("started antibiotics yesterday", "fluoroquinolone"),
    "a form that may be harmless": ("floxin ear drops", "fluoroquinolone"),
    "a cause that may explain it": ("red trainers rubbed", "local-infection"),
    "a risk and a sore calf": ("calf really tight since the flight", "leg-clot"),
    "a no that may end at the comma": ("no fever, chest pain", "lung-clot"),
}


@pytest.mark.parametrize(("text", "key"), ASKED.values(), ids=ASKED)
def test_what_cannot_be_told_apart_is_asked_about(text: str, key: str) -> None:
    """Where two readings are possible the closed question is asked, and nothing is raised yet."""
    screening = screen(text, LEXICON)

    assert key in {sign.key for sign in screening.ask}
    assert key not in {match.sign.key for match in screening.found}


# ---------------------------------------------------------------- how it is written

WRITTEN = {
    "emoji between": ("chest \U0001f628 pain", "lung-clot"),
    "no spaces": ("cantfeelmyfoot", "nerve"),
    "shorthand": ("u need 2 no i cant brethe 2day", "lung-clot"),
    "shorthand for want": ("i wnt 2 die", "crisis"),
    "a line break": ("3 10\nchest pain", "lung-clot"),
    "a plural that stands for a verb": ("my calfs swollen", "leg-clot"),
    "trailing dots": ("calf... its swollen...", "leg-clot"),
}


@pytest.mark.parametrize(("text", "key"), WRITTEN.values(), ids=WRITTEN)
def test_a_sign_survives_how_it_is_written(text: str, key: str) -> None:
    """Case, accents, emoji, slips, missing spaces and shorthand do not hide a sign."""
    found = found_in(text)

    assert key in found


# ---------------------------------------------------------------- a pain as a sign


def thresholds(questioned: int, same_day: int) -> Settings:
    """Settings with these two thresholds; every other field is unused here."""
    fields = dict.fromkeys(Settings.__dataclass_fields__, 0)
    return replace(Settings(**fields), pain_questioned=questioned, pain_same_day=same_day)


PAINS = {
    "under the question": (7, [], []),
    "at the question": (8, [], ["tendon-rupture", "lung-clot", "leg-clot"]),
    "over the question, under same day": (9, [], ["tendon-rupture", "lung-clot", "leg-clot"]),
    "at same day": (10, ["severe-pain"], ["tendon-rupture", "lung-clot", "leg-clot"]),
}


@pytest.mark.parametrize(("value", "found", "asked"), PAINS.values(), ids=PAINS)
def test_a_pain_opens_questions_and_then_a_sign(
    value: int, found: list[str], asked: list[str]
) -> None:
    """From 8 the closed questions are asked; 10 is a same-day sign as well."""
    screening = screen_pain(Pain(value), thresholds(8, 10))

    assert [match.sign.key for match in screening.found] == found
    assert [sign.key for sign in screening.ask] == asked


def test_a_pain_over_a_lowered_same_day_threshold_is_a_sign() -> None:
    """The threshold is the clinic's, and the clinician reads how high the pain was."""
    for value in (9, 10):
        (severe,) = screen_pain(Pain(value), thresholds(8, 9)).found
        assert (severe.tier, severe.words) == (Tier.SAME_DAY, f"pain {value} of 10")


# ---------------------------------------------------------------- what holds for any text


@st.deferred
def firing() -> st.SearchStrategy[str]:
    """Urgent messages in which the first reading finds a sign."""
    urgent = (row.message for row in shipped_sets("en")[0] if row.label in URGENT)
    return st.sampled_from([text for text in urgent if found_in(text)])


HARMLESS_ENDINGS = [
    ". thanks", ". see you tomorrow", ". did 3 sets", ", pain 4", " \U0001f44d", "!!", ". 3 10",
    ". the weather is nice", "\nsent from the train", ". ok",
]  # fmt: skip


@given(text=firing, ending=st.sampled_from(HARMLESS_ENDINGS))
def test_harmless_text_behind_a_sign_keeps_it(text: str, ending: str) -> None:
    """Whatever was found stays found when something harmless follows."""
    before = found_in(text)

    after = found_in(text + ending)

    assert before.keys() <= after.keys()


@given(text=firing, data=st.data())
def test_case_and_space_do_not_matter(text: str, data: st.DataObject) -> None:
    """Any letter in either case, any space widened: the same is found and asked."""
    widened = "".join(
        data.draw(st.sampled_from(["  ", "   ", " \t"])) if mark == " " else mark for mark in text
    )
    mixed = "".join(
        mark.upper() if data.draw(st.booleans()) and len(mark.upper()) == 1 else mark
        for mark in widened
    )

    assert screen(mixed, LEXICON) == screen(text, LEXICON)


@given(text=firing, mark=st.sampled_from(["!", "!!!", "...", " :(", ",", " -"]))
def test_punctuation_around_a_sign_does_not_matter(text: str, mark: str) -> None:
    """Marks before and behind a message change nothing that was found."""
    marked = f"{mark} {text}{mark}"

    assert found_in(text).items() <= found_in(marked).items()


@settings(max_examples=300)
@given(text=st.text(max_size=200))
@example(text="/ / / _ { } ( ) | ? * # .. ...")
@example(text="\u0130\u0307\ufdfa\u200d")
@example(text="a" * 5000)
def test_any_text_is_screened(text: str) -> None:
    """No text raises, and no sign is both found and asked about."""
    screening = screen(text, LEXICON)

    assert not {match.sign for match in screening.found} & set(screening.ask)


# ---------------------------------------------------------------- the lexicon itself

GSM_7_PLAIN = set(
    "@$\n\r _!\"#%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"
)
GRADE_MAX = 6  # convention: reading age of about 11; Flesch-Kincaid
SMS_SEGMENT = 160  # 3GPP TS 23.038: septets of one segment


@pytest.mark.parametrize("key", sorted(KEYS))
def test_a_closed_question_fits_one_text_message_and_is_easy_to_read(key: str) -> None:
    """It offers yes or no in one segment of plain GSM-7; the sign has a source and says what was
    reported.
    """
    sign = LEXICON.sign(key)
    question = sign.closed_question

    assert question.endswith("? Reply YES or NO.")
    assert len(question) <= SMS_SEGMENT
    assert set(question) <= GSM_7_PLAIN
    assert reading_grade(question.removesuffix(" Reply YES or NO.")) <= GRADE_MAX
    assert all(is_known(source) for source in sign.source.split("; "))
    assert sign.title.split()[0] in ("Reports", "Speaks", "Cannot")


LONG_SIGN = "heard a pop in my achilles"
FILLING = "did the sets and it was fine. "


@pytest.mark.parametrize("before", [0, 119, 120, 121, 700])
def test_a_sign_is_found_wherever_it_stands_in_a_long_text(before: int) -> None:
    """A long text is read in windows; at no place does a sign fall between two of them."""
    words = (FILLING * 120).split()

    text = " ".join([*words[:before], ".", LONG_SIGN, ".", *words[before:]])

    assert found_in(text).get("tendon-rupture") is Tier.EMERGENCY


@pytest.mark.parametrize("before", [0, 95, 96, 119, 120, 121, 240])
def test_a_denial_is_kept_wherever_it_stands_in_a_long_text(before: int) -> None:
    """A "no" and what it denies are read together, though a window may end between them."""
    words = (FILLING * 120).split()

    text = " ".join([*words[:before], ".", "no chest pain", ".", *words[before:]])

    assert screen(text, LEXICON) == Screening()


def test_the_words_left_alone_are_near_the_lexicon() -> None:
    """Each of them would be changed if it were not on the list: the list holds no dead weight."""
    listed = tomllib.loads(part_of_shipped("en", "_left_alone"))["left_alone"]["words"].split()
    held = without_left_alone("en", listed)
    bare = without_left_alone("en")

    apart = [word for word in listed if not is_changed(word, bare)]

    assert not [word for word in listed if is_changed(word, held)]
    assert len(apart) < len(listed) / 5  # convention: these fall apart into others of the list


SMALL = """
about = "a small one"
clues = {}
together = []
[written_as]
[left_alone]
words = ""
[groups]
leg = "calf|leg"
[context]
clause_words = "but"
subjects = "i"
first_person = "i"
third_person = "his"
reporting = "says"
thinking = "think"
list_words = "and"
either_words = "or"
verbs = "is"
denials = "no"
negator = ["no"]
not_negation = []
other_person = []
past = []
now = []
supposed = []
idioms = []
[signs.leg-clot]
tier = "same day"
title = "Reports a swollen leg"
source = "convention"
closed_question = "Is one leg swollen? Reply YES or NO."
past = "ask"
wordings = ["WORDING"]
"""


def small(wording: str) -> Lexicon:
    """A lexicon of one sign with one wording."""
    return read_lexicon(SMALL.replace("WORDING", wording))


PHRASES = {
    "a long gap over a full stop": ("calf ... huge", "calf. a b huge", "calf. a b c huge"),
    "both, in either order": ("calf & swollen", "swollen a b c d e f calf", "calf. swollen"),
    "both, not over a full stop": ("calf & swollen", "swollen calf", "swollen. my calf"),
    "three together": ("calf & hot & red", "hot, red calf", "hot calf a b c d e f g red"),
    "both, six words between": (
        "calf & swollen",
        "calf a b c d e f swollen",
        "calf a b c d e f g swollen",
    ),
    "three, in any order": ("calf & hot & red", "red and hot calf", "hot calf"),
}


@pytest.mark.parametrize(("wording", "holds", "fails"), PHRASES.values(), ids=PHRASES)
def test_the_pattern_language(wording: str, holds: str, fails: str) -> None:
    """Each sign of the pattern language, on a text it holds for and one it does not."""
    lexicon = small(wording)

    assert screen(holds, lexicon).found
    assert not screen(fails, lexicon).found


WORSE_TOGETHER = '{ parts = ["leg-clot", "fever"], sign = "rash", tier = "emergency" }'
RASH = """
[signs.rash]
tier = "emergency"
title = "Reports a rash"
source = "convention"
closed_question = "Is there a rash? Reply YES or NO."
past = "ask"
wordings = ["spots"]
"""

COMPANY = {
    "both stated": ("swollen and fever", "emergency", []),
    "one alone": ("swollen", "same day", []),
    "one in doubt": ("swollen. what if fever", "same day", ["rash"]),
    "one denied": ("swollen, no fever", "same day", []),
}


@pytest.mark.parametrize(("text", "tier", "asked"), COMPANY.values(), ids=COMPANY)
def test_a_sign_and_a_clue_mean_more_only_where_both_are_stated(
    text: str, tier: str, asked: list[str]
) -> None:
    """In company with a clue that is in doubt, the more urgent sign is asked about, not found."""
    source = (
        SMALL.replace("WORDING", "swollen")
        .replace("clues = {}", 'clues = { fever = ["fever"] }')
        .replace("together = []", f"together = [{WORSE_TOGETHER}]")
        .replace("supposed = []", 'supposed = ["what if"]')
    )

    screening = screen(text, read_lexicon(source + RASH))

    assert screening.tier == Tier(tier)
    assert [sign.key for sign in screening.ask] == asked


EXPLAINED = {
    "an explanation": ("the gym made it swollen", False),
    "an explanation before a but": ("gym was fine but it is swollen", True),
    "an explanation that is only a likeness": ("swollen like from a gym", True),
}


@pytest.mark.parametrize(("text", "found"), EXPLAINED.values(), ids=EXPLAINED)
def test_an_explanation_reaches_no_further_than_it_is_meant(text: str, found: bool) -> None:
    """A near-miss joined by `&` ends where the text turns, and explains nothing as a likeness."""
    words = 'idioms = []\nturning_words = "but"\nnot_because = "like"'
    source = SMALL.replace("WORDING", "swollen").replace("idioms = []", words)

    screening = screen(text, read_lexicon(source + 'near_misses = ["gym & swollen"]\n'))

    assert bool(screening.found) is found


WHOLE = SMALL.replace("WORDING", "calf")

BROKEN = {
    "not TOML": ("about = ", "not TOML"),
    "a key misspelled": (WHOLE.replace("[groups]", "[group]"), "group"),
    "a tier unknown": (WHOLE.replace("same day", "soon"), "soon"),
    "a list missing": (WHOLE.replace('denials = "no"', ""), "denials"),
    "a past unknown": (WHOLE.replace('past = "ask"', 'past = "maybe"'), "maybe"),
}


@pytest.mark.parametrize(("text", "named"), BROKEN.values(), ids=BROKEN)
def test_a_broken_file_is_refused(text: str, named: str) -> None:
    """A file that cannot be read is refused, and the message names what is wrong."""
    with pytest.raises(LexiconError, match=named):
        read_lexicon(text)


def test_the_shipped_lexicon_is_english_unless_asked_otherwise() -> None:
    """A lexicon that ships has its second reading, and the other languages to read in."""
    shipped = shipped_lexicon()

    assert shipped.signs is shipped_lexicon("en").signs
    assert shipped.second_reader is not None
    assert shipped.others == ("es",)
