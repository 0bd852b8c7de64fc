"""Warning signs in Spanish: what is found, what is asked about, and what is let pass.

The messages of the build sets were seen while the Spanish wordings were made, so that they show
how well these are remembered. Only `measure_es.tsv` says how they do on messages they have not
met: it is never built on. All tables are printed with `-s`.
"""

from __future__ import annotations

from collections import Counter

import pytest
from decides.labelled import URGENT, labelled, measured, too_late, unnamed

from rules.lexicon import shipped_lexicon
from rules.screening import screen

LARGER_SETS = ("build_more_es.tsv", "build_sixth_es.tsv", "build_seventh_es.tsv")
MEASURED_SET = "measure_es.tsv"
SPANISH, ENGLISH = shipped_lexicon("es"), shipped_lexicon("en")

# A closed question goes out as one text message [letters, at most]. Source: 3GPP TS 23.038.
SEGMENT = 160

FALSE_ALARMS_MAX_PERCENT = 3  # convention, as in English
NEEDLESS_ASKS_MAX_PERCENT = 5  # convention, as in English
URGENT_MIN = 0.85  # convention, loose, as in English
FALSE_ALARMS_MEASURED_MAX = 0.08  # convention, loose


@pytest.mark.parametrize(
    ("tier", "sign", "text"),
    [(row.tier, row.sign, row.message) for row in labelled("build_es.tsv")],
)
def test_a_message_is_judged_as_labelled(tier: str, sign: str, text: str) -> None:
    """A sign is found at its tier, a doubtful one is asked about, anything else is let pass."""
    screening = screen(text, SPANISH)

    found = {(match.tier.value, match.sign.key) for match in screening.found}
    asked = {one.key for one in screening.ask}
    if tier == "none":
        assert (found, asked) == (set(), set())
    elif tier == "ask":
        assert sign in asked
    else:
        assert (tier, sign) in found


@pytest.mark.parametrize("name", LARGER_SETS)
def test_no_sign_of_a_larger_build_set_is_passed_over(name: str) -> None:
    """Each sign is named, and each urgent message is found at its tier or asked about."""
    late = too_late(name, SPANISH)
    passed_over = unnamed(name, SPANISH)

    assert not late
    assert not passed_over


@pytest.mark.parametrize("name", LARGER_SETS)
def test_false_alarms_on_a_larger_build_set_stay_under_the_limit(name: str) -> None:
    """Fewer than 3 of 100 harmless messages raise an alarm, and fewer than 5 ask without need."""
    harmless = measured(name, SPANISH)["none"]

    assert 100 * harmless["alarm"] < FALSE_ALARMS_MAX_PERCENT * harmless.total()
    assert 100 * harmless["asked"] < NEEDLESS_ASKS_MAX_PERCENT * harmless.total()


def test_the_set_kept_apart_is_measured() -> None:
    """What counts is the table printed; the floors are loose, so that nobody builds on this set."""
    counts = measured(MEASURED_SET, SPANISH)

    urgent = sum((counts[tier] for tier in URGENT), Counter[str]())
    harmless = counts["none"]

    assert urgent["found"] + urgent["asked"] >= URGENT_MIN * urgent.total()
    assert harmless["alarm"] <= FALSE_ALARMS_MEASURED_MAX * harmless.total()


def test_the_same_signs_in_both_languages() -> None:
    """Signs and their tiers do not depend on the language."""
    spanish = {key: rules.sign.tier for key, rules in SPANISH.signs.items()}
    english = {key: rules.sign.tier for key, rules in ENGLISH.signs.items()}

    assert spanish == english


def test_closed_questions_are_short_and_say_how_to_answer() -> None:
    """Each fits one text message and asks for yes or no."""
    questions = [rules.sign.closed_question for rules in SPANISH.signs.values()]

    unfit = [q for q in questions if len(q) > SEGMENT or not q.endswith("Responde S\u00cd o NO.")]

    assert unfit == []


WRITTEN_OTHERWISE = {
    "no accents": "oi un chasquido en el talon",
    "capitals": "NO PUEDO RESPIRAR",
    "a slip": "me falta el aire estando sentadaa",
    "chat shorthand": "xq no puedo rspirar",
    "a sign beside numbers": "3 10 y no puedo respirar",
}


@pytest.mark.parametrize("text", WRITTEN_OTHERWISE.values(), ids=WRITTEN_OTHERWISE)
def test_typing_does_not_hide_a_sign(text: str) -> None:
    """Accents, capitals, slips and numbers around it change nothing."""
    screening = screen(text, SPANISH)

    assert [match.tier.value for match in screening.found] == ["emergency"]
