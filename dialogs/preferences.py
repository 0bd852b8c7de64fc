"""What a patient wants of the bot itself: another time, language, channel or time zone, a pause,
the question again, how it is going.

Changes nothing by itself: it records the wish, `bot.patients.apply` keeps it. Read next: `patient`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date
from zoneinfo import ZoneInfo

from dialogs.answering import Talk
from dialogs.asking import ask
from dialogs.catalogues import languages
from dialogs.enrolment import GOAL_LENGTH_MAX
from dialogs.reading import sentence
from dialogs.reading_places import read_place
from dialogs.reading_spans import read_span
from dialogs.reading_times import read_time, read_until
from dialogs.request_words import after_phrase, before_phrase, request_words
from dialogs.turn import Answer, Asked, Question, Recorded, Said, State, Turn, Unread, Value
from dialogs.waiting import signs_of
from dialogs.wishes import (
    ChannelChosen,
    LanguageChosen,
    LeavingAsked,
    MorningTimeChosen,
    PauseAsked,
    ProgressAsked,
    ZoneChosen,
)
from dialogs.words import bare, shipped_words

# Said at the very beginning of a place, it belongs to the sentence and not to the name.
_ARTICLES = ("the ", "la ", "el ")


def wish(talk: Talk) -> Turn | None:
    """What the message wants of the bot, or None where it wants nothing of the kind."""
    language = _language(talk)
    if language is not None:
        return language
    if talk.state.waiting and talk.state.waiting[0].question.row.group == "enrolment":
        return None
    line = bare(talk.text)
    requests = request_words(talk.situation.language)
    asked = COMMANDS.get(requests.commands.get(line, ""))
    if asked is not None:
        return asked(talk)
    settings = _channel(talk) or _time(talk) or _zone(talk)
    return _leave(talk) or _goal(talk) or settings or pause_phrase(talk)


def asks_to_stop(text: str, language: str) -> bool:
    """Whether a whole text is an opt-out, as a keyword or in freer wording."""
    line = bare(text)
    meant = shipped_words(language).commands.get(line) or request_words(language).commands.get(line)
    return meant == "stop"


def holds_opt_out(text: str, language: str) -> bool:
    """Whether a text asks to stop, whatever else it says: as its first or last sentence, before
    its first comma, or with the carriers' word in capitals before it ("STOP my calf is hot")."""
    sentences = [part for part in re.split(r"[.!?;\n]+", text) if bare(part)]
    if not sentences:
        return False
    places = (sentences[0], sentences[-1], sentences[0].partition(",")[0])
    shouted = text.split(maxsplit=1)[0] == "STOP"
    return shouted or any(asks_to_stop(place, language) for place in places)


def beside_leaving(text: str, language: str) -> str:
    """A text without the sentences that wish to stop in plain words; itself where it has none."""
    phrases = request_words(language).commands
    parts = [part for part in re.split(r"[.!?;,\n]+", text) if bare(part)]
    kept = [part.strip() for part in parts if phrases.get(bare(part)) != "leave"]
    return text if len(kept) == len(parts) else ". ".join(kept)


def paused(talk: Talk) -> Turn:
    """A pause with an end, or the question for one. Questions that wait are dropped, signs stay; of
    who is ill only those about a session, and the others go on; without an end, they rest today."""
    today = talk.situation.today
    lists = request_words(talk.situation.language).lists
    span = read_span(talk.text, today, talk.words, lists)
    ill = any(re.search(rf"\b{word}\b", bare(talk.text)) for word in lists["pause.ill"])
    how_long = Said("pause-how-long", {"ill": ill})
    if span is None and not ill:
        return Turn(talk.state, said=(how_long,))
    on, until = span or (today, today)
    begins = on if on > today else None
    told = Said("paused", {"until": until, "on": begins, "ill": ill}) if span else how_long
    if ill:
        waiting = tuple(a for a in talk.state.waiting if a.question.row.group != "session")
        talk = replace(talk, state=replace(talk.state, waiting=waiting))
    if ill or begins:
        unread = (Unread(talk.text),) if sentence(talk.text, talk.words) and not begins else ()
        return _told(talk, (PauseAsked(until, begins, asks=ill), *unread), told)
    kept = signs_of(talk.state.waiting)
    state = replace(talk.state, waiting=kept, held=(), unprompted="", missed=())
    recorded: tuple[Recorded, ...] = (PauseAsked(until),)
    if sentence(talk.text, talk.words):
        recorded = (*recorded, Unread(talk.text))
    return Turn(state, recorded, (told,))


def pause_phrase(talk: Talk) -> Turn | None:
    """ "pause for a week", "holiday till 3 May", "I'm ill until Friday"."""
    line = bare(talk.text)
    requests = request_words(talk.situation.language)
    starts = [w for w, meaning in talk.words.commands.items() if meaning == "pause"]
    rest = after_phrase(line, sorted((*starts, *requests.lists["pause.openings"]), key=len)[::-1])
    if rest is None or (not rest and line not in starts):
        return None
    span = read_span(talk.text, talk.situation.today, talk.words, requests.lists)
    if span is None and (sentence(talk.text, talk.words) or line not in starts):
        # "I am away and my calf is sore" tells more than a pause: it is not swallowed here.
        opened = any(line.startswith(word + " ") for word in starts)
        if not opened or sentence(talk.text, talk.words):
            return None
    waiting = talk.state.waiting
    if waiting and waiting[0].question.row.group == "enrolment":
        return None
    return paused(talk)


