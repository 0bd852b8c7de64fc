"""What a message asks, wishes or says beside the answers: its topics, and what they lead to.

Found by likeness to the labelled messages of `wording/<language>/questions.toml`. Words nothing
and decides nothing: what is said of a topic is `asked/<topic>`, chosen by
`bot.patients.topic_replies`. Read next: `rules.topics`, then `patient`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from typing import Any

from dialogs.answering import Talk
from dialogs.asking import ask
from dialogs.catalogues import tables
from dialogs.errors import WordingError
from dialogs.preferences import paused
from dialogs.reading import read_answers
from dialogs.rendering import render
from dialogs.tokens import tokens
from dialogs.turn import Question, Recorded, Remark, Said, State, Turn, Unread
from dialogs.waiting import batch
from dialogs.wishes import HealthNews, PersonAsked, TopicsAsked
from rules.topics import NONE, Topic, TopicReader

TABLES = ("things", "same", "never", "needs")
"""What is no labelled message in the file."""

COURTESY = "courtesy"

PLAIN_ODDS = 5.0
"""From here on nothing is asked about a likeness to a warning sign alone [natural logarithm of
odds]. Source: of 8,940 labelled messages that show a sign none was read as a topic at these odds
without its sign being found, but for wishes, which are always screened (`tests/talks`).
"""

# Groups of questions to which any words are an answer.
_ANY_WORDS = frozenset({"enrolment", "sign", "what-about"})


@dataclass(frozen=True)
class Heard:
    """What a text is about. `rest`: what of it found no topic."""

    topics: tuple[Topic, ...]
    rest: str = ""


@lru_cache(maxsize=8)
def topics_of(language: str) -> Mapping[str, str]:
    """The topics of a language and the table that each stands in: "plan", "activity", "care",
    "bot", "wish", "courtesy". Empty where the language has no such file."""
    return {
        topic: table
        for table, held in _file(language).items()
        if table not in TABLES
        for topic in held
        if topic != NONE
    }


def heard(text: str, language: str) -> Heard | None:
    """What a text in a language is about, sentence by sentence; None where nothing is plain."""
    reader = _reader(language)
    if reader is None:
        return None
    for marks in (r"[.!?;\n]+", r"[.!?;,\n]+"):
        parts = [part.strip() for part in re.split(marks, text) if part.strip()] or [text]
        found = {part: reader.topic(part) for part in parts}
        if any(found.values()):
            topics = {one.key: one for one in found.values() if one is not None}
            rest = ". ".join(part for part, one in found.items() if one is None)
            return Heard(tuple(topics.values()), rest)
    whole = reader.topic(text)
    return None if whole is None else Heard((whole,))


def answered_beside(talk: Talk, turn: Turn) -> Turn:
    """The turn of an answer, with the words beside it read for what they ask, wish or say. What is
    left goes to a clinician; a question that still waits is put last."""
    remark = next((one for one in turn.recorded if isinstance(one, Remark)), None)
    found = None if remark is None else heard(remark.text, talk.situation.language)
    if remark is None or found is None:
        return turn
    kinds = topics_of(talk.situation.language)
    wishes = [one.key for one in found.topics if kinds[one.key] == "wish"]
    asked = [one for one in found.topics if kinds[one.key] not in (COURTESY, "wish")]
    alone = replace(talk, state=State())
    told = [WISHES[key](alone) for key in wishes if key in TOLD]
    recorded: list[Recorded] = [one for one in turn.recorded if one is not remark]
    recorded += [*([_asked(asked)] if asked else []), *(one for t in told for one in t.recorded)]
    said = [one for one in turn.said if one.template not in ("passed-on", "ask")]
    said += [one for t in told for one in t.said]
    if found.rest or len(told) < len(wishes):
        recorded.append(remark if wishes else Remark(found.rest))
        said.append(Said("passed-on"))
    last = tuple(one for one in turn.said if one.template == "ask")
    return Turn(turn.state, tuple(recorded), tuple(said), (*last, *turn.said_after))


def topic_turn(talk: Talk) -> Turn | None:
    """The turn of a message that is about a topic; None where it is about none, or answers what
    waits. A question that waits is put again."""
    if not _is_free(talk):
        return None
    language = talk.situation.language
    found = heard(talk.text, language)
    if found is None:
        return None
    kinds = topics_of(language)
    wishes = [one.key for one in found.topics if kinds[one.key] == "wish"]
    if wishes:
        return WISHES[wishes[0]](talk) if wishes[0] in WISHES and not found.rest else None
    asked = [one for one in found.topics if kinds[one.key] != COURTESY]
    if not asked:
        return None if found.rest else _courtesy(talk, found.topics)
    recorded: tuple[Recorded, ...] = (_asked(asked),)
    if found.rest:
        recorded = (*recorded, Unread(found.rest))
    said = (Said("passed-on"),) if found.rest else ()
    waiting = talk.state.waiting
    following = (ask(talk.state, talk.situation, talk.words),) if waiting else ()
    return Turn(talk.state, recorded, said, following)


def courtesy_turn(talk: Talk) -> Turn | None:
    """A human word for a text that is a courtesy and nothing else, whatever waits; else None."""
    found = heard(talk.text, talk.situation.language) if talk.situation.enrolled else None
    if found is None or found.rest:
        return None
    kinds = topics_of(talk.situation.language)
    kind = all(kinds[one.key] == COURTESY for one in found.topics)
    return _courtesy(talk, found.topics) if kind else None


def _is_free(talk: Talk) -> bool:
    """Whether a text may be about a topic: no answer to what waits, and no numbers to be kept."""
    if not talk.situation.enrolled:
        return False
    pieces = tokens(talk.text, talk.words)
    if talk.text.lstrip()[:1].isdecimal() or sum(one.kind == "value" for one in pieces) > 1:
        return False
    waiting = talk.state.waiting
    if not waiting:
        return True
    numbers = any(letter.isdecimal() for letter in talk.text)
    if numbers and "?" not in talk.text:
        return False  # "about a 4, maybe 5" is an answer that was not read, and is asked again.
    group = waiting[0].question.row.group
    if group in _ANY_WORDS or any(one.question is Question.SIGN for one in waiting):
        return False
    if group == "set-off":
        return talk.text.rstrip().endswith("?")
    return not read_answers(talk.text, batch(waiting), talk.words).reads


def _asked(topics: list[Topic]) -> TopicsAsked:
    plain = all(one.odds >= PLAIN_ODDS for one in topics)
    return TopicsAsked(tuple(one.key for one in topics), plain)


def _courtesy(talk: Talk, topics: tuple[Topic, ...]) -> Turn:
    """A human word, and nothing for a clinician; with a question that waits, in one message."""
    said = Said(f"asked/{topics[0].key}")
    recorded = (TopicsAsked((), all(one.odds >= PLAIN_ODDS for one in topics)),)
    if not talk.state.waiting:
        return Turn(talk.state, recorded, (said,))
    again = ask(talk.state, talk.situation, talk.words)
    texts = {"text": render(said, talk.situation), "tip": render(again, talk.situation)}
    return Turn(talk.state, recorded, (Said("with-tip", texts, again.choices),))


def _person(talk: Talk) -> Turn:
    return Turn(talk.state, (PersonAsked(),), (Said("person"),))


def _health_news(about: str, talk: Talk) -> Turn:
    waiting = talk.state.waiting
    following = (ask(talk.state, talk.situation, talk.words),) if waiting else ()
    return Turn(talk.state, (HealthNews(about),), (Said(f"health-news/{about}"), *following))


def _later(talk: Talk) -> Turn:
    return Turn(talk.state, said=(Said("time-how"),))


WISHES: Mapping[str, Callable[[Talk], Turn]] = {
    "person": _person,
    "pregnant": partial(_health_news, "pregnant"),
    "surgery": partial(_health_news, "surgery"),
    "medicine": partial(_health_news, "medicine"),
    "ill": paused,
    "away": paused,
    "later": _later,
}


# Those that a clinician hears of, and that leave the questions as they are.
TOLD = ("person", "pregnant", "surgery", "medicine")


@lru_cache(maxsize=8)
def _reader(language: str) -> TopicReader | None:
    kept = _file(language)
    if not kept:
        return None
    labelled = {
        topic: messages
        for table, held in kept.items()
        if table not in TABLES
        for topic, messages in held.items()
    }
    return TopicReader(
        labelled, kept["things"], kept["same"], kept["never"]["words"], kept["needs"]
    )


def _file(language: str) -> Mapping[str, Any]:
    """The labelled messages of a language; empty where it has none."""
    try:
        return tables(language, "questions")
    except WordingError:
        return {}
