"""Warning signs in Spanish: what is found, what is asked about, and what is let pass.

This is the first reading, by wordings, on the first set that it was built on.
"""

from __future__ import annotations

import pytest
from decides.labelled import shipped_sets

from rules.lexicon import shipped_wordings
from rules.screening import screen

# The first reading alone: what a second reader makes of it stands in `test_double_reading`.
SPANISH = shipped_wordings("es")
ENGLISH = shipped_wordings("en")

# A closed question goes out as one text message [letters, at most]. Source: 3GPP TS 23.038.
SEGMENT = 160


@pytest.mark.parametrize(
    ("tier", "sign", "text"),
    [(row.label, row.sign, row.message) for row in shipped_sets("es")[0]],
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
