"""Reads a time of day, and the last day of a pause. Never guesses a date that is past.

Read next: `reading`.
"""

from __future__ import annotations

import re
from datetime import date, time, timedelta

from dialogs.words import Words, bare

# The morning prompt may go out between these times, both included. Convention: earlier wakes
# people, later is no longer the first step of the day.
MORNING_FROM = time(5, 0)
MORNING_UNTIL = time(12, 0)

# The longest pause a patient may set without the clinician [days]. Convention.
PAUSE_DAYS_MAX = 90

_CLOCK = re.compile(r"(\d{1,2})(?:[:.h ]?(\d{2}))?$")


def read_time(text: str, words: Words) -> time | None:
    """A morning time: "7", "7.30", "half past 7", "quarter to 8". None: not one, or no morning."""
    found = _clock(bare(text), words)
    if found is None or not MORNING_FROM <= found <= MORNING_UNTIL:
        return None
    return found


def read_until(text: str, today: date, words: Words) -> date | None:
    """The last day that a text names: "a week", "10 days", "till 3 May", "until Monday".

    A month and day without a year is the next such day. None: no day, a past one, or one
    further off than `PAUSE_DAYS_MAX`.
    """
    line = bare(text)
    on = _span(line, today, words) or _weekday(line, today, words) or _named_day(line, today, words)
    if on is None or not today <= on <= today + timedelta(days=PAUSE_DAYS_MAX):
        return None
    return on


def _clock(line: str, words: Words) -> time | None:
    marks = words.time["marks"]
    shift, late = 0, False
    for phrase, mark in marks.items():
        found = re.search(rf"(?<![a-z]){re.escape(str(phrase))}(?![a-z])", line)
        if found is None or mark not in _MARKS:
            continue
        line = (line[: found.start()] + " " + line[found.end() :]).strip()
        late = late or mark == "pm"
        shift += _MARKS[str(mark)]
    for word, number in words.numbers.items():
        line = re.sub(rf"(?<![a-z]){word}(?![a-z])", str(number), line)
    line = " ".join(word for word in line.split() if words.small.get(word) != "filler")
    match = _CLOCK.fullmatch(line)
    if match is None:
        return None
    hour, minute = int(match[1]), int(match[2] or 0)
    if match[2] is None and len(match[1]) > 2:
        return None
    if late and hour < 12:
        hour += 12
    total = hour * 60 + minute + shift
    if hour > 23 or minute > 59 or not 0 <= total < 1440:
        return None
    return time(total // 60, total % 60)


# What a phrase beside the hour adds [minutes].
_MARKS = {"am": 0, "pm": 0, "oclock": 0, "half_past": 30, "quarter_past": 15, "quarter_to": -15}


def _span(line: str, today: date, words: Words) -> date | None:
    marks = {phrase: mark for phrase, mark in words.time["marks"].items() if mark in _DAYS}
    units = "|".join(re.escape(phrase) for phrase in marks)
    match = re.search(rf"(?:^|\s)(\d{{1,3}}|[a-z]+)\s*({units})$", line)
    if match is None:
        return None
    count = int(match[1]) if match[1].isdigit() else words.numbers.get(match[1])
    if words.small.get(match[1]) == "filler":
        count = 1
    if not count:
        return None
    # A pause of one day is today alone: the last day is included.
    return today + timedelta(days=count * _DAYS[str(marks[match[2]])] - 1)


_DAYS = {"day": 1, "week": 7, "month": 30}


def _weekday(line: str, today: date, words: Words) -> date | None:
    last = line.split()[-1:] or [""]
    if words.time["marks"].get(last[0]) == "tomorrow":
        return today + timedelta(days=1)
    weekday = words.time["weekdays"].get(last[0])
    if not isinstance(weekday, int):
        return None
    return today + timedelta(days=(weekday - today.weekday() - 1) % 7 + 1)


def _named_day(line: str, today: date, words: Words) -> date | None:
    iso = re.search(r"(\d{4})-(\d{2})-(\d{2})$", line)
    if iso:
        return _real(int(iso[1]), int(iso[2]), int(iso[3]))
    months = words.time["months"]
    names = "|".join(sorted(months, key=len, reverse=True))
    of = "|".join(re.escape(p) for p, mark in words.time["marks"].items() if mark == "of")
    nth = "|".join(re.escape(p) for p, mark in words.time["marks"].items() if mark == "nth")
    match = re.search(
        rf"(?:(\d{{1,2}})(?:{nth})?(?: (?:{of}))? ({names})|({names}) (\d{{1,2}})(?:{nth})?)"
        rf"(?:,? (?:(?:{of}) )?(\d{{4}}))?$",
        line,
    )
    if match is None:
        return None
    month = int(months[match[2] or match[3]])
    day = int(match[1] or match[4])
    if match[5]:
        return _real(int(match[5]), month, day)
    this_year = _real(today.year, month, day)
    if this_year and this_year >= today:
        return this_year
    return _real(today.year + 1, month, day)


def _real(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None
