"""Reads a typed reply: which of the questions that wait it answers, and with what.

Never guesses: what may mean two things is not read, and the patient is asked. What was rounded,
or taken from a range, carries a note so that it can be said back. Never raises.
Read next: `tokens` (the pieces), `reading_times`, `reading_places`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from dialogs.questions import Kind
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
    question it is about. `rest`: words beside the answer, for the clinician to see.
    """

    reads: tuple[Read, ...] = ()
    rest: str = ""
    problem: str = ""
    at: Asked | None = None


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
    if any(piece.kind in ("yes", "no", "unsure") for piece in after):
        return "", ""
    if pieces[0].kind == "yes":
        return "yes", text.strip() if after else ""
    paused = bool(after) and after[0].kind in ("sep", "link")
    if not paused or any(piece.kind == "value" for piece in after):
        return "", ""
    return "no", text.strip()


# Numbers


def _numbers(text: str, asked: tuple[Asked, ...], words: Words) -> Reading:
    first = asked[0]
    meaning = words.answers.get(bare(text), "")
    if meaning == "no" and _no_is_zero(first.question):
        return Reading((Read(first, 0),))
    items = item_points(text, asked) if first.question.row.kind is Kind.POINTS else None
    if items is not None:
        return _usable(items, "")
    pieces, rest = _answering_part(tokens(text, words), plain(text, accents=True))
    if pieces is None:
        return Reading(problem=UNCLEAR, at=first)
    placed = _placed(pieces, asked)
    if placed is None:
        values = sum(piece.kind == "value" for piece in pieces)
        return Reading(problem=TOO_MANY if values > len(asked) else UNCLEAR, at=first)
    return _usable(placed, rest)


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


def _answering_part(pieces: tuple[Token, ...], text: str) -> tuple[tuple[Token, ...] | None, str]:
    """The pieces that answer, and the words after them. None where the two cannot be parted.

    "3 10 but the calf is sore" answers and then tells; "my 2 children" answers nothing.
    """
    word = next((n for n, piece in enumerate(pieces) if piece.kind == "word"), None)
    if word is None:
        return pieces, ""
    breaks = [n for n in range(word) if pieces[n].kind in ("sep", "link")]
    if not breaks:
        return None, ""
    cut = breaks[-1]
    if pieces[cut + 1].kind in ("yes", "no"):
        # "4, yes ibuprofen": the yes answers, what follows tells.
        cut += 2
    lead, tail = pieces[:cut], pieces[cut:]
    said = [piece for piece in tail if piece.kind not in ("sep", "link")]
    if said and said[0].text[:1].isdecimal():
        # "2, 72, 7x" is a slip of the finger, not an answer with words after it.
        return None, ""
    if not any(piece.kind in ("value", "all", "none", "yes", "no") for piece in lead):
        return None, ""
    if any(piece.kind in ("value", "all") for piece in tail):
        return None, ""
    return lead, text[tail[0].at :].strip(" ,;.:-\n")


def _placed(
    pieces: tuple[Token, ...], asked: tuple[Asked, ...]
) -> list[tuple[Asked, Token]] | None:
    """Which piece answers which question; None where that cannot be told."""
    values = [p for p in pieces if p.kind in ("value", "all", "none", "yes", "no")]
    labels = [p for p in pieces if p.kind == "label"]
    if any(p.kind in ("under", "over", "range", "out_of", "word") for p in pieces):
        return None
    if not values or len(values) > len(asked):
        return None
    if labels:
        named = _named(pieces, asked)
        if named is not None or (len(asked) > 1 and not _all_units(values, asked)):
            return named
        if len(asked) == 1 and not _label_fits(labels, asked[0]):
            return None
    return _in_order(values, asked)


def _label_fits(labels: list[Token], asked: Asked) -> bool:
    fact = asked.question.row
    pains = fact.kind is Kind.SCALE and fact.label != "effort"
    return all(p.unit == fact.label or (pains and p.unit in ("pain", "worst")) for p in labels)


def _all_units(values: list[Token], asked: tuple[Asked, ...]) -> bool:
    """Whether units alone tell which value belongs where."""
    timed = [value for value in values if value.unit == "minutes"]
    questions = [a for a in asked if a.question.row.kind is Kind.MINUTES]
    return len(timed) == len(questions) == 1 and len(values) - 1 == len(asked) - 1 == 1


def _named(pieces: tuple[Token, ...], asked: tuple[Asked, ...]) -> list[tuple[Asked, Token]] | None:
    """Values with a label each, label first or value first throughout; None otherwise."""
    line = [p for p in pieces if p.kind not in ("sep", "and", "link", "unsure")]
    if len(line) % 2:
        return None
    pairs = list(zip(line[::2], line[1::2], strict=True))
    if all(a.kind == "label" and b.kind != "label" for a, b in pairs):
        pairs = [(b, a) for a, b in pairs]
    elif not all(a.kind != "label" and b.kind == "label" for a, b in pairs):
        return None
    placed: list[tuple[Asked, Token]] = []
    for value, label in pairs:
        meant = [a for a in asked if a.question.row.label == label.unit]
        if len(meant) != 1 or any(meant[0] is question for question, _ in placed):
            return None
        placed.append((meant[0], value))
    order = {question.key: n for n, question in enumerate(asked)}
    return sorted(placed, key=lambda pair: order[pair[0].key])


def _in_order(values: list[Token], asked: tuple[Asked, ...]) -> list[tuple[Asked, Token]] | None:
    """Values with a unit, and yes and no, to the questions that take them; the others in turn."""
    left = list(asked)
    placed: list[tuple[Asked, Token]] = []
    plain_values: list[Token] = []
    for value in values:
        kind = _needs(value, left)
        if kind is None:
            plain_values.append(value)
            continue
        fitting = [a for a in left if a.question.row.kind is kind]
        if not fitting:
            return None
        placed.append((fitting[0], value))
        left.remove(fitting[0])
    takers = [a for a in left if a.question.row.kind is not Kind.YES_NO]
    if len(plain_values) > len(takers):
        return None
    placed += zip(takers, plain_values, strict=False)
    order = {question.key: n for n, question in enumerate(asked)}
    return sorted(placed, key=lambda pair: order[pair[0].key])


def _needs(value: Token, left: list[Asked]) -> Kind | None:
    """The kind of question that alone can take this value, or None where several can."""
    if value.kind == "value":
        kinds = {"minutes": Kind.MINUTES, "points": Kind.SCALE}
        return kinds.get(value.unit)
    if value.kind == "all":
        return Kind.SETS
    if value.kind in ("yes", "no"):
        takes_no = value.kind == "no" and left and _no_is_zero(left[0].question)
        return left[0].question.row.kind if takes_no else Kind.YES_NO
    return None


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


def _no_is_zero(question: Question) -> bool:
    """Whether a bare "no" is a number here: no sets, no other activity."""
    return question in (Question.SETS_DONE, Question.ACTIVITY_MINUTES)


# Choices that were offered after a second try


def _offered(text: str, asked: Asked) -> int | None:
    fact = asked.question.row
    word = bare(text)
    if fact.kind is Kind.MINUTES:
        return LETTERED_MINUTES.get(word)
    if fact.kind is Kind.YES_NO:
        return {"1": 1, "2": 0}.get(word)
    return None
