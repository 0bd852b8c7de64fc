"""Two readings of one message: what the second makes of words, and what the two come to.

How well they do: `measure_<language>.tsv` was written by two who had seen neither the wordings nor
any labelled message, and was never read by those who built on them; `ordinary_<language>.tsv`
likewise. Only these say how the screen does on messages it has not met. Tables: `pytest -s`.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from importlib import resources

import pytest
from decides.labelled import (
    URGENT,
    counted,
    kept_apart,
    labelled_messages,
    printed,
    read,
    shipped_labelled,
    too_late,
)
from hypothesis import given
from hypothesis import strategies as st
from likeness_table import likeness_table
from sklearn.feature_extraction.text import CountVectorizer
from sklearn.naive_bayes import MultinomialNB

from rules.double_reading import (
    HARMLESS_MAX,
    LIKE_A_SIGN_MIN,
    PLAINLY_A_SIGN_MIN,
    SURELY_HARMLESS_MAX,
    settled,
)
from rules.errors import LexiconError
from rules.history import Tier
from rules.lexicon import shipped_lexicon
from rules.screening import screen, tier_asked, worry
from rules.second_reading import (
    HARMLESS,
    STRETCH_WORDS,
    UNSEEN_COUNT,
    Likeness,
    SecondReader,
    features,
    shipped_second_reader,
    stems,
)
from rules.warning_sign import Match, Screening, Sign

LANGUAGES = ("en", "es")
FIRST = shipped_lexicon("en")
SIGN = {key: rules.sign for key, rules in FIRST.signs.items()}
RUPTURE, CLOT, NERVE, WEAK = (
    SIGN[key] for key in ("tendon-rupture", "leg-clot", "nerve", "motor-loss")
)

LABELLED = """
# Invented.
emergency\ttendon-rupture\theard a bang and my heel went
emergency\ttendon-rupture\ta bang in the heel
same day\tleg-clot\tmy calf is fat and hot
none\t-\tthe heel is fine
none\t-\ta hot day and my heel is fine
none\t-\tfine
"""


READER = SecondReader(likeness_table(labelled_messages(LABELLED)))


def match(sign: Sign, tier: Tier | None = None) -> Match:
    """A sign as the first reading finds it."""
    return Match(sign, tier or sign.tier, "words")


# ---------------------------------------------------------------- the second reading


# Source: the library; its model is that of manning-2008, chapter 13.
@pytest.mark.parametrize("language", LANGUAGES)
def test_odds_are_those_of_a_reference_library(language: str) -> None:
    """Multinomial naive Bayes of scikit-learn, fed the same messages, gives the same odds."""
    texts = ["heel fine, 3 this morning", "calf fat and hot", "zxcv", "talon"]
    told = list(shipped_labelled(language))
    count = CountVectorizer(analyzer=lambda message: features(stems(message)), binary=True)
    shows = MultinomialNB(alpha=UNSEEN_COUNT).fit(
        count.fit_transform([one.message for one in told]),
        [one.label != HARMLESS for one in told],
    )
    both = shows.predict_joint_log_proba(count.transform(texts))

    odds = [shipped_second_reader(language).likeness(text).odds for text in texts]

    assert odds == pytest.approx([sign - harmless for harmless, sign in both])


def test_a_sign_told_in_passing_does_not_drown() -> None:
    """Among a hundred harmless words a sign is as likely as in a stretch of its own."""
    reader = READER
    friendly = " ".join(["fine"] * 50)

    drowned = reader.likeness(f"{friendly} my calf is fat and hot {friendly}")
    alone = reader.likeness("my calf is fat and hot " + " ".join(["fine"] * (STRETCH_WORDS - 6)))

    assert drowned.sign == "leg-clot"
    assert drowned.odds >= alone.odds > reader.likeness(friendly).odds


def test_the_likest_tier_hurries_the_likest_sign() -> None:
    """Where the words are rather those of a sooner tier, its likest sign is taken."""
    told = """
