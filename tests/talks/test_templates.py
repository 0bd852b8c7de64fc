"""Every template, with every branch: complete, cheap to send, plain, and calm."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest
from jinja2 import Environment, nodes
from talks.sayings import Saying, sayings

from dialogs.turn import Question
from dialogs.wording import segments
from rules.reasons import Reason

FOLDER = Path(__file__).parents[2] / "dialogs" / "templates" / "en"

# US school grade of the Flesch-Kincaid formula [grade, at most]. Convention: a reading age of
# about eleven.
GRADE_MAX = 6.0
# The formula's weights. Source: Kincaid 1975, report of the US Navy (from memory).
A_WORD, A_SYLLABLE, LESS = 0.39, 11.8, 15.59

# Words that promise, blame, alarm or name a disease. Our own list (convention).
NEVER_SAID = [
    "heal", "cure", "guarantee", "promise", "surely", "definitely", "safe", "harmless",
    "recover fully", "fail", "wrongly", "your fault", "should have", "forgot", "you must", "lazy",
    "danger", "dangerous", "severe", "serious", "damage", "urgent", "alarm", "worry", "worried",
    "afraid", "scary", "rupture", "torn", "tear", "clot", "thrombosis", "infection", "tendinopathy",
    "diagnosis", "fracture", "disease", "injury", "unfortunately", "compliance", "non-compliant",
]  # fmt: skip


@cache
def every_saying() -> tuple[Saying, ...]:
    """Every text, made once, the same text only once."""
    return tuple(dict.fromkeys(sayings()))


def for_patients() -> list[Saying]:
    """Texts that a patient reads."""
    return [saying for saying in every_saying() if saying.for_patient]


def names() -> list[str]:
    """The names of all templates that ship."""
    files = sorted(FOLDER.rglob("*.txt.j2"))
    return [str(path.relative_to(FOLDER)).removesuffix(".txt.j2") for path in files]


def literals(name: str) -> list[str]:
    """The fixed pieces of a template, white space apart, in which there are words."""
    source = (FOLDER / f"{name}.txt.j2").read_text(encoding="utf-8")
    tree = Environment(autoescape=False).parse(source)
    pieces = [data.data for data in tree.find_all(nodes.TemplateData)]
    pieces += [
        const.value
        for test in tree.find_all(nodes.CondExpr)
        for const in (test.expr1, test.expr2)
        if isinstance(const, nodes.Const) and isinstance(const.value, str)
    ]
    plain = (" ".join(piece.split()) for piece in pieces)
    return [piece for piece in plain if re.search(r"[a-z]{2}", piece)]


def syllables(word: str) -> int:
    """How many syllables an English word has, by its groups of vowels; one at least.

    Counted here: the dictionary that the usual library asks for is fetched from a network.
    """
    if not word.isalpha():
        return 1
    stem = re.sub(r"((?<=[^aeiouyl])e|(?<=[^aeiouysxzg])es|(?<=[^aeiouytd])ed)$", "", word.lower())
    return max(1, len(re.findall(r"[aeiouy]+", stem)))


def reading_grade(text: str) -> float:
    """The US school grade of a text by the Flesch-Kincaid formula."""
    sentences = [part for part in re.split(r"[.?!:](?:\s|$)|\n", text) if part.strip()]
    words = re.findall(r"[A-Za-z']+|[0-9]+(?:[-:.][0-9]+)*", text.replace("'", ""))
    spoken = sum(syllables(word) for word in words)
    return A_WORD * len(words) / len(sentences) + A_SYLLABLE * spoken / len(words) - LESS


@pytest.mark.parametrize("name", names())
def test_every_branch_is_said_somewhere(name: str) -> None:
    """Each fixed piece of each template stands in some text of our samples."""
    everything = "\n".join(" ".join(saying.text.split()) for saying in every_saying())

    unsaid = [piece for piece in literals(name) if piece not in everything]

    assert unsaid == []


def test_every_reason_has_its_two_templates() -> None:
    """Each reason of the rules can be said, and can be explained."""
    shipped = set(names())

    missing = [
        f"{folder}/{reason.value}"
        for folder in ("advice", "why")
        for reason in Reason
        if f"{folder}/{reason.value}" not in shipped
    ]

    assert missing == []


def test_every_question_has_its_template() -> None:
    """Each question can be put alone."""
    shipped = set(names())

    missing = [question.value for question in Question if f"ask/{question.value}" not in shipped]

    assert missing == []


def test_everything_is_sent_in_the_cheap_alphabet() -> None:
    """No text of ours forces a phone network to the wide alphabet."""
    wide = [saying.text for saying in every_saying() if segments(saying.text).encoding != "GSM-7"]

    assert wide == []


def test_no_text_has_a_hole() -> None:
    """No text shows a missing value, doubled spaces or a space before a full stop."""
    holes = [
        saying.text
        for saying in every_saying()
        if re.search(r"None|undefined|\{|\}|  | [.,?]|\.\.|,\.|\(\)", saying.text)
    ]

    assert holes == []


def test_no_text_promises_blames_or_alarms() -> None:
    """None of the words that promise, blame, alarm or name a disease reaches a patient."""
    pattern = re.compile(
        rf"\b({'|'.join(map(re.escape, NEVER_SAID))})(s|d|ed|ing)?\b", re.IGNORECASE
    )

    found = [
        f"{word[0]}: {saying.text}"
        for saying in for_patients()
        if (word := pattern.search(saying.text))
    ]

    assert found == []


def test_patients_can_read_every_text() -> None:
    """Every text for a patient is at or under the reading grade."""
    hard = {
        saying.template: f"{grade:.1f} {saying.text}"
        for saying in for_patients()
        if (grade := reading_grade(saying.text)) > GRADE_MAX
    }

    assert hard == {}


def test_no_sentence_is_long() -> None:
    """No sentence for a patient has more than 25 words."""
    long = [
        sentence
        for saying in for_patients()
        for sentence in re.split(r"(?<=[.?!:])\s", saying.text)
        if len(sentence.split()) > 25
    ]

    assert sorted(set(long)) == []


def test_every_question_says_what_is_expected() -> None:
    """Each question names its scale, its unit or its words."""
    expected = r"0-10|minutes|number|sets|[Yy]es or no|YES or NO|LEFT|time|city|Reply|NO\."
    unclear = [
        saying.text
        for saying in for_patients()
        if saying.template == "ask" and not re.search(expected, saying.text)
    ]

    assert unclear == []
