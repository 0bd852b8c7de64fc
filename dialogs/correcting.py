"""A correction straight after an answer: "sorry, 5", "oops 3 10", or an edited message.

It replaces the answers that the message before gave, and says so. Where it cannot tell which of
them is meant, it asks. Read next: `patient`.
"""

from __future__ import annotations

from dataclasses import replace

from dialogs.answering import Talk, completed, followed
from dialogs.asking import ask
from dialogs.questions import Kind
from dialogs.reading import Reading, read_answers
from dialogs.sheet import read_sheet
from dialogs.tokens import tokens
from dialogs.turn import Answer, Asked, Completed, Said, Turn, Unread
from dialogs.waiting import batch
from dialogs.words import plain


def correction(talk: Talk) -> Turn | None:
    """A correction of the answers before, or None where the message is not one."""
    last, line = talk.state.last, plain(talk.text)
    start = next((w for w in talk.words.corrections if _starts(line, w)), None)
    if not last or start is None or (start == "no" and _no_may_answer(talk)):
        return None
    rest = line[len(start) :].strip(" ,.:;!-")
    sheet = read_sheet(rest, last[0].about, talk.words) if last[0].question.row.item else None
    if sheet is not None:
        return replaced(talk, sheet)
    reading = read_answers(rest, _fresh(last), talk.words)
    if reading.problem or reading.rest or not reading.reads:
        return None
    if len(reading.reads) < len(last) and not _says_which(talk, rest):
        example = " ".join(asked.question.row.example for asked in last)
        return Turn(talk.state, said=(Said("correct-which", {"example": example}),))
    return replaced(talk, reading)


def reread(talk: Talk, asked: tuple[Asked, ...]) -> Turn:
    """An edited message, read again for the questions it answered."""
    reading = read_answers(talk.text, _fresh(asked), talk.words)
    if reading.problem or not reading.reads:
        return Turn(talk.state, (Unread(talk.text),), (Said("passed-on"),))
    return replaced(talk, reading)


def _fresh(asked: tuple[Asked, ...]) -> tuple[Asked, ...]:
    return tuple(replace(question, tries=0) for question in asked)


def _starts(line: str, word: str) -> bool:
    return line.startswith(word) and line[len(word) : len(word) + 1] in (" ", ",", ".", ":", "!")


def _says_which(talk: Talk, rest: str) -> bool:
    """Whether a label or a unit tells which of several answers is meant."""
    return any(
        piece.kind == "label" or piece.unit in ("minutes", "points")
        for piece in tokens(rest, talk.words)
    )


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
