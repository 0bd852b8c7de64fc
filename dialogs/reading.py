"""Reads a typed reply: which of the questions that wait it answers, and with what.

Never guesses: what may mean two things is not read, and the patient is asked. What was rounded,
or taken from a range, carries a note so that it can be said back. Never raises.
Read next: `tokens` (the pieces), `reading_times`, `reading_places`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

from dialogs.numbering import numbered
from dialogs.placing import ALSO, Placed, no_is_zero, place
from dialogs.questions import PAINS, Kind
from dialogs.reading_items import item_points
from dialogs.reading_places import read_place
from dialogs.reading_times import read_time
from dialogs.tokens import ANSWER_LENGTH_MAX, Token, tokens
from dialogs.turn import Asked, Question
from dialogs.waiting import TRIES_BEFORE_CHOICES
from dialogs.words import Words, bare, plain

UNCLEAR = "unclear"
OUT_OF_RANGE = "out-of-range"
TOO_MANY = "too-many"

# Kinds whose answers are numbers, of which one reply can hold several.
NUMBERED = frozenset({Kind.SCALE, Kind.MINUTES, Kind.SETS, Kind.COUNT, Kind.POINTS})

_MARKS = " ,;.:-\n"

# Pieces that are no part of an answer.
WORDS = ("word", "past", "clock")

# "2,5" may be two answers; only where there are too many it is one.
_DECIMAL_COMMA = re.compile(r"(\d),5(?!\d)")

# A range wider than this on a 0-10 scale is two answers or a slip, not one pain. Convention.
RANGE_WIDTH_MAX = 2

# Lettered choices for minutes, where numbers would be read as minutes. Convention.
LETTERED_MINUTES = {"a": 0, "b": 5, "c": 15, "d": 30, "e": 60}


@dataclass(frozen=True)
class Read:
    """One answer. `note`: "" as written, "rounded" up, or "higher" end of a range taken."""

    asked: Asked
    value: int | str
    note: str = ""


@dataclass(frozen=True)
class Reading:
    """What a text answers.

    `problem`: "" where nothing is wrong, else "unclear", "out-of-range" or "too-many"; `at` the
    question it is about. `rest`: words beside the answer, for the clinician to see. `friendly`:
    it has words that tell nothing. `guessed`: what the numbers are about, and to be read back.
    """

    reads: tuple[Read, ...] = ()
    rest: str = ""
    problem: str = ""
    at: Asked | None = None
    friendly: bool = False
    guessed: bool = False


def read_answers(text: str, asked: tuple[Asked, ...], words: Words) -> Reading:
    """What `text` answers of the questions put in one message, in their order.

    Answers before the first that cannot be used are kept; the rest is asked again. Of the items of
    a sheet all that can be used are kept, and the others are asked again.
    """
    if not asked:
        return Reading(problem=UNCLEAR)
    if asked[0].tries >= TRIES_BEFORE_CHOICES:
        offered = _offered(text, asked[0])
        if offered is not None:
            return Reading((Read(asked[0], offered),))
    kind = asked[0].question.row.kind
    if len(asked) == 1 and kind not in NUMBERED:
        return _one_word(text, asked[0], kind, words)
    return _numbers(text, asked, words)


def command(text: str, words: Words) -> str:
    """The keyword that the whole message is, or "" where it is none."""
    return words.commands.get(bare(text), "")


# Words that cannot be placed, from which a text says something beyond an answer. Convention.
SENTENCE_WORDS = 4


def sentence(text: str, words: Words, least: int = SENTENCE_WORDS) -> bool:
    """Whether a text says more than an answer: `least` words or more that we cannot place."""
    if len(text) > ANSWER_LENGTH_MAX:
        return True
    unplaced = sum(token.kind == "word" and token.text.isalpha() for token in tokens(text, words))
    return unplaced >= least


# One answer in words


def _one_word(text: str, asked: Asked, kind: Kind, words: Words) -> Reading:
    if kind is Kind.YES_NO:
        return _yes_no(text, asked, words)
    value: str | None
    if kind is Kind.SIDE:
        meaning = words.answers.get(bare(text), "")
        value = meaning if meaning in ("left", "right", "both") else None
    elif kind is Kind.TIME:
        clock = read_time(text, words)
        value = clock.strftime("%H:%M") if clock else None
    elif kind is Kind.PLACE:
        place = read_place(text, words)
        value = place.zone if place else None
    else:
        value = words.topics.get(bare(text))
    if value is None:
        return Reading(problem=UNCLEAR, at=asked)
    return Reading((Read(asked, value),))


def _yes_no(text: str, asked: Asked, words: Words) -> Reading:
    meaning = words.answers.get(bare(text), "")
    if meaning == "none":
        meaning = "no"
    careful = asked.question in (Question.SIGN, Question.CONSENT)
    if asked.question is Question.CONSENT and "?" in text:
        meaning = "unsure"
    if meaning == "unsure" and asked.question is Question.SIGN:
        # Where the patient cannot tell, a person must: over-called rather than missed.
        meaning = "yes"
    if meaning in ("yes", "no"):
        return Reading((Read(asked, int(meaning == "yes")),))
    head, rest = _head(text, words)
    tablets = None if head or careful else place(tokens(text, words), (asked,))
    if tablets:
        return _usable(tablets, "")
    if asked.question is Question.CONSENT or head not in ("yes", "no"):
        return Reading(problem=UNCLEAR, at=asked)
    if head == "no" and careful:
        return Reading(problem=UNCLEAR, at=asked)
    return Reading((Read(asked, int(head == "yes")),), rest=rest)


def _head(text: str, words: Words) -> tuple[str, str]:
    """The yes or no that a text starts with, and the text where it says more; "" where neither.

    A yes may be followed by anything that is no doubt about it, a no only after a pause:
    "no idea" and "no longer" are not a no.
    """
    pieces = tokens(text, words)
    if not pieces or pieces[0].kind not in ("yes", "no"):
        return "", ""
    after = pieces[1:]
    while after and after[0].kind == pieces[0].kind:
        # "no, didn't need any"
        after = after[1:]
    if any(piece.kind in ("yes", "no", "unsure") for piece in after):
        return "", ""
    if pieces[0].kind == "yes":
        return "yes", text.strip() if after else ""
    paused = not after or after[0].kind in ("sep", "link")
    if not paused or any(piece.kind == "value" for piece in after):
        return "", ""
    return "no", text.strip()


# Numbers

# Asked in one message, a bare "no" is read as the answer to both, and read back.
NO_TO_BOTH = (Question.PAINKILLER, Question.ACTIVITY_MINUTES)


def _numbers(text: str, asked: tuple[Asked, ...], words: Words) -> Reading:
    first = asked[0]
    meaning = words.answers.get(bare(text), "")
    if meaning == "neither":
        return Reading(tuple(Read(one, 0) for one in asked))
    if meaning == "no" and no_is_zero(first.question):
        return Reading((Read(first, 0),))
    alone = first.tries >= TRIES_BEFORE_CHOICES
    if meaning == "no" and not alone and all(one.question in NO_TO_BOTH for one in asked):
        return Reading(tuple(Read(one, 0) for one in asked), guessed=True)
    items = item_points(text, asked) if first.question.row.kind is Kind.POINTS else None
    if items is not None:
        return _usable(items, "")
    parts = numbered(text, len(asked))
    if parts is not None:
        return _by_number(parts, asked, words)
    reading = _sentence(text, asked, words)
    if reading.problem == TOO_MANY and _DECIMAL_COMMA.search(text):
        return _sentence(_DECIMAL_COMMA.sub(r"\1.5", text), asked, words)
    return reading


def _sentence(text: str, asked: tuple[Asked, ...], words: Words) -> Reading:
    pieces = _own(tokens(text, words), asked)
    plainly = tuple(piece for piece in pieces if piece.kind != "friendly")
    parted = _parted(plainly, plain(text, accents=True), asked)
    if parted.placed is None:
        values = sum(piece.kind == "value" for piece in pieces)
        worded = any(piece.kind in WORDS for piece in pieces)
        many = values > len(asked) and not worded
        return Reading(problem=TOO_MANY if many else UNCLEAR, at=asked[0])
    polite = _polite(parted.rest, words)
    reading = _usable(parted.placed, "" if polite else parted.rest)
    friendly = len(plainly) < len(pieces) or (polite and bool(parted.rest))
    return replace(reading, friendly=friendly, guessed=parted.guessed)


def _polite(rest: str, words: Words) -> bool:
    """Whether words beside an answer tell nothing: thanks, an excuse."""
    pieces = tokens(rest, words)
    return command(rest, words) in ("thanks", "hello") or all(
        piece.kind in ("friendly", "sep", "and") for piece in pieces
    )


def _own(pieces: tuple[Token, ...], asked: tuple[Asked, ...]) -> tuple[Token, ...]:
    """The pieces, with names of what is not asked as words: their numbers are no answers."""
    labels = {one.question.row.label for one in asked}
    labels |= {name for name, also in ALSO.items() if labels & set(also)}
    pains = {"pain", "worst"} if any(one.question in PAINS for one in asked) else set()
    return tuple(
        replace(piece, kind="word")
        if piece.kind == "label" and piece.unit not in labels | pains
        else piece
        for piece in pieces
    )


def _by_number(parts: Mapping[int, str], asked: tuple[Asked, ...], words: Words) -> Reading:
    """A reply in the bot's own numbering: each part is read for its own question."""
    reads: list[Read] = []
    for place_in_list, part in sorted(parts.items()):
        one = read_answers(part, (asked[place_in_list],), words)
        if one.problem or one.rest:
            return Reading(tuple(reads), problem=one.problem or UNCLEAR, at=asked[place_in_list])
        reads += one.reads
    return Reading(tuple(reads))