def _leave(talk: Talk) -> Turn | None:
    """ "I want to stop": one question says how. What else was written is shown to a clinician."""
    beside = beside_leaving(talk.text, talk.situation.language)
    if beside == talk.text:
        return None
    unread = (Unread(talk.text),) if beside else ()
    return Turn(talk.state, (LeavingAsked(), *unread), (Said("leave"),))


# The question again, and how it is going


def _again(talk: Talk) -> Turn:
    if not talk.state.waiting:
        return Turn(talk.state, said=(Said("nothing-asked"),))
    return Turn(talk.state, said=(ask(talk.state, talk.situation, talk.words),))


def _progress(talk: Talk) -> Turn:
    following = (ask(talk.state, talk.situation, talk.words),) if talk.state.waiting else ()
    return Turn(talk.state, (ProgressAsked(),), said_after=following)


COMMANDS: Mapping[str, Callable[[Talk], Turn]] = {"again": _again, "progress": _progress}


# Language, channel, time, zone


def _language(talk: Talk) -> Turn | None:
    words, line = request_words(talk.situation.language), bare(talk.text)
    line = before_phrase(line, words.lists["time.please"]) or line
    hello = [phrase for phrase, meant in talk.words.commands.items() if meant == "hello"]
    line = after_phrase(line, sorted(hello, key=len, reverse=True)) or line
    rest = after_phrase(line, words.lists["language.openings"])
    code = words.languages.get(line) or words.languages.get(rest or "")
    if code is None or code not in languages():
        return None
    situation = replace(talk.situation, language=code)
    said = [Said("language-changed")]
    if talk.state.waiting:
        said.append(ask(talk.state, situation, shipped_words(code)))
    return Turn(talk.state, (LanguageChosen(code),), tuple(said))


def _channel(talk: Talk) -> Turn | None:
    kind = request_words(talk.situation.language).channels.get(bare(talk.text))
    if kind is None:
        return None
    if kind not in talk.situation.ways:
        return _told(talk, (Unread(talk.text),), Said("channel-unknown", {"kind": kind}))
    return _told(talk, (ChannelChosen(kind),), Said("channel-changed", {"kind": kind}))


def _goal(talk: Talk) -> Turn | None:
    """Another goal, in the patient's own words; without words it is asked for."""
    openings = request_words(talk.situation.language).lists["goal.openings"]
    goal = after_phrase(" ".join(talk.text.split()).lower(), openings)
    if goal is None or talk.text.rstrip().endswith("?"):
        return None
    own = " ".join(talk.text.split())[-len(goal) :].strip(" .!") if goal else ""
    kept = (Answer(Question.GOAL, talk.situation.today, own[:GOAL_LENGTH_MAX]),) if own else ()
    return _told(talk, kept, Said("goal-changed", {"goal": own[:GOAL_LENGTH_MAX]}))


def _time(talk: Talk) -> Turn | None:
    lists = request_words(talk.situation.language).lists
    line = bare(talk.text)
    line = before_phrase(line, lists["time.please"]) or line
    rest = after_phrase(line, lists["time.ask_at"])
    if rest is None:
        return None
    at = read_time(rest, talk.words)
    if at is None:
        return _told(talk, (), Said("time-how"))
    return _told(talk, (MorningTimeChosen(at),), Said("time-changed", {"at": f"{at:%H:%M}"}))


def _zone(talk: Talk) -> Turn | None:
    line = bare(talk.text)
    lists = request_words(talk.situation.language).lists
    if line in lists["zone.home"] and talk.situation.away:
        return _told(talk, (ZoneChosen(""),), Said("zone-home"))
    rest = after_phrase(line, (*lists["zone.moved"], *lists["zone.here"]))
    if rest is None:
        return None
    place, until = _until(talk, rest)
    found = read_place(place, talk.words)
    if found is None:
        return None
    values: dict[str, Value] = {
        "zone": found.zone.rsplit("/", 1)[-1].replace("_", " "),
        "time": f"{talk.situation.now.astimezone(ZoneInfo(found.zone)):%H:%M}",
        "until": until,
    }
    return _told(talk, (ZoneChosen(found.zone, until),), Said("zone-changed", values))


def _until(talk: Talk, rest: str) -> tuple[str, date | None]:
    """The place and, where one is told, the last day there."""
    marks = [p for p, mark in talk.words.time["marks"].items() if mark in ("until", "for")]
    pattern = "|".join(re.escape(str(p)) for p in sorted(marks, key=len, reverse=True))
    found = re.search(rf"^(.+?),? (?:{pattern}) (.+)$", rest)
    if found is None:
        return _place(rest), None
    until = read_until(found[2], talk.situation.today, talk.words)
    return (_place(found[1]), until) if until else (_place(rest), None)


def _place(text: str) -> str:
    for article in _ARTICLES:
        text = text.removeprefix(article)
    return text.removesuffix(" now").strip(" ,")


def _told(talk: Talk, recorded: tuple[Recorded, ...], said: Said) -> Turn:
    """What was wished is said back; a question that waits is put again behind it."""
    state: State = talk.state
    waiting: tuple[Asked, ...] = state.waiting
    following = (ask(state, talk.situation, talk.words),) if waiting else ()
    return Turn(state, recorded, (said, *following))
