"""Finds the line of each key in a protocol's text, so that a problem can be pointed at.

The library that reads TOML keeps no lines; this scan does, and reads nothing else.
Read next: `protocol_reader`.
"""

from __future__ import annotations

import re

Key = tuple[str | int, ...]
"""A place in the file: `("levels", 2, "doses")` are the doses of the second level."""

_HEADER = re.compile(r"\s*(?P<array>\[)?\[\s*(?P<name>[\w.-]+)\s*\]")
_ASSIGNMENT = re.compile(r"\s*(?P<name>[\w-]+)\s*=")


def lines_of_keys(text: str) -> dict[Key, int]:
    """The line of each table header and each key that begins a line [counted from 1].

    Keys within a table written on one line are not listed; they share its line.
    """
    lines: dict[Key, int] = {}
    counts: dict[str, int] = {}
    table: Key = ()
    for number, line in enumerate(text.splitlines(), start=1):
        if header := _HEADER.match(line):
            name = header["name"]
            table = tuple(name.split("."))
            if header["array"]:
                counts[name] = counts.get(name, 0) + 1
            if counts.get(str(table[0])):
                table = (table[0], counts[str(table[0])], *table[1:])
            lines.setdefault(table, number)
        elif assignment := _ASSIGNMENT.match(line):
            lines.setdefault((*table, assignment["name"]), number)
    return lines


def line_of(lines: dict[Key, int], key: Key) -> int | None:
    """The line of a key, or of the nearest table around it; None where nothing of it is there."""
    for length in range(len(key), 0, -1):
        if key[:length] in lines:
            return lines[key[:length]]
    return None
