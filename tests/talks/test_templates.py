"""Every template of each language, with every branch: complete, cheap, plain, and calm."""

from __future__ import annotations

import re
from functools import cache

import pytest
from house.source_tree import code_files
from jinja2 import Environment, nodes
from talks.sayings import Saying, sayings

from dialogs.catalogues import languages, shipped_messages
from dialogs.own_wording import prompt_texts
from dialogs.rendering import gsm, parsed, segments, spoken, template_names
from dialogs.tips import shipped_tips
from dialogs.turn import Question
from rules.protocol_reader import SHIPPED, shipped_protocol
from rules.reasons import Reason

LANGUAGES = languages()

# US school grade of the Flesch-Kincaid formula [grade, at most]. Convention: a reading age of
# about eleven.
GRADE_MAX = 6.0
# The formula's weights. Source: Kincaid 1975, report of the US Navy (from memory).
A_WORD, A_SYLLABLE, LESS = 0.39, 11.8, 15.59
# A text of fewer words is a label, which the formula cannot grade [count]. Convention.
GRADED_WORDS_MIN = 4

# Words that promise, blame, alarm or name a disease. Our own list (convention).
NEVER_SAID: dict[str, list[str]] = {}
NEVER_SAID["en"] = [
    "heal", "cure", "guarantee", "promise", "surely", "definitely", "safe", "harmless",
    "recover fully", "fail", "wrongly", "your fault", "should have", "forgot", "you must", "lazy",
    "danger", "dangerous", "severe", "serious", "damage", "urgent", "alarm", "worry", "worried",
    "afraid", "scary", "rupture", "torn", "tear", "clot", "thrombosis", "infection", "tendinopathy",
    "diagnosis", "fracture", "disease", "injury", "unfortunately", "compliance", "non-compliant",
]  # fmt: skip


NEVER_SAID["es"] = [
    "cura", "curar", "curarse", "sanar", "sana", "garantiza", "garantizado", "promete", "prometo",
    "seguro que", "sin duda", "sin riesgo", "inofensivo", "fracaso", "fallaste", "culpa",
    "deberías haber", "tenías que", "olvidaste", "se te olvidó", "perezoso", "peligro", "peligroso",
    "grave", "severo", "serio", "daño", "urgente", "urgencia", "alarma", "preocupa", "preocupes",
    "preocupante", "miedo", "asustes", "rotura", "ruptura", "roto", "desgarro", "coágulo",
    "trombosis", "infección", "tendinopatía", "diagnóstico", "fractura", "enfermedad", "lesión",
    "lamentablemente", "por desgracia", "incumplimiento",
]  # fmt: skip


@cache
def every_saying(language: str) -> tuple[Saying, ...]:
    """Every text of a language, made once, the same text only once."""
    return tuple(dict.fromkeys(sayings(language)))


def for_patients(language: str) -> list[Saying]:
    """Texts that a patient reads."""
    return [saying for saying in every_saying(language) if saying.for_patient]


@cache
def everything(language: str) -> str:
    """All texts of a language in one."""
    return "\n".join(" ".join(saying.text.split()) for saying in every_saying(language))


def literals(language: str, name: str) -> list[str]:
    """The fixed pieces of a template, white space apart, in which there are words."""
    tree = Environment(autoescape=False).parse(shipped_messages(language)[name])
    pieces = [data.data for data in tree.find_all(nodes.TemplateData)]
    pieces += [
        const.value
        for test in tree.find_all(nodes.CondExpr)
        for const in (test.expr1, test.expr2)
        if isinstance(const, nodes.Const) and isinstance(const.value, str)
    ]
    pieces += [form.value.value for form in tree.find_all(nodes.Keyword) if said(form)]
    plain = (" ".join(piece.split()) for piece in pieces)
    return [piece for piece in plain if re.search(r"[a-z]{2}", piece)]


def said(form: nodes.Keyword) -> bool:
    """Whether a keyword of a filter is a fixed text: the form of a word for a count."""
    return isinstance(form.value, nodes.Const) and isinstance(form.value.value, str)


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


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_branch_is_said_somewhere(language: str) -> None:
    """Each fixed piece of each template stands in some text of our samples."""
    texts = everything(language)

    unsaid = [
        f"{name}: {piece}"
        for name in template_names(language)
        for piece in literals(language, name)
        if piece not in texts
    ]

    assert unsaid == []


def test_no_translation_is_missing() -> None:
    """Each language has the same templates."""
    shipped = {language: set(template_names(language)) for language in LANGUAGES}

    missing = {language: shipped["en"] ^ names for language, names in shipped.items()}

    assert missing == {language: set() for language in LANGUAGES}


