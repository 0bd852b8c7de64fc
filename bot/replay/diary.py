"""Reads a diary: a table of text with a header and one row for each local day.

It refuses what it cannot read, all of it at once, each with line and column; it fills nothing in.
What an empty cell means: not answered. What a day without a row means: `walk`.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, fields
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

from bot.errors import BotError
from dialogs.questions import COLUMNS as ASKED
from dialogs.questions import PAINS, Kind, Row
from rules.protocol import Protocol
from rules.quantities import Count, Effort, Minutes, Pain

VISA_A_MAX = 100
"""Best total of the VISA-A sheet [points, included]. Source: robinson-2001."""

LOAD_KG_MAX = 500.0
"""Most added load a cell may hold [kg, included]. Convention, to catch a slip of the finger."""

# What a spreadsheet would run as a formula, behind the apostrophes that keep it from doing so.
FORMULA = re.compile(r"'*[=+\-@\t\r]")


def escaped(cell: str) -> str:
    """A cell that a spreadsheet shows and does not run; a diary reads it back as it was."""
    return f"'{cell}" if FORMULA.match(cell) else cell


@dataclass(frozen=True)
class DiaryDay:
    """One row. None: not answered.

    `session`: one was done. `level`: the level of the ladder it was done at, or at which the
    patient stood that morning [number from 1].
    `pain_24h`, `pain_48h`: about this row's session, told one and two days later.
    `others`: answers that no rule looks at, by their column.
    """

    on: date
    session: bool = False
    level: int | None = None
    morning_pain: Pain | None = None
    morning_stiffness_min: Minutes | None = None
    sets_done: Count | None = None
    sets_prescribed: Count | None = None
    pain_during: Pain | None = None
    pain_after: Pain | None = None
    pain_24h: Pain | None = None
    pain_48h: Pain | None = None
    effort: Effort | None = None
    painkiller: bool | None = None
    activity_min: Minutes | None = None
    activity_effort: Effort | None = None
    heel_raises: Count | None = None
    other_heel_raises: Count | None = None
    visa_a: int | None = None
    load_kg: float | None = None
    message: str = ""
    others: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Problem:
    """What is wrong with one cell, or with the file as a whole where `line` is None."""

    expected: str
    found: str | None = None
    line: int | None = None
    column: str | None = None

    def __str__(self) -> str:
        place = ", ".join(
            f"{kind} {at}"
            for kind, at in (("line", self.line), ("column", self.column))
            if at is not None
        )
        found = "" if self.found is None else f"; found {self.found!r}"
        return f"{place + ': ' if place else ''}{self.expected} was expected{found}"


class DiaryError(BotError):
    """The diary cannot be replayed. `problems`: all that is wrong with it, in file order."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = problems


class _CellError(Exception):
    """A cell cannot be read; the message says what was expected."""


def read_diary_file(path: Path, protocol: Protocol) -> tuple[DiaryDay, ...]:
    """The diary in a file. Raises DiaryError; see `read_diary`."""
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise _file_at_fault("a diary that can be read", error.strerror or str(error)) from None
    except UnicodeDecodeError:
        raise _file_at_fault("text in UTF-8", "other bytes") from None
    return read_diary(text, protocol)


def read_diary(text: str, protocol: Protocol) -> tuple[DiaryDay, ...]:
    """The days of a diary, oldest first; the ladder of `protocol` gives levels their numbers.

    Commas or semicolons between cells. Raises DiaryError with every problem found.
    """
    text = text.removeprefix("\ufeff")
    if not text.strip():
        raise _file_at_fault("a header with the column date, and one row a day", "an empty file")
    reader = _Reader(protocol)
    try:
        days = tuple(reader.days(text))
    except csv.Error as error:
        raise _file_at_fault("rows of cells in one line each", str(error)) from None
    if reader.problems:
        raise DiaryError(tuple(reader.problems))
    if not days:
        raise _file_at_fault("at least one day under the header", "none")
    return days


def _file_at_fault(expected: str, found: str) -> DiaryError:
    return DiaryError((Problem(expected, found),))


class _Reader:
    """One pass over a diary: gathers problems on the way."""

    def __init__(self, protocol: Protocol) -> None:
        self._parsers: dict[str, Callable[[str], Any]] = {
            **_PARSERS,
            "level": partial(_level, protocol),
        }
        self.problems: list[Problem] = []

    def days(self, text: str) -> Iterator[DiaryDay]:
        """The rows that can be read, each later than the one before."""
        rows = _numbered_rows(text)
        line, header = next(rows)
        columns = [name.strip().lower() for name in header]
        self._check_header(line, columns)
        if self.problems:
            return
        latest: date | None = None
        for line, cells in rows:
            day = self._day(line, columns, cells)
            if day is None:
                continue
            if latest is not None and day.on <= latest:
                expected = f"a later date than {latest.isoformat()}, one row a day, oldest first,"
                self.problems.append(Problem(expected, day.on.isoformat(), line, "date"))
                continue
            latest = day.on
            yield day

    def _check_header(self, line: int, columns: list[str]) -> None:
        for index, name in enumerate(columns):
            if name not in self._parsers:
                expected = f"one of the columns {', '.join(COLUMNS)}"
                self.problems.append(Problem(expected, name, line, str(index + 1)))
            elif name in columns[:index]:
                self.problems.append(Problem("each column once", name, line, str(index + 1)))
        if "date" not in columns:
            self.problems.append(Problem("a column date", ", ".join(columns), line))

    def _day(self, line: int, columns: list[str], cells: list[str]) -> DiaryDay | None:
        """One row; None where something in it is wrong."""
        before = len(self.problems)
        if len(cells) > len(columns):
            expected = f"{len(columns)} cells as in the header"
            self.problems.append(Problem(expected, f"{len(cells)} cells", line))
        # A short row has its last cells empty: tables are often saved so.
        padded = [cell.strip() for cell in cells] + [""] * (len(columns) - len(cells))
        held: dict[str, Any] = {}
        for name, cell in zip(columns, padded, strict=False):
            try:
                held[name] = self._parsers[name](cell) if cell or name == "date" else None
            except _CellError as error:
                self.problems.append(Problem(str(error), cell, line, name))
        self.problems += [
            Problem(expected, found, line, column)
            for column, expected, found in _contradictions(held)
        ]
        return _day_of(held) if len(self.problems) == before else None


