"""Cuts a message into numbers, answers, labels and the words between. Judges nothing.

It knows no question: which number answers what is `reading`'s business. Read next: `reading`.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from dialogs.words import Words, plain


@dataclass(frozen=True)
class Token:
    """A piece of a message.

    `kind`: "value", "yes", "no", "all", "none", "unsure", "label", "filler", "friendly", "link",
    "and", "sep", "range", "between", "out_of", "under", "over", "clock" (the number after it is a
    time or a place), "past" (of another day) or "word" (anything else). A friendly word tells
    nothing, but is no part of an answer either.
    For a value, `low` and `high` are its ends, equal unless a range was written; `unit` "minutes",
    "points", "count" or "" where none was written; `out_of` the number after "out of", or None.
    `at`, `end`: where it starts in the plain text, and what follows it.
    """

    kind: str
    text: str = ""
    low: float = 0.0
    high: float = 0.0
    unit: str = ""
    out_of: float | None = None
    at: int = 0
    end: int = 0


# More digits than this are a phone number or a slip, never an answer. Convention.
DIGITS_MAX = 5

# A longer text is a letter to a person, not an answer [characters, at most]. Convention: two SMS.
ANSWER_LENGTH_MAX = 320

_NUMBER = re.compile(r"(\d+)(\.\d+)?(\+)?")
_SHORT = re.compile(r"\d{1,2}(?!\d)")
_DOTTED = re.compile(r"\d+\.\d+\.\S+")
_STROKES = re.compile(r"\d+(?:/\d+){2,}")
_SPACED_STROKE = re.compile(r"(?<=\d)\s+/\s+(?=\d)")
_CLOCK = re.compile(r":\d+")
_GLUED = re.compile(r"[a-z]{3,}")
_HALF = re.compile(r"(\d*)\.5(?!\d)")
_OTHER = re.compile(r"[a-z']+|\S", re.IGNORECASE)
# Emoji, their skin tones and joiners, and marks that tell nothing beside a number.
_PICTURES = frozenset(("So", "Sk", "Cf", "Mn"))
_SEPARATORS = frozenset(",;.!?:()\n|&")


def tokens(text: str, words: Words) -> tuple[Token, ...]:
    """The pieces of a message, with ranges, fractions and bounds put together.

    A text too long to be an answer is one word. Never raises.
    """
    if len(text) > ANSWER_LENGTH_MAX:
        return (Token("word", text),)
    return _joined(_pieces(_apart(plain(text)), words))


def _apart(text: str) -> str:
    """Digits apart from a word that is glued to them ("3sets"), and strokes between several answers
    ("3/2/1", "3 / 10") as commas. Of the same length, for `at`."""
    line = _STROKES.sub(lambda found: found[0].replace("/", ","), text)
    return _SPACED_STROKE.sub(lambda found: found[0].replace("/", ","), line)


def _pieces(text: str, words: Words) -> list[Token]:
    phrases, pattern = _phrases(words)
    found: list[Token] = []
    at = 0
    while at < len(text):
        if text[at] == "\n":
            found.append(Token("sep", "\n", at=at))
            at += 1
        elif text[at].isspace():
            at += 1
        else:
            token, at = _piece(text, at, phrases, pattern, words)
            found.append(replace(token, end=at))
    return found


def _piece(
    text: str,
    at: int,
    phrases: Mapping[str, Token],
    pattern: re.Pattern[str],
    words: Words,
) -> tuple[Token, int]:
    phrase = pattern.match(text, at)
    if phrase:
        return _with_unit(replace(phrases[phrase[0]], text=phrase[0], at=at), text, phrase, words)
    if "0" <= text[at] <= "9" or _HALF.match(text, at):
        return _number(text, at, words)
    mark = _mark(text, at)
    if mark:
        return mark, at + 1
    other = _OTHER.match(text, at)
    end = other.end() if other else at + 1
    if unicodedata.category(text[at]) in _PICTURES:
        return Token("filler", text[at], at=at), at + 1
    return Token("word", text[at:end], at=at), end


def _with_unit(token: Token, text: str, phrase: re.Match[str], words: Words) -> tuple[Token, int]:
    """A phrase with the unit behind it, where it is a number that has none yet."""
    if token.unit == "minutes" and token.low and token.low % 60 == 0:
        minutes, end = _past_the_hour(text, phrase.end(), words)
        return replace(token, low=token.low + minutes, high=token.high + minutes), end
    if token.kind != "value" or token.unit:
        return token, phrase.end()
    half = _halves_pattern(words).match(text, phrase.end())
    if half:
        return replace(token, low=token.low + 0.5, high=token.high + 0.5), half.end()
    unit, end = _unit(text, phrase.end(), words)
    if unit == "other":
        return Token("word", text[token.at : end], at=token.at), end
    if unit == "hours":
        minutes, end = _past_the_hour(text, end, words)
        value = token.low * 60 + minutes
        return replace(token, low=value, high=value, unit="minutes"), end
    return replace(token, unit="" if unit == "approx" else unit), end


def _mark(text: str, at: int) -> Token | None:
    letter = text[at]
    if letter in _SEPARATORS:
        return Token("sep", letter, at=at)
    kinds = {"<": "under", ">": "over", "~": "filler", "+": "and", "/": "out_of"}
    kinds |= dict.fromkeys('"=*\u00bf\u00a1', "filler")
    if letter in kinds:
        return Token(kinds[letter], letter, at=at)
    if letter == "-":
        before, after = text[:at].rstrip(), text[at + 1 :].lstrip()
        if before[-1:].isdigit() and after[:1].isdigit():
            return Token("range", letter, at=at)
        # A minus sign makes a number that no question takes.
        glued = text[at + 1 : at + 2].isdigit()
        return Token("word" if glued else "sep", letter, at=at)
    return None


def _number(text: str, at: int, words: Words) -> tuple[Token, int]:
    more = _with_more(text, at, words)
    if more:
        return more
    dotted = _DOTTED.match(text, at)
    if dotted:
        # "2.2.x" is a slip and "3.10.2" may be three answers: not ours to choose.
        return Token("word", dotted[0], at=at), dotted.end()
    half = _HALF.match(text, at)
    match = half or _NUMBER.match(text, at)
    if match is None:
        return Token("word", text[at], at=at), at + 1
    end = match.end()
    whole = match[1] or "0"
    fraction = ".5" if half else match[2]
    if len(whole) > DIGITS_MAX or (len(whole) > 2 and whole[0] == "0"):
        return Token("word", match[0], at=at), end
    if fraction and len(fraction) > 2:
        # "3.10" may be 3 and 10, or 3.1: not ours to choose.
        return Token("word", match[0], at=at), end
    value = float(whole + (fraction or ""))
    unit, end = _unit(text, end, words)
    glued = text[end : end + 1]
    clock = _CLOCK.match(text, end)
    if clock:
        return Token("clock", text[at:end], at=at), clock.end()
    glued_word = not unit and glued.isalpha() and not _GLUED.match(text, end)
    if unit == "other" or glued_word:
        return Token("word", text[at:end], at=at), max(end, at + 1)
    if unit == "hours":
        minutes, end = _past_the_hour(text, end, words)
        value, unit = value * 60 + minutes, "minutes"
    if unit == "approx":
        unit = ""
    if not half and match[3]:
        return Token("word", text[at:end], at=at), end
    return Token("value", text[at:end], value, value, unit, at=at), end


def _with_more(text: str, at: int, words: Words) -> tuple[Token, int] | None:
    """An hour with minutes glued to it ("1h15"), or a number and a half."""
    hours = _hours_pattern(words).match(text, at)
    if hours:
        value = float(int(hours[1]) * 60 + int(hours[2]))
        return Token("value", hours[0], value, value, "minutes", at=at), hours.end()
    digits = _SHORT.match(text, at)
    half = _halves_pattern(words).match(text, digits.end()) if digits else None
    if digits is None or half is None:
        return None
    value = int(digits[0]) + 0.5
    return Token("value", text[at : half.end()], value, value, at=at), half.end()


def _past_the_hour(text: str, end: int, words: Words) -> tuple[float, int]:
    """The minutes that follow a number of hours, and where they end."""
    match = _past_pattern(words).match(text, end)
    if match is None:
        return 0.0, end
    if match["part"]:
        return 60 * _parts(words)[match["part"]], match.end()
    number = match["joined"] or match["named"] or match["bare"]
    return float(words.numbers.get(number) or int(number)), match.end()


def _unit(text: str, end: int, words: Words) -> tuple[str, int]:
    match = _units_pattern(words).match(text, end)
    if match is None:
        return "", end
    return words.units[match[1]], match.end()


def _joined(pieces: list[Token]) -> tuple[Token, ...]:
    found: list[Token] = []
    for piece in pieces:
        named = bool(found) and found[-1].kind == "label"
        if piece.kind == "filler" or (named and piece.text == ":"):
            continue
        if piece.text == ")" and _names_in_brackets(found[-3:]):
            # "3 (pain)"
            del found[-2]
            continue
        found.append(piece)
        if piece.kind == "value":
            _join_last(found)
    dropped = [one.kind == "between" or (one.kind == "out_of" and one.text != "/") for one in found]
    return tuple(one for one, gone in zip(found, dropped, strict=True) if not gone)


def _names_in_brackets(last: list[Token]) -> bool:
    kinds = [one.kind for one in last]
    return kinds == ["value", "sep", "label"] and last[1].text == "("


def _join_last(found: list[Token]) -> None:
    """Put the value at the end together with the mark, and the value, before it."""
    value = found[-1]
    before = found[-2] if len(found) > 1 else None
    first = found[-3] if len(found) > 2 else None
    if before is None:
        return
    if before.kind == "no" and before.unit == "and" and first is not None and first.kind == "value":
        found[-2] = replace(before, kind="and")
    elif before.kind == "range" and (first is None or first.kind == "label"):
        # "maybe 4"
        del found[-2]
    elif before.kind == "under":
        found[-2:] = [replace(value, low=0.0, text=f"under {value.text}", at=before.at)]
    elif before.kind == "over":
        found[-2:] = [Token("word", f"{before.text} {value.text}", at=before.at)]
    elif before.kind == "out_of" and first is not None and first.kind == "label":
        # "2 sets out of 3"
        if len(found) > 3 and found[-4].kind == "value":
            found[-4:] = [replace(found[-4], out_of=value.low), first]
    elif first is None or first.kind != "value":
        _join_after_comma(found)
    elif before.kind == "and" and len(found) > 3 and found[-4].kind == "between":
        found[-4:] = [_range(first, value)]
    elif before.kind == "range":
        found[-3:] = [_range(first, value)]
    elif before.kind == "out_of" and first.out_of is None:
        text = f"{first.text}/{value.text}"
        found[-3:] = [replace(first, out_of=value.low, end=value.end, text=text)]


def _join_after_comma(found: list[Token]) -> None:
    """Put "3, maybe 4" together."""
    if len(found) < 4:
        return
    first, comma, word, value = found[-4:]
    if (first.kind, comma.text, word.kind) == ("value", ",", "range"):
        found[-4:] = [_range(first, value)]


def _range(first: Token, second: Token) -> Token:
    text = f"{first.text}-{second.text}"
    low = first.low
    if first.unit and not second.unit:
        return Token("word", text, at=first.at)
    if first.low != first.high or low >= second.high or first.out_of is not None:
        return Token("word", text, at=first.at)
    return replace(second, low=low, text=text, at=first.at)


@lru_cache(maxsize=8)
def _phrases(words: Words) -> tuple[dict[str, Token], re.Pattern[str]]:
    """Every phrase with its token, and one pattern that finds the longest at a place."""
    table: dict[str, Token] = {}
    for phrase, meaning in words.commands.items():
        if meaning in ("hello", "thanks"):
            table[phrase] = Token("friendly")
    for phrase, kind in words.small.items():
        if kind not in ("half", "quarter"):
            table[phrase] = Token(kind)
    for phrase, label in words.labels.items():
        table[phrase] = Token("label", unit=label)
    for phrase, meaning in words.answers.items():
        if table.get(phrase, Token("")).kind == "range":
            continue
        # "I did" and its kind count as a whole message only: "I did 3" is a number.
        # But "took one" is no number.
        one_word = phrase.isalpha() or not phrase.isascii()
        counted = not words.numbers.keys().isdisjoint(phrase.split())
        affirms = meaning == "yes" and (one_word or counted)
        if meaning in ("all", "none", "unsure", "no") or affirms:
            # "3 n 10" joins, "n 30 min" denies.
            joins = meaning == "no" and words.small.get(phrase) == "and"
            table[phrase] = Token(meaning, unit="and" if joins else "")
    for unit, numbers in (
        ("", words.numbers),
        ("minutes", words.minutes),
        ("points", words.points),
    ):
        for phrase, number in (*numbers.items(), *(() if unit else _composed(numbers))):
            table[phrase] = Token("value", low=float(number), high=float(number), unit=unit)
    ordered = sorted(table, key=len, reverse=True)
    pattern = "|".join(_whole(phrase) for phrase in ordered)
    return table, re.compile(pattern)


def _composed(numbers: Mapping[str, int]) -> Iterator[tuple[str, int]]:
    """Tens and ones in two words: "twenty five"."""
    for tens, ten in numbers.items():
        for ones, one in numbers.items():
            if ten >= 20 and ten % 10 == 0 and 0 < one < 10:
                yield f"{tens} {ones}", ten + one


def _whole(phrase: str) -> str:
    """A phrase that stands alone: no letter or digit next to its own letters."""
    before = r"(?<![a-z'])" if phrase[0].isalpha() else ""
    before = r"(?<![a-z0-9'])" if phrase[0].isdigit() else before
    after = r"(?![a-z0-9'])" if phrase[-1].isalnum() else ""
    return before + re.escape(phrase) + after


@lru_cache(maxsize=8)
def _units_pattern(words: Words) -> re.Pattern[str]:
    units = "|".join(re.escape(unit) for unit in sorted(words.units, key=len, reverse=True))
    return re.compile(rf"\s*({units})(?![a-z0-9'])")


@lru_cache(maxsize=8)
def _halves_pattern(words: Words) -> re.Pattern[str]:
    """A half behind a number, where no unit of time follows that is halved: "2 1/2"."""
    halves = "|".join(re.escape(one) for one, kind in words.small.items() if kind == "half")
    hours = "|".join(u for u, kind in words.units.items() if kind == "hours")
    return re.compile(rf" (?:{halves})(?!\s*(?:an? )?(?:{hours}))(?![a-z0-9/'])")


@lru_cache(maxsize=8)
def _hours_pattern(words: Words) -> re.Pattern[str]:
    hours, minutes = _units_of(words)
    return re.compile(
        rf"(\d{{1,2}})\s*(?:{hours})(\d{{1,2}})(?![\d.])(?:\s*(?:{minutes}))?(?![a-z0-9'])"
    )


@lru_cache(maxsize=8)
def _past_pattern(words: Words) -> re.Pattern[str]:
    """What may follow an hour: "and a half", "and 15", "15 min", or a bare number that is no
    pain."""
    _hours, minutes = _units_of(words)
    joint = "|".join(re.escape(w) for w, kind in words.small.items() if kind == "and")
    parts = "|".join(map(re.escape, _parts(words)))
    spoken = "|".join(map(re.escape, sorted(words.numbers, key=len, reverse=True)))
    number = rf"(?:\d{{1,2}}(?![\d.])|{spoken})"
    unit = rf"\s*(?:{minutes})"
    return re.compile(
        rf"\s*(?:(?P<part>{parts})|(?:{joint})\s+(?P<joined>{number})(?:{unit})?"
        rf"|(?P<named>{number}){unit}|(?P<bare>1[1-9]|[2-5]\d)(?![\d./:-]))(?![a-z0-9'])"
    )


def _parts(words: Words) -> Mapping[str, float]:
    """Parts of an hour behind it, by their words."""
    shares = {"half": 0.5, "quarter": 0.25}
    return {phrase: shares[kind] for phrase, kind in words.small.items() if kind in shares}


def _units_of(words: Words) -> tuple[str, str]:
    """The units of hours and of minutes, as alternatives of a pattern."""
    found = ("|".join(u for u, kind in words.units.items() if kind == one)
             for one in ("hours", "minutes"))  # fmt: skip
    return next(found), next(found)
