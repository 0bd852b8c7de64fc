"""Replies in the bot's own numbering: "1) 3 2) 10", "2) 10" alone, "a) 3 b) 10".

Read next: `reading`.
"""

from __future__ import annotations

import re

from dialogs.words import plain

# A number of the list and its mark, where a value can follow. A bracket says enough by itself; a
# dot or a colon only where the list runs from 1 on.
_MARK = re.compile(r"(?:(?<=\s)|(?<=[,;])|^)([1-9a-h])\s*([).:])(?=\s*\S)")


def numbered(text: str, count: int) -> dict[int, str] | None:
    """The text behind each number of a list of `count` questions, from 0 on; None where the reply
    is not numbered so."""
    line = plain(text)
    marks = list(_MARK.finditer(line))
    numbers = [int(mark[1], 18) - 9 * mark[1].isalpha() for mark in marks]
    brackets = all(mark[2] == ")" for mark in marks)
    in_turn = len(marks) > 1 and numbers == list(range(1, len(marks) + 1))
    if not marks or line[: marks[0].start()].strip() or not (brackets or in_turn):
        return None
    if len(set(numbers)) < len(numbers) or max(numbers) > count:
        return None
    ends = [*(mark.start() for mark in marks[1:]), len(line)]
    parts = {
        number - 1: line[mark.end() : end].strip(" ,;.")
        for number, mark, end in zip(numbers, marks, ends, strict=True)
    }
    return parts if all(parts.values()) else None
