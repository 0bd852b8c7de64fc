"""What patients ask and say beside the answers: how many of it is read, and how little wrongly.

The labelled messages of `messages/questions_<language>.toml` are our own. Nothing was built or
tuned on them: the reader learned from `dialogs/wording/<language>/questions.toml` alone.
"""

from __future__ import annotations

import tomllib
from collections import Counter
from pathlib import Path

import pytest
from decides.labelled import shipped_labelled

from dialogs.catalogues import languages, shipped_messages, tables, text_of
from dialogs.rendering import gsm, segments
from dialogs.samples import sample_texts
from dialogs.topics import PLAIN_ODDS, heard, topics_of
from rules.lexicon import shipped_lexicon
from rules.screening import screen
from rules.second_reading import HARMLESS
from rules.topics import NONE

MEASURED = Path(__file__).parent / "messages"
GUIDE = Path(__file__).parents[2] / "deploy/guide/measured.md"

# Shares of the measured half [0-1]. Our own targets: a wrong reply costs more than none.
RIGHT_MIN, WRONG_MAX, RAISED_FALSELY_MAX = 0.8, 0.015, 0.07

# Topics that are answered by the plan, the advice or its reasons, and wishes.
WITHOUT_NOTE = frozenset({"today", "session", "why-same", "why-rest"})


def measured(language: str) -> list[tuple[str, str]]:
    """Topic and message."""
    kept = tomllib.loads((MEASURED / f"questions_{language}.toml").read_text(encoding="utf-8"))
    return [(topic, one) for held in kept.values() for topic, ones in held.items() for one in ones]


def topic_of(text: str, language: str) -> str:
    """The one topic that is found, or `NONE`."""
    found = heard(text, language)
    return NONE if found is None else "+".join(one.key for one in found.topics)


@pytest.mark.parametrize("language", languages())
def test_questions_never_seen_find_their_topic(language: str) -> None:
    """Most are answered; hardly any by the wrong answer; what is none of them mostly by none."""
    counts: Counter[str] = Counter()
    for topic, text in measured(language):
        found = topic_of(text, language)
        side = "none" if topic == NONE else "topic"
        how = "right" if found == topic else "unanswered" if found == NONE else "wrong"
        counts[f"{side} {how}"] += 1
    asked = sum(count for key, count in counts.items() if key.startswith("topic"))
    others = counts.total() - asked
    print(f"\n{language}: of {asked} messages about a topic {counts['topic right']} read rightly,")
    print(f"{counts['topic wrong']} wrongly, {counts['topic unanswered']} left to a clinician;")
    print(f"of {others} about none {counts['none wrong']} found one")

    shares = (counts[f"topic {how}"] / asked for how in ("right", "wrong", "unanswered"))
    row = "".join(f" {share * 100:.1f} % |" for share in shares)
    assert f" | {asked} |{row}\n" in GUIDE.read_text(encoding="utf-8")
    assert counts["topic right"] >= RIGHT_MIN * asked
    assert counts["topic wrong"] <= WRONG_MAX * asked
    assert counts["none wrong"] <= RAISED_FALSELY_MAX * others


@pytest.mark.parametrize("language", languages())
def test_no_answer_stands_in_for_a_warning_sign(language: str) -> None:
    """No labelled message that shows a sign is silenced: at odds at which likeness alone is not
    asked about, the screen has found it or a wish is screened all the same."""
    lexicon, kinds = shipped_lexicon(language), topics_of(language)
    silenced = []
    for one in shipped_labelled(language):
        found = heard(one.message, language) if one.label != HARMLESS else None
        if found is None or found.rest:
            continue
        plain = all(topic.odds >= PLAIN_ODDS for topic in found.topics)
        wish = any(kinds[topic.key] == "wish" for topic in found.topics)
        seen = screen(one.message, lexicon)
        if plain and not wish and not seen.found and (not seen.ask or seen.likeness_alone):
            silenced.append(one.message)

    assert silenced == []


@pytest.mark.parametrize("language", languages())
def test_both_languages_know_the_same_topics_and_have_a_note_for_each(language: str) -> None:
    """A note for each topic, with its source above it unless it is the plan's own."""
    kinds = topics_of(language)
    notes = {name.removeprefix("asked/") for name in shipped_messages(language) if "asked/" in name}
    asked = {topic for topic, kind in kinds.items() if kind != "wish"}

    assert kinds == topics_of("en")
    assert notes - {"unsure", "held", "not-yet"} == asked - WITHOUT_NOTE
    assert set(tables(language, "questions")["things"]) <= kinds.keys()


@pytest.mark.parametrize("language", languages())
def test_every_general_note_names_its_source_and_whom_to_ask(language: str) -> None:
    """Above it in the file: read, or said to be common practice."""
    lines = text_of(language, "asked").splitlines()
    kinds = topics_of(language)
    general = {topic for topic, kind in kinds.items() if kind in ("activity", "care")} - {"limit"}
    above = {line.partition(" = ")[0]: lines[at - 1] for at, line in enumerate(lines)}

    named = ("# Source", "# Common practice", "# Fuente", "# Práctica")
    assert [topic for topic in general if not above[topic].startswith(named)] == []
    texts = {topic: sample_texts(f"asked/{topic}", language)[0] for topic in general}
    assert [topic for topic, text in texts.items() if "Dr Moss" not in text] == []


@pytest.mark.parametrize("language", languages())
def test_every_answer_fits_one_text_message(language: str) -> None:
    """With sample values, but for the phone number's two numbers."""
    long = [
        name
        for name in shipped_messages(language)
        if name.startswith("asked/")
        for text in sample_texts(name, language)
        if segments(gsm(text)).count > 1
    ]

    assert long == []