def _numbered_rows(text: str) -> Iterator[tuple[int, list[str]]]:
    """The rows that hold something, with the line each begins on [from 1]."""
    first = next(line for line in text.splitlines() if line.strip())
    delimiter = ";" if first.count(";") > first.count(",") else ","
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    begins = 1
    for cells in rows:
        if any(cell.strip() for cell in cells):
            yield begins, cells
        begins = rows.line_num + 1


_TOLD_OF_A_SESSION = tuple(
    column for column, asked in ASKED.items() if asked in PAINS and asked.row.of_session
)


def _contradictions(held: Mapping[str, Any]) -> Iterator[tuple[str, str, str]]:
    """Cells of a row that cannot both be so: column, expected, found."""
    told = [name for name in _TOLD_OF_A_SESSION if held.get(name) is not None]
    if held.get("sets_done"):
        told.append("sets_done")
    if held.get("session") is False and told:
        yield "session", f"yes, as {told[0]} tells of one,", "no"
    if held.get("activity_effort") is not None and held.get("activity_min") is None:
        yield "activity_min", "the minutes of an activity whose effort is told", ""


def _day_of(held: Mapping[str, Any]) -> DiaryDay:
    """A day from cells that were read. What only a session has makes one of an empty cell."""
    given = {name: value for name, value in held.items() if value is not None}
    if "session" not in given:
        told = any(name in given for name in _TOLD_OF_A_SESSION)
        given["session"] = told or bool(given.get("sets_done"))
    others = {name: given.pop(name) for name in _ANSWERS if name in given and name not in _FIELDS}
    return DiaryDay(on=given.pop("date"), **given, others=others)


_FIELDS = frozenset(field.name for field in fields(DiaryDay))


def _date(cell: str) -> date:
    if re.fullmatch(r"\d{4}-\d{2}-\d{2}", cell):
        try:
            return date.fromisoformat(cell)
        except ValueError:
            pass
    raise _CellError("a date such as 2026-05-20")


def _yes_or_no(cell: str) -> bool:
    if cell.lower() not in ("yes", "no"):
        raise _CellError("yes or no")
    return cell.lower() == "yes"


def _scale(quantity: type[Pain | Effort | Minutes | Count], cell: str) -> int:
    lowest, highest = quantity.lowest, quantity.highest
    if not re.fullmatch(r"[0-9]{1,6}", cell) or not lowest <= int(cell) <= highest:
        raise _CellError(f"a whole number from {lowest} to {highest} {quantity.unit}")
    return quantity(int(cell))


def _visa_a(cell: str) -> int:
    if not re.fullmatch(r"[0-9]{1,3}", cell) or int(cell) > VISA_A_MAX:
        raise _CellError(f"a whole number from 0 to {VISA_A_MAX} points")
    return int(cell)


def _load_kg(cell: str) -> float:
    number = cell.replace(",", ".")
    if not re.fullmatch(r"[0-9]{1,4}(\.[0-9]{1,3})?", number) or float(number) > LOAD_KG_MAX:
        raise _CellError(f"a number from 0 to {LOAD_KG_MAX:g} kg")
    return float(number)


def _level(protocol: Protocol, cell: str) -> int:
    number = level_number(protocol, cell)
    if number is None:
        raise _CellError(
            f"a level of {protocol.name}, by its name or by a number from 1 to"
            f" {len(protocol.levels)},"
        )
    return number


def level_number(protocol: Protocol, word: str) -> int | None:
    """The number of a level [from 1], told as its name or its number; None where there is none."""
    plain = " ".join(word.split()).casefold()
    names = [" ".join(level.name.split()).casefold() for level in protocol.levels]
    if plain in names:
        return names.index(plain) + 1
    if re.fullmatch(r"[0-9]{1,3}", plain) and 1 <= int(plain) <= len(names):
        return int(plain)
    return None


def _unescaped(cell: str) -> str:
    return cell.removeprefix("'") if FORMULA.match(cell) else cell


def _parser(row: Row) -> Callable[[str], Any]:
    return _yes_or_no if row.kind is Kind.YES_NO else partial(_scale, row.quantity)


_ANSWERS = {column: _parser(asked.row) for column, asked in ASKED.items()}

_PARSERS: dict[str, Callable[[str], Any]] = {
    "date": _date,
    **{column: read for column, read in _ANSWERS.items() if ASKED[column].row.group == "morning"},
    "session": _yes_or_no,
    "level": str,
    "sets_prescribed": partial(_scale, Count),
    "load_kg": _load_kg,
    **_ANSWERS,
    "visa_a": _visa_a,
    "message": _unescaped,
}
"""How each column is read. `level` depends on the protocol and is replaced in `_Reader`."""

COLUMNS = tuple(_PARSERS)
"""The columns a diary may have, in the order they are best written. Only `date` is needed."""
