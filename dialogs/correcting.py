"""A correction straight after an answer: "sorry, 5", "3 not 2", "*3 10", or an edited message.

It replaces the answers that the message before gave, and says so. Where it cannot tell which of
them is meant, it asks. Read next: `patient`.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import lru_cache

from dialogs.answering import Talk, completed, followed
from dialogs.asking import ask
from dialogs.questions import Kind
from dialogs.reading import Read, Reading, read_answers
from dialogs.sheet import read_sheet
from dialogs.tokens import tokens
from dialogs.turn import Answer, Asked, Completed, Said, Turn, Unread
from dialogs.waiting import batch
from dialogs.words import Words, plain

_MARKS = " ,.:;!-*"


def correction(talk: Talk) -> Turn | None:
    """A correction of the answers before, or None where the message is not one."""
    last = talk.state.last
    if not last:
        return None
    line = plain(talk.text)
    swapped = _swapped(talk, line)
    if swapped is not None:
        return replaced(talk, Reading((swapped,)))
    rest = _said_anew(talk, line)
    if rest is None:
        return None
    sheet = read_sheet(rest, last[0].about, talk.words) if last[0].question.row.item else None
    if sheet is not None:
        return replaced(talk, sheet)
    reading = read_answers(rest, _fresh(last), talk.words)
    if reading.problem or reading.rest or not reading.reads or _answers_now(talk, reading):
        return None
    if len(reading.reads) < len(last) and not _says_which(talk, rest):
        meant = _meant(reading.reads, last)
        if not meant:
            example = " ".join(asked.question.row.example for asked in last)
            return Turn(talk.state, said=(Said("correct-which", {"example": example}),))
        reading = read_answers(rest, _fresh(meant), talk.words)
    return None if reading.problem else replaced(talk, reading)


def reread(talk: Talk, asked: tuple[Asked, ...]) -> Turn:
    """An edited message, read again for the questions it answered."""
    reading = read_answers(talk.text, _fresh(asked), talk.words)
    if reading.problem or not reading.reads:
        return Turn(talk.state, (Unread(talk.text),), (Said("passed-on"),))
    return replaced(talk, reading)


def _fresh(asked: tuple[Asked, ...]) -> tuple[Asked, ...]:
    return tuple(replace(question, tries=0) for question in asked)


def _answers_now(talk: Talk, reading: Reading) -> bool:
    """Whether an excuse stands beside numbers for all that waits: "sorry, forgot! 3 10"."""
    waiting = batch(talk.state.waiting)
    polite = reading.friendly or plain(talk.text)[:1].isdecimal()
    if not waiting or not polite:
        return False
    now = read_answers(talk.text, waiting, talk.words)
    return len(now.reads) == len(waiting) and not now.problem


def _said_anew(talk: Talk, line: str) -> str | None:
    """What stands beside the words or the mark of a correction; a name and its number say enough
    where nothing waits. None where the message is no correction."""
    rest = line.strip(_MARKS)
    marked = line.startswith("*") or line.endswith("*")
    starts = talk.words.corrections
    while start := next((word for word in starts if _starts(rest, word)), ""):
        if start == "no" and _no_may_answer(talk):
            break
        marked, rest = True, rest[len(start) :].strip(_MARKS)
    end = next((w for w in talk.words.corrections if w != "no" and rest.endswith(f" {w}")), None)
    if end is not None:
        marked, rest = True, rest[: -len(end)].strip(_MARKS)
    middle = next((w for w in talk.words.corrections if " " in w and f" {w} " in rest), None)
    if middle is not None:
        marked, rest = True, rest.replace(f" {middle} ", " ")
    named = not talk.state.waiting and _says_which(talk, rest, besides=("pain", "worst"))
    return rest if marked or named else None


def _starts(line: str, word: str) -> bool:
    return line.startswith(word) and line[len(word) : len(word) + 1] in tuple(" ,.:!")


def _swapped(talk: Talk, line: str) -> Read | None:
    """ "3 not 2": the answer that was the old number, with the new one; None where no answer before
    was that number, or more than one."""
    for pattern in _swaps(talk.words):
        found = pattern.search(line)
        if found is None:
            continue
        values = {(one.question, one.about): one.value for one in talk.situation.answered}
        were = [
            one
            for one in talk.state.last
            if values.get((one.question, one.about)) == int(found["old"])
        ]
        if len(were) > 1:
            named = read_answers(line[: found.start("old")], _fresh(tuple(were)), talk.words)
            were = [read.asked for read in named.reads]
        if len(were) == 1:
            reading = read_answers(found["new"], (replace(were[0], tries=0),), talk.words)
            return reading.reads[0] if reading.reads and not reading.problem else None
    return None


@lru_cache(maxsize=8)
def _swaps(words: Words) -> tuple[re.Pattern[str], ...]:
    """The ways to say "this, not that", as patterns with `new` and `old`."""

    def number(name: str) -> str:
        return rf"(?<![\d.])(?P<{name}>\d{{1,3}})(?![\d.])(?: [a-z]+)?"

    return tuple(
        re.compile(re.escape(way).replace(r"\{new\}", number("new"))
                   .replace(r"\{old\}", number("old")).replace(r"\ ", "[ ,]+"))
        for way in words.swaps
    )  # fmt: skip


def _meant(reads: tuple[Read, ...], last: tuple[Asked, ...]) -> tuple[Asked, ...]:
    """The answers that bare numbers can replace: of one up to 10 that on a scale, else the other;
    of several those of the first group, where they are as many. Empty where it may be others."""
    group = last[0].question.row.group
    first = tuple(one for one in last if one.question.row.group == group)
    if len(reads) > 1:
        return first if len(first) == len(reads) else ()
    value = reads[0].value
    kinds = (Kind.SCALE,) if isinstance(value, int) and value <= 10 else (Kind.MINUTES, Kind.COUNT)
    fitting = tuple(one for one in last if one.question.row.kind in kinds)
    return fitting if len(fitting) == 1 and isinstance(value, int) else ()


def _says_which(talk: Talk, rest: str, besides: tuple[str, ...] = ()) -> bool:
    """Whether a label or a unit tells which of several answers is meant; `besides` name none."""
    pieces = tokens(rest, talk.words)
    telling = any(
        piece.kind in ("label", "yes", "no") or piece.unit in ("minutes", "points", "count")
        for piece in pieces
        if not (piece.kind == "label" and piece.unit in besides)
    )
    if besides:
        telling = telling and any(piece.kind == "label" for piece in pieces)
    return telling and any(piece.kind in ("value", "yes", "no") for piece in pieces)


def _no_may_answer(talk: Talk) -> bool:
    """Whether "no" may be the answer to something asked now: then "no, 4" is no correction."""
    kinds = {a.question.row.kind for a in batch(talk.state.waiting)}
    return bool(kinds & {Kind.YES_NO, Kind.SETS})


def replaced(talk: Talk, reading: Reading) -> Turn:
    """Answers in place of earlier ones, said back; what waits is asked again."""
    reads = reading.reads
    answers = tuple(Answer(r.asked.question, r.asked.about, r.value, corrects=True) for r in reads)
    waiting = followed(reads, talk.state.waiting)
    done: list[Completed] = []
    held = talk.state.held
    sheet = bool(reads[0].asked.question.row.item)
    if waiting != talk.state.waiting or sheet:
        done, held = completed(talk.state, waiting, reads)
    state = replace(talk.state, waiting=waiting, last=tuple(r.asked for r in reads), held=held)
    following = (ask(state, talk.situation, talk.words),) if waiting else ()
    # Of a whole sheet the new total is said, not each item.
    said = () if sheet and len(reads) > 1 else tuple(changed(r.asked, r.value) for r in reads)
    return Turn(state, (*answers, *done), said, following)


def changed(asked: Asked, value: int | str) -> Said:
    """What an answer is now, said back."""
    kind = asked.question.row.kind
    return Said(
        "corrected",
        {
            "question": asked.question.value,
            "value": value,
            "minutes": kind is Kind.MINUTES,
            "yes_no": kind is Kind.YES_NO,
        },
    )
