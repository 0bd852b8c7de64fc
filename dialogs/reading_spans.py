"""Reads the days of a holiday: "next week", "from Friday to Monday", "3-10 May". Never guesses.

Read next: `reading_times`, which reads the last day alone.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, timedelta

from dialogs.reading_times import PAUSE_DAYS_MAX, read_until
from dialogs.words import Words, bare

Span = tuple[date, date]
"""First and last day, both included."""

SUNDAY = 6


def read_span(
    text: str, today: date, words: Words, lists: Mapping[str, tuple[str, ...]]
) -> Span | None:
    """The first and the last day that a text names; from today, where it names the last alone.

    lists: the language's words for next week, a weekend and "from" ("pause.next_week").
    None: no days, past ones, or further off than `PAUSE_DAYS_MAX`.
    """
    line = bare(text)
    span = (
        _week(line, today, lists)
        or _from_for(line, today, words, lists)
        or _from_to(line, today, words, lists)
    )
    if span is None:
        last = read_until(line, today, words)
        span = None if last is None else (today, last)
    if span is None or not today <= span[0] <= span[1]:
        return None
    return span if span[1] <= today + timedelta(days=PAUSE_DAYS_MAX) else None


def _week(line: str, today: date, lists: Mapping[str, tuple[str, ...]]) -> Span | None:
    """Monday to Sunday of next week, or the coming Saturday and Sunday."""
    sunday = today + timedelta(days=SUNDAY - today.weekday())
    if line.endswith(lists["pause.next_week"]):
        return sunday + timedelta(days=1), sunday + timedelta(days=7)
    if line.endswith(lists["pause.weekend"]):
        return max(today, sunday - timedelta(days=1)), sunday
    return None


def _from_for(
    line: str, today: date, words: Words, lists: Mapping[str, tuple[str, ...]]
) -> Span | None:
    """A first day and how long: "from Friday for a week"."""
    fors = "|".join(re.escape(p) for p, mark in words.time["marks"].items() if mark == "for")
    openings = "|".join(map(re.escape, lists["pause.from"]))
    found = re.search(rf"(?:^|\s)(?:{openings}) (.+?) ((?:{fors}) .+)$", line)
    first = read_until(found[1], today, words) if found else None
    last = read_until(found[2], first, words) if found and first else None
    return None if first is None or last is None else (first, last)


def _from_to(
    line: str, today: date, words: Words, lists: Mapping[str, tuple[str, ...]]
) -> Span | None:
    """Two days with a word between: the first may be a number alone ("3 to 10 May")."""
    untils = [p for p, mark in words.time["marks"].items() if mark == "until"]
    marks = "|".join(map(re.escape, (*untils, *lists["pause.until"])))
    between = re.search(rf"(.+?)(?: (?:{marks}) | ?- ?)(?:el |the )?(.+)$", line)
    if between is None:
        return None
    last = read_until(between[2], today, words)
    number = re.search(r"(\d{1,2})(?:st|nd|rd|th)?$", between[1])
    if last is not None and number is not None and 0 < int(number[1]) < last.day:
        return last.replace(day=int(number[1])), last
    openings = "|".join(map(re.escape, lists["pause.from"]))
    opened = re.search(rf"(?:^|\s)(?:{openings}) (.+)$", between[1])
    first = read_until(opened[1], today, words) if opened else None
    if first is None:
        return None
    last = read_until(between[2], first, words)
    return None if last is None else (first, last)