none\t-\tfine
next working day\tlow-mood\tsad day
next working day\tlow-mood\tsad again
emergency\tcrisis\tend it
emergency\ttendon-rupture\tbang now
emergency\tlung-clot\tgasp now
emergency\tlimb-ischaemia\tcold now
emergency\tcauda-equina\tnumb now
"""
    reader = SecondReader(likeness_table(labelled_messages(told)))

    assert reader.likeness("sad day").sign == "low-mood"
    assert reader.likeness("sad now").tier is Tier.EMERGENCY


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_table_that_ships_is_made_of_the_labelled_messages(language: str) -> None:
    """Whoever adds a labelled message makes the table anew."""
    shipped = resources.files("rules").joinpath("warning_signs", f"{language}_likeness.tsv")

    assert shipped.read_text(encoding="utf-8") == likeness_table(shipped_labelled(language))


def test_a_language_without_a_table_is_refused() -> None:
    """Only the languages that ship have one."""
    with pytest.raises(LexiconError, match="no table of likeness for the language 'xx'"):
        shipped_second_reader("xx")


@pytest.mark.parametrize("language", LANGUAGES)
def test_each_sign_is_told_of_in_each_language(language: str) -> None:
    """The second reading knows the signs of the first, and no other."""
    assert shipped_second_reader(language).signs == set(shipped_lexicon(language).signs)


# ---------------------------------------------------------------- what two readings come to

FOUND = Screening(found=(match(CLOT),))
ASKED = Screening(ask=(CLOT,))
SILENT = Screening()


def likened(sign: Sign) -> Screening:
    """A sign that likeness alone raises."""
    return Screening(found=(Match(sign, sign.tier, "", by_likeness=True),))


ASKED_BY_LIKENESS = replace(ASKED, asked_by_likeness=frozenset({CLOT.key}))
LIKE, PLAINLY, SURELY = LIKE_A_SIGN_MIN, PLAINLY_A_SIGN_MIN, SURELY_HARMLESS_MAX

SETTLED = {
    "found, and plainly a sign": (FOUND, PLAINLY, CLOT, FOUND),
    "found, and like a sign": (FOUND, LIKE, CLOT, FOUND),
    "found, but harmless": (FOUND, HARMLESS_MAX, CLOT, ASKED),
    "found, but surely harmless": (FOUND, SURELY - 9, CLOT, ASKED),
    "asked, and plainly it": (ASKED, PLAINLY, CLOT, Screening((Match(CLOT, CLOT.tier, ""),))),
    "asked, and like it": (ASKED, PLAINLY - 0.01, CLOT, ASKED),
    "asked, but harmless": (ASKED, SURELY + 0.01, CLOT, ASKED),
    "asked, but surely harmless": (ASKED, SURELY, CLOT, SILENT),
    "silent, but plainly a sign": (SILENT, PLAINLY, CLOT, likened(CLOT)),
    "silent, but like a sign": (SILENT, LIKE, CLOT, ASKED_BY_LIKENESS),
    "silent, and unclear": (SILENT, LIKE - 0.01, CLOT, SILENT),
    "found, but like one more urgent": (
        FOUND, LIKE, RUPTURE,
        replace(FOUND, ask=(RUPTURE,), asked_by_likeness=frozenset({RUPTURE.key})),
    ),
    "found, but plainly one more urgent": (
        FOUND, PLAINLY, RUPTURE, Screening(likened(RUPTURE).found + FOUND.found),
    ),
    "found, but plainly one less urgent": (FOUND, PLAINLY, NERVE, FOUND),
    "asked, but plainly one less urgent": (
        ASKED, PLAINLY, NERVE, replace(likened(NERVE), ask=(CLOT,)),
    ),
    "asked, but like one more urgent": (
        ASKED, LIKE, RUPTURE,
        Screening(ask=(RUPTURE, CLOT), asked_by_likeness=frozenset({RUPTURE.key})),
    ),
    "asked, and like one as urgent": (ASKED, LIKE, WEAK, ASKED),
}  # fmt: skip


@pytest.mark.parametrize(("first", "odds", "likest", "both"), SETTLED.values(), ids=SETTLED)
def test_two_readings_are_settled_as_the_table_says(
    first: Screening, odds: float, likest: Sign, both: Screening
) -> None:
    """Where they differ the patient is asked, unless the second is all but certain."""
    assert settled(first, Likeness(odds, likest.key, likest.tier), likest) == both


def test_a_question_is_as_urgent_as_the_words_it_comes_from() -> None:
    """A sign found at a more urgent tier than its own is asked about at that tier."""
    first = Screening(found=(match(CLOT, Tier.EMERGENCY),), ask=(NERVE,))

    both = settled(first, Likeness(HARMLESS_MAX, CLOT.key, CLOT.tier), CLOT)

    assert both.ask == (replace(CLOT, tier=Tier.EMERGENCY), NERVE)


TIERS = {
    "sooner than its own": (Tier.EMERGENCY, Tier.EMERGENCY),
    "later than its own": (Tier.NEXT_WORKING_DAY, Tier.SAME_DAY),
    "its own": (Tier.SAME_DAY, Tier.SAME_DAY),
}


@pytest.mark.parametrize(("told", "asked"), TIERS.values(), ids=TIERS)
def test_a_sign_is_asked_about_at_the_sooner_tier(told: Tier, asked: Tier) -> None:
    """What labelled messages say of a sign may hurry it, never delay it."""
    both = settled(SILENT, Likeness(LIKE_A_SIGN_MIN, WEAK.key, told), WEAK)

    assert both.ask == (replace(WEAK, tier=asked),)


def test_a_more_urgent_likeness_hurries_the_question_already_asked() -> None:
    """The same sign, told at a more urgent tier, is asked about once, at that tier."""
    both = settled(
        Screening(ask=(WEAK,)), Likeness(LIKE_A_SIGN_MIN, WEAK.key, Tier.EMERGENCY), WEAK
    )

    assert both.ask == (replace(WEAK, tier=Tier.EMERGENCY),)


FELL = "went down like a sack in the hall, woke up with the dog licking me, puffing like a train"


PLAIN_REPORTS = {
    "a rupture that hardly hurts": ("pop in my achilles, hardly hurts, 2 of 10", "tendon-rupture"),
    "a rupture among good news": (
        "great day, felt a pop and cannot push off, thanks",
        "tendon-rupture",
    ),
    "breathing": ("can't catch my breath", "lung-clot"),
    "a wish to die": ("don't want to be here any more", "crisis"),
    "the saddle": ("numb down below", "cauda-equina"),
    "a cold white foot": ("foot has gone cold and white", "limb-ischaemia"),
    "a streak": ("streak up my leg", "spreading-infection"),
}


@pytest.mark.parametrize(("text", "sign"), PLAIN_REPORTS.values(), ids=PLAIN_REPORTS)
def test_a_plain_report_is_found_and_not_made_a_question(text: str, sign: str) -> None:
    """Neither low pain nor a friendly word beside it takes from what is plainly told."""
    assert screen(text, FIRST).found[0].sign.key == sign


def test_what_likeness_alone_asks_about_is_told_from_what_a_wording_shows() -> None:
    """A message that the dialog takes whole is not asked about for likeness alone."""
    alike, worded = screen(FELL, FIRST), screen("3 10 calf is massive", FIRST)

    assert [sign.key for sign in alike.ask] == ["lung-clot"]
    assert alike.likeness_alone
    assert worded.found
    assert not worded.likeness_alone


TOLD_AT = {
    "one foot": ("my foot slaps the floor", Tier.SAME_DAY),
    "both feet": ("neither foot comes up right, they flap", Tier.EMERGENCY),
    "words it was not asked about": ("", Tier.SAME_DAY),
}


@pytest.mark.parametrize(("text", "tier"), TOLD_AT.values(), ids=TOLD_AT)
def test_a_question_keeps_the_tier_of_its_words(text: str, tier: Tier) -> None:
    """How soon the answer yes needs a person follows from what was written; else from the sign."""
    assert tier_asked(WEAK.key, text, FIRST) is tier


READ_AS_ONE = {
    "a place, and then what is wrong with it": ("my calf", "hot and huge", ["leg-clot"]),
    "a sign already told": ("my calf is hot and huge", "ok", []),
    "a sign told again": ("my calf is swollen", "my calf is swollen", ["leg-clot"]),
    "a no to something else": ("no", "my calf is swollen", ["leg-clot"]),
    "a sign that only the later one shows": ("heel fine", "chest pain", ["lung-clot"]),
}


@pytest.mark.parametrize(("before", "text", "found"), READ_AS_ONE.values(), ids=READ_AS_ONE)
def test_two_messages_are_also_read_as_one(before: str, text: str, found: list[str]) -> None:
    """What only the two show together is added to what the later one shows alone."""
    assert [one.sign.key for one in screen(text, FIRST, before=before).found] == found


OTHER_LANGUAGE = {
    "English to Spanish": ("es", "cant breathe and coughing blood", "lung-clot", Tier.EMERGENCY),
    "Spanish to English": ("en", "no puedo respirar y toso sangre", "lung-clot", Tier.EMERGENCY),
    "two words": ("es", "chest pain", "lung-clot", Tier.EMERGENCY),
    "half and half": ("en", "hola, tengo la pantorrilla hinchada, pls", "leg-clot", Tier.SAME_DAY),
}


@pytest.mark.parametrize(("set_to", "text", "sign", "tier"), OTHER_LANGUAGE.values())
def test_a_message_in_another_language_is_read_in_it(
    set_to: str, text: str, sign: str, tier: Tier
) -> None:
    """The sign is found, and asked about and told of in the patient's own language."""
    lexicon = shipped_lexicon(set_to)

    first = screen(text, lexicon).found[0]

    assert (first.sign, first.tier) == (lexicon.sign(sign), tier)


