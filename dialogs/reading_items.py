"""Reads points off a sheet: "7 6 7 7 6 5 4 10", "7/6/7/7/6/5/4/10", or "item 7: 4, item 8: 10".

It says which number belongs to which item and judges none of them. Read next: `reading`.
"""

from __future__ import annotations

import re

from dialogs.tokens import Token
from dialogs.turn import Asked
from dialogs.words import plain

# Numbers and what may stand between them. A dot, a stroke or a hyphen can mean something else, so
# they count only where there are just as many numbers as items.
_IN_ORDER = re.compile(r"\d{1,3}(?:[\s,;|]+\d{1,3})*")
_JOINED = re.compile(r"\d{1,3}(?:\s*[-./,;|\s]\s*\d{1,3})*")
_NUMBER = re.compile(r"\d{1,3}")

# The number of an item and its points, with at most one word before: "item 7: 4", "7) 4", "7=4".
_BY_NAME = re.compile(r"(?:[^\W\d_]+\s*)?#?([1-8])\s*[:=)]\s*(\d{1,3})(?!\d)")

# Fewer numbers than this with a hyphen between may be a range [count]. Convention.
JOINED_MIN = 3


def item_points(text: str, asked: tuple[Asked, ...]) -> list[tuple[Asked, Token]] | None:
    """Each number with its item, in the order asked; None where the text is not just points, or
    names an item that was not asked, or has more numbers than there are items."""
    line = plain(text).strip(" .,;!\n")
    return _by_name(line, asked) or _in_order(line, asked)


def _by_name(line: str, asked: tuple[Asked, ...]) -> list[tuple[Asked, Token]] | None:
    pairs = [(int(found[1]), found[2]) for found in _BY_NAME.finditer(line)]
    named = {item for item, _points in pairs}
    left = _BY_NAME.sub("", line).strip(" ,;.\n")
    if not pairs or left or len(named) < len(pairs):
        return None
    by_item = {one.question.row.item: one for one in asked}
    if not named <= by_item.keys():
        return None
    return [(by_item[item], _value(points)) for item, points in sorted(pairs)]


def _in_order(line: str, asked: tuple[Asked, ...]) -> list[tuple[Asked, Token]] | None:
    numbers = _NUMBER.findall(line)
    whole = len(numbers) == len(asked) >= JOINED_MIN
    if not _IN_ORDER.fullmatch(line) and not (whole and _JOINED.fullmatch(line)):
        return None
    if len(numbers) > len(asked):
        return None
    return [(one, _value(points)) for one, points in zip(asked, numbers, strict=False)]


def _value(points: str) -> Token:
    return Token("value", points, float(points), float(points))