def test_every_message_that_is_named_is_there() -> None:
    """What the code says by name, and what a tip asks, is a message of the catalogues."""
    code = [
        path.read_text(encoding="utf-8") for path in (*code_files("bot"), *code_files("dialogs"))
    ]
    named = {name for text in code for name in re.findall(r'Said\(\s*"([a-z/-]+)"', text)}
    named |= {tip.text for tip in shipped_tips("en") if tip.asks}

    assert named - set(template_names("en")) == set()
    assert len(named) > 50


def test_translations_use_the_same_values() -> None:
    """A template asks for the same values in each language: none is left out or made up."""
    used = {
        name: {language: parsed(name, language)[1] for language in LANGUAGES}
        for name in template_names("en")
    }

    differing = {name: by for name, by in used.items() if len(set(by.values())) > 1}

    assert differing == {}


def test_every_session_is_said_in_each_language() -> None:
    """Each level, exercise and tempo of the shipped protocols is translated."""
    texts = {
        text
        for name in SHIPPED
        for level in shipped_protocol(name).levels
        for text in (level.name, level.exercise, level.tempo)
        if text
    }

    untranslated = {
        language: sorted(text for text in texts if spoken(text, language) == text)
        for language in LANGUAGES
        if language != "en"
    }

    assert untranslated == {language: [] for language in untranslated}


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_reason_has_its_two_templates(language: str) -> None:
    """Each reason of the rules can be said, and can be explained."""
    shipped = set(template_names(language))

    missing = [
        f"{folder}/{reason.value}"
        for folder in ("advice", "why")
        for reason in Reason
        if f"{folder}/{reason.value}" not in shipped
    ]

    assert missing == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_question_has_its_template(language: str) -> None:
    """Each question can be put alone."""
    shipped = set(template_names(language))

    missing = [one.value for one in Question if f"question/{one.entry}/ask" not in shipped]

    assert missing == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_everything_is_sent_in_the_cheap_alphabet(language: str) -> None:
    """In plain letters no text of ours forces a phone network to the wide alphabet."""
    wide = [
        saying.text
        for saying in every_saying(language)
        if segments(gsm(saying.text)).encoding != "GSM-7"
    ]

    assert wide == []


def test_english_needs_no_plain_letters() -> None:
    """English is the same by chat and by SMS."""
    changed = [saying.text for saying in every_saying("en") if gsm(saying.text) != saying.text]

    assert changed == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_prompt_of_every_protocol_fits_one_segment(language: str) -> None:
    """With the longest name and any dose, a prompt in plain letters is one GSM-7 segment."""
    protocols = [shipped_protocol(name) for name in SHIPPED]

    long = [
        text
        for text in set(prompt_texts(language, {}, protocols))
        if (size := segments(gsm(text))).count > 1 or size.encoding != "GSM-7"
    ]

    assert long == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_text_has_a_hole(language: str) -> None:
    """No text shows a missing value, doubled spaces or a space before a full stop."""
    holes = [
        saying.text
        for saying in every_saying(language)
        if re.search(r"None|undefined|\{|\}|  | [.,?]|\.\.|,\.|\(\)|: *$", saying.text)
    ]

    assert holes == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_text_promises_blames_or_alarms(language: str) -> None:
    """None of the words that promise, blame, alarm or name a disease reaches a patient."""
    words = "|".join(map(re.escape, NEVER_SAID[language]))
    pattern = re.compile(rf"\b({words})(s|d|ed|ing|es|o|a|os|as)?\b", re.IGNORECASE)

    found = [
        f"{word[0]}: {saying.text}"
        for saying in for_patients(language)
        if (word := pattern.search(saying.text))
    ]

    assert found == []


def test_patients_can_read_every_text() -> None:
    """Every English text for a patient is at or under the reading grade."""
    hard = {
        saying.template: f"{grade:.1f} {saying.text}"
        for saying in for_patients("en")
        if len(saying.text.split()) >= GRADED_WORDS_MIN
        and (grade := reading_grade(saying.text)) > GRADE_MAX
    }

    assert hard == {}


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_sentence_is_long(language: str) -> None:
    """No sentence for a patient has more than 25 words."""
    long = [
        sentence
        for saying in for_patients(language)
        for sentence in re.split(r"(?<=[.?!:;])\s", saying.text)
        if len(sentence.split()) > 25
    ]

    assert sorted(set(long)) == []


EXPECTED = {
    "en": r"0-10|minutes|number|sets|[Yy]es or no|YES or NO|LEFT|time|city|Reply|NO\.|SKIP",
    "es": r"0-10|minutos|número|series|[Ss]í o no|SÍ o NO|IZQ|hora|ciudad|Responde|SALTAR",
}


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_question_says_what_is_expected(language: str) -> None:
    """Each question names its scale, its unit or its words."""
    unclear = [
        saying.text
        for saying in for_patients(language)
        if saying.template == "ask" and not re.search(EXPECTED[language], saying.text)
    ]

    assert unclear == []