@pytest.mark.parametrize("text", ["no", "ok", "stop", "", "3 10", "Ana", "pizza y cerveza"])
def test_what_may_be_either_language_is_read_in_its_own(text: str) -> None:
    """A short word is not taken for another language."""
    assert FIRST.other_language_of(text) in (None, "es")
    assert screen(text, FIRST) == SILENT


def test_worry_shows_without_wordings() -> None:
    """The odds of the second reading, in the language of the text."""
    assert worry("my calf is swollen and hot", FIRST) > 10 > 0 > worry("3 10 all fine", FIRST)
    assert worry("tengo la pantorrilla hinchada y caliente", FIRST) > 10


SOONER = {
    "nothing found": (ASKED, ()),
    "found alone": (FOUND, ()),
    "asked about one as urgent": (replace(FOUND, ask=(WEAK,)), ()),
    "asked about one more urgent": (replace(FOUND, ask=(RUPTURE, WEAK)), (RUPTURE,)),
}


@pytest.mark.parametrize(("screening", "sooner"), SOONER.values(), ids=SOONER)
def test_what_may_be_sooner_than_what_was_found_is_told_apart(
    screening: Screening, sooner: tuple[Sign, ...]
) -> None:
    """Only questions more urgent than everything found still need an answer at once."""
    assert screening.sooner == sooner


