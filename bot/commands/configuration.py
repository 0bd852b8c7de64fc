"""What `serve --check` says of a configuration file: every problem with its line, and what the
example holds only until a clinic fills it in. Read next: `serve`."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

# What stands in the shipped example for a clinic to replace.
PLACEHOLDERS = {
    ("clinic", "name"): "Your clinic",
    ("clinic", "phone"): "+44 20 7946 0141",
    ("clinic", "crisis_line"): "the crisis line on 000 000",
}

# A host that belongs to nobody. Source: RFC 2606, the top-level domain "example".
NOBODYS_HOST = re.compile(r"//[^/\s]+\.example(?:[:/]|$)")

SECRETS = frozenset({"token", "password", "secret"})

# A number that can be called has so many digits [count, at least]: emergency numbers have three.
DIGITS_MIN = 3


def with_line(config: Path, problem: str) -> str:
    """A problem behind the file, and the line of the key or table that it begins with, where the
    file has it."""
    key = re.match(r"([\w.]+):", problem)
    number = _line_of(_text(config), key[1]) if key else None
    if problem.startswith(str(config)):
        return problem
    return f"{config}:{number}: {problem}" if number else f"{config}: {problem}"


def unfilled(config: Path) -> Iterator[str]:
    """Each value that nobody has filled in, and each telephone number that is none."""
    try:
        tables = tomllib.loads(_text(config))
    except tomllib.TOMLDecodeError:
        return
    others = config.stat().st_mode & 0o077 if config.exists() else 0
    for table, values in tables.items():
        for key, value in values.items() if isinstance(values, dict) else ():
            if not isinstance(value, str):
                continue
            if value == PLACEHOLDERS.get((table, key)) or NOBODYS_HOST.search(value):
                yield f"{table}.{key}: still that of the example, {value!r}; fill in your own"
            elif value and key in SECRETS and others:
                yield f"{table}.{key}: others can read it; expected 0600 (chmod 600 {config})"
            elif key in ("phone", "emergency_number") and _digits(value) < DIGITS_MIN:
                yield f"{table}.{key}: expected a number that can be called, found {value!r}"


def _digits(text: str) -> int:
    return sum(letter.isdigit() for letter in text)


def _text(config: Path) -> str:
    try:
        return config.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return ""


def _line_of(text: str, key: str) -> int | None:
    """The line of a key such as "clinic.phone" [from 1]: its own, else that of its table."""
    *_, last = key.split(".")
    table = key.split(".")[0]
    here, header = False, None
    for number, line in enumerate(text.splitlines(), 1):
        opened = re.match(r"\s*\[\[?\s*([\w.]+)", line)
        if opened:
            here = opened[1] == table
            header = number if here and header is None else header
        elif here and re.match(rf"\s*{re.escape(last)}\s*=", line):
            return number
    return header