def _usable(placed: list[tuple[Asked, Token]], rest: str) -> Reading:
    """The answers that can be used, and what is wrong with the first that cannot."""
    reads: list[Read] = []
    wrong: list[tuple[str, Asked]] = []
    for question, piece in placed:
        read = _value(piece, question)
        if isinstance(read, str):
            wrong.append((read, question))
        elif not wrong or question.question.row.kind is Kind.POINTS:
            reads.append(read)
    problem, at = wrong[0] if wrong else ("", None)
    return Reading(tuple(reads), rest=rest, problem=problem, at=at)


@dataclass(frozen=True)
class _Parted:
    """The numbers that answer, each with its question, and the words beside them. `guessed`: the
    words stand before them, so what they are about was guessed."""

    placed: Placed | None = None
    rest: str = ""
    guessed: bool = False


def _parted(pieces: tuple[Token, ...], text: str, asked: tuple[Asked, ...]) -> _Parted:
    """What answers and what tells. Nothing where the two cannot be parted.

    "3 10 but the calf is sore" answers and then tells; "is it fine to swim? 3 10" tells and then
    answers; "my 2 children" answers nothing.
    """
    told = next((n for n, piece in enumerate(pieces) if piece.kind in WORDS), None)
    if told is None:
        return _Parted(place(pieces, asked))
    lead = _lead(pieces, told)
    # "3 10 I did 2 hours of gardening": the hours belong to what is told.
    shorter = lead - 1 if lead and pieces[lead - 1].unit == "minutes" else 0
    for cut in (lead, shorter):
        placed = place(pieces[:cut], asked)
        if placed and pieces[told].kind == "word" and _ends_at(cut, pieces, len(placed), asked):
            end = max(piece.end for _question, piece in placed)
            return _Parted(placed, text[end:].strip(_MARKS))
    return _told_first(pieces, text, asked)


