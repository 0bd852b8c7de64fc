"""A correction by name: "change morning to 2", "stiffness should be 20", "24 h was 4, sorry".

It replaces one answer of the last three days and says so; an older one goes to the clinician. The
answer before stays on record. Corrections without a name: `correcting`. Read next: `patient`.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from dialogs.answering import Talk, accept
from dialogs.correcting import replaced
from dialogs.late import LATE_DAYS_MAX, named_day
from dialogs.reading import Reading, read_answers
from dialogs.request_words import RequestWords, after_phrase, request_words
from dialogs.turn import Asked, Question, Said, Turn, Unread, Value
from dialogs.words import bare


def amend(talk: Talk) -> Turn | None:
    """A correction that names the answer, or None where the message is not one."""
    requests = request_words(talk.situation.language)
    found = _parts(talk, requests)
    if found is None:
        return None
    question, day, value = found
    about = _about(talk, question, day)
    if about is None:
        return _answers_now(talk, question, value)
    if about < talk.situation.today - timedelta(days=LATE_DAYS_MAX):
        return Turn(talk.state, (Unread(talk.text),), (Said("amend-too-old"),))
    asked = Asked(question, about)
    reading = read_answers(value, (asked,), talk.words)
    if reading.problem or len(reading.reads) != 1:
        return _how(talk, question)
    return replaced(talk, reading)


def _parts(talk: Talk, requests: RequestWords) -> tuple[Question, date | None, str] | None:
    """The answer that is named, the day where one is, and the text of the value."""
    line = bare(talk.text)
    rest, opened = line, False
    while (shorter := after_phrase(rest, requests.lists["amend.openings"])) is not None:
        # "oops, change ..." has two of them.
        rest, opened = shorter, True
    rest, day = _day_taken(talk, rest)
    named = _named(rest, requests)
    if named is None:
        return None
    question, rest = named
    if day is None:
        rest, day = _day_taken(talk, rest)
    strong = after_phrase(rest, requests.lists["amend.strong"])
    if strong is None and not opened:
        return None
    if strong is None:
        strong = after_phrase(rest, requests.lists["amend.links"])
    value = rest if strong is None else strong
    return question, day, value


def _named(rest: str, requests: RequestWords) -> tuple[Question, str] | None:
    """The answer whose name the rest begins with, the longest name first, and what follows it."""
    found = [
        (len(following), code, following)
        for article in ("", *requests.lists["amend.articles"])
        for phrase, code in requests.answers.items()
        if (following := after_phrase(rest, (f"{article} {phrase}".strip(),))) is not None
    ]
    if not found:
        return None
    _, code, following = min(found)
    return Question(code), following


def _day_taken(talk: Talk, rest: str) -> tuple[str, date | None]:
    """The rest without the day it begins with. A day at its end may be part of anything else."""
    requests = request_words(talk.situation.language)
    pieces = rest.split()
    if not pieces:
        return rest, None
    shorter = after_phrase(rest, tuple(requests.days))
    if shorter is not None:
        found = named_day(talk, rest)
        return shorter, None if found is None else found[0]
    weekday = pieces[0].removesuffix("'s")
    if weekday not in talk.words.time["weekdays"]:
        return rest, None
    found = named_day(talk, " ".join((weekday, *pieces[1:])))
    return " ".join(pieces[1:]), None if found is None else found[0]


def _about(talk: Talk, question: Question, day: date | None) -> date | None:
    """The date of the answer that is meant, None where there is none on record."""
    dates = [a.about for a in talk.situation.answered if a.question is question]
    if day is None:
        return max(dates, default=None)
    about = day - timedelta(days=question.row.days_after)
    too_old = about < talk.situation.today - timedelta(days=LATE_DAYS_MAX)
    return about if about in dates or too_old else None


def _answers_now(talk: Talk, question: Question, value: str) -> Turn:
    """There is no such answer yet: it is one now if the question waits, else we say so."""
    waiting = next((a for a in talk.state.waiting if a.question is question), None)
    if waiting is None:
        return Turn(talk.state, said=(Said("amend-none", {"question": question.value}),))
    reading = read_answers(value, (replace(waiting, tries=0),), talk.words)
    if reading.problem or len(reading.reads) != 1:
        return _how(talk, question)
    return accept(talk, Reading(reading.reads))


def _how(talk: Talk, question: Question) -> Turn:
    values: dict[str, Value] = {
        "question": question.value,
        "example": question.row.example,
        "lowest": question.row.lowest,
        "highest": question.row.highest,
    }
    return Turn(talk.state, said=(Said("amend-how", values),))
