"""What every table of a report is: heads, rows of words, and what is said where there are none."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class Table:
    """Rows of words under heads, as many cells as heads in each. `none`: said without any row."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    none: str


def day_words(on: date) -> str:
    """A date as it is written in a letter, e.g. 2 Mar 2026."""
    return f"{on.day} {on:%b} {on.year}"