def _ends_at(cut: int, pieces: tuple[Token, ...], count: int, asked: tuple[Asked, ...]) -> bool:
    """Whether an answer of `count` values ends at a cut: all is answered, or no number stands
    behind it; one number alone needs a break there."""
    breaks = ("sep", "link")
    parted = pieces[cut - 1].kind in breaks or pieces[cut].kind in breaks
    if count == len(asked):
        return parted or len(asked) > 1
    return (parted or count > 1) and not any(
        piece.kind in ("value", "all") for piece in pieces[cut:]
    )


def _told_first(pieces: tuple[Token, ...], text: str, asked: tuple[Asked, ...]) -> _Parted:
    """Words without a number, and then all that was asked."""
    last = max(n for n, piece in enumerate(pieces) if piece.kind in WORDS)
    before, tail = pieces[: last + 1], pieces[last + 1 :]
    # A name of what is not asked takes the number right behind it.
    named = before[-1].unit and tail and tail[0].kind not in ("sep", "link")
    if named or any(piece.kind in ("value", "clock", "past") for piece in before):
        return _Parted()
    placed = place(tail, asked)
    told = text[: tail[0].at].strip(_MARKS) if tail else ""
    # A minus sign or a stray letter tells nothing: "-3", "n0".
    if placed is None or len(placed) < len(asked) or not re.search(r"[^\W\d_]{2}", told):
        return _Parted()
    return _Parted(placed, told, guessed=True)