@given(st.text())
def test_a_sign_is_never_both_found_and_asked_about(text: str) -> None:
    """Whatever was typed, each sign stands in one place, and only once."""
    both = screen(text, FIRST)

    keys = [found.sign.key for found in both.found] + [sign.key for sign in both.ask]
    assert len(keys) == len(set(keys))


# ---------------------------------------------------------------- the sets of labelled messages

FALSE_ALARMS_MAX_PERCENT = 3  # convention; see the closing rule of the lexicon
FORGOTTEN_MAX_PERCENT = 2  # convention: some messages read like nothing else that was told


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_two_readings_remember_what_was_told(language: str) -> None:
    """Of a hundred urgent messages at most 2 come out below their tier, and at most 3 of a
    hundred harmless ones raise an alarm. Every fifteenth message, of all authors;
    `tests/authors_apart.py` reads them all, each without its author.
    """
    some = list(shipped_labelled(language))[::15]
    reads = read(some, shipped_lexicon(language))

    counts = printed(f"{language}, every fifteenth of those learned", counted(reads))
    urgent = sum(counts[tier].total() for tier in URGENT)

    assert 100 * len(too_late(reads)) <= FORGOTTEN_MAX_PERCENT * urgent
    assert 100 * counts[HARMLESS]["alarm"] <= FALSE_ALARMS_MAX_PERCENT * counts[HARMLESS].total()


# Floors on the set kept apart: share of urgent messages found or asked about, and of harmless ones
# that raise an alarm. Convention, loose on purpose: a tight one would tempt whoever meets it to
# build on this set, and then it would measure nothing.
URGENT_MIN, FALSE_ALARMS_KEPT_APART_MAX = 0.95, 0.05


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_set_kept_apart_is_measured(language: str) -> None:
    """What counts is the table printed."""
    reads = read(kept_apart(f"measure_{language}"), shipped_lexicon(language))

    counts = printed(f"kept apart, {language}", counted(reads))
    urgent = sum((counts[tier] for tier in URGENT), Counter[str]())

    assert urgent["found"] + urgent["asked"] >= URGENT_MIN * urgent.total()
    assert counts[HARMLESS]["alarm"] <= FALSE_ALARMS_KEPT_APART_MAX * counts[HARMLESS].total()


ORDINARY_ALARMS_MAX = 0.005  # convention: one in two hundred, the price of raising by likeness
ORDINARY_ASKED_MAX = 0.1  # convention: one in ten, before the dialog takes answers for answers


@pytest.mark.parametrize("language", LANGUAGES)
def test_ordinary_talk_is_seldom_asked_about(language: str) -> None:
    """Answers and wishes in words, on their own, hardly raise an alarm, and few a question."""
    reads = read(kept_apart(f"ordinary_{language}"), shipped_lexicon(language))

    counts = printed(f"ordinary talk, {language}", counted(reads))[HARMLESS]

    assert counts["alarm"] <= ORDINARY_ALARMS_MAX * counts.total()
    assert counts["asked"] <= ORDINARY_ASKED_MAX * counts.total()


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_limits_are_confirmed_on_messages_written_for_it(language: str) -> None:
    """`confirm_<language>.tsv` was written before the limits were set and is used for nothing else:
    likeness finds more at once, and raises no alarm of its own on a harmless message.
    """
    reads = read(kept_apart(f"confirm_{language}"), shipped_lexicon(language))

    counts = printed(f"for confirming, {language}", counted(reads))
    likened = [one for one in reads if any(match.by_likeness for match in one.screening.found)]

    assert all(counts[tier]["found"] >= 0.85 * counts[tier].total() for tier in URGENT)
    assert [one.labelled.message for one in likened if one.labelled.label == HARMLESS] == []