def _lead(pieces: tuple[Token, ...], word: int) -> int:
    """How many pieces stand before what is told: up to the first word, or to the break before it
    where the words begin there."""
    lead = word
    while lead and pieces[lead - 1].kind in ("unsure", "label", "and", "yes", "no"):
        lead -= 1
    breaks = [n for n in range(word) if pieces[n].kind in ("sep", "link")]
    if lead and pieces[lead - 1].kind == "value" and breaks and word - lead > 1:
        return breaks[-1]
    return lead


def _value(piece: Token, asked: Asked) -> Read | str:
    """The answer that a piece gives to a question, or the name of what is wrong with it."""
    fact = asked.question.row
    if piece.kind == "all":
        return Read(asked, asked.out_of) if asked.out_of else UNCLEAR
    if piece.kind in ("yes", "no", "none"):
        if fact.kind is Kind.YES_NO:
            return Read(asked, int(piece.kind == "yes"))
        unclear = piece.kind == "yes" or fact.kind is Kind.POINTS
        return UNCLEAR if unclear else Read(asked, 0)
    problem = _fraction_problem(piece, asked)
    if problem:
        return problem
    value = math.ceil(piece.high)
    if not fact.lowest <= value <= fact.highest or (fact.allowed and value not in fact.allowed):
        return OUT_OF_RANGE
    wide = fact.kind is Kind.SCALE and piece.high - piece.low > RANGE_WIDTH_MAX
    ranged = piece.low != piece.high
    exact = fact.kind in (Kind.SETS, Kind.COUNT, Kind.POINTS)
    if (wide and not piece.text.startswith("under")) or (exact and (ranged or value != piece.high)):
        return UNCLEAR
    note = "higher" if ranged else "rounded" if value != piece.high else ""
    return Read(asked, value, note)


def _fraction_problem(piece: Token, asked: Asked) -> str:
    """What is wrong with "3/10" as an answer: a 0-10 scale is out of 10, sets out of theirs."""
    if piece.out_of is None:
        return ""
    kind = asked.question.row.kind
    if kind in (Kind.SCALE, Kind.POINTS) and piece.out_of == asked.question.row.highest:
        return ""
    whole = asked.out_of or piece.out_of
    if kind is Kind.SETS and piece.out_of == whole and piece.high <= whole:
        return ""
    return UNCLEAR


# Choices that were offered after a second try


def _offered(text: str, asked: Asked) -> int | None:
    fact = asked.question.row
    word = bare(text)
    if fact.kind is Kind.MINUTES:
        return LETTERED_MINUTES.get(word)
    if fact.kind is Kind.YES_NO:
        return {"1": 1, "2": 0}.get(word)
    return None
