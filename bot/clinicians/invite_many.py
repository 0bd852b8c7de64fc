"""Reads a list of patients to invite and invites them: all of them, or none.

Every bad cell is told at once, with line and column, what was expected and what was found. A code
must come from the patient's own phone, so an address is only compared and told on the letter; it is
not believed before the patient writes from it. Read next: `enrolling`.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time
from typing import Any

from bot.clinic import Clinic
from bot.clinicians.invite import invite_patient
from bot.errors import BotError
from bot.phone_numbers import number_in
from bot.store import people, plans
from bot.store.database import Store
from bot.store.people import Role
from rules.protocol import Position, Tendon

COLUMNS = ("name", "tendon", "language", "morning_time", "channel", "address", "level")
NEEDED = ("name", "tendon")
CHANNELS = ("telegram", "sms")

# Longest name that is taken [characters]. Convention: it stands in messages of 160.
NAME_MAX = 30


@dataclass(frozen=True)
class NewPatient:
    """One row. `line`: where it begins in the file [from 1]. None: not told, so that the clinic's
    language and the shipped morning time hold, and the patient is asked."""

    line: int
    name: str
    tendon: Tendon
    language: str | None = None
    morning_time: time | None = None
    channel: str | None = None
    address: str | None = None
    level: Position | None = None


@dataclass(frozen=True)
class BadCell:
    """What is wrong with one cell, or with a whole line where `column` is empty."""

    line: int
    column: str
    expected: str
    found: str

    def __str__(self) -> str:
        place = f"line {self.line}" + (f", column {self.column}" if self.column else "")
        return f"{place}: expected {self.expected}; found {self.found!r}"


class ListError(BotError):
    """The list cannot be used. `problems`: all that is wrong with it, in file order."""

    def __init__(self, problems: Sequence[BadCell]) -> None:
        super().__init__("\n".join(map(str, problems)))
        self.problems = tuple(problems)


@dataclass(frozen=True)
class Invited:
    """A patient who was invited, with the code, which is shown once."""

    patient: NewPatient
    code: str


def read_list(
    text: str, languages: Sequence[str], region: str | None, taken: frozenset[str]
) -> tuple[NewPatient, ...]:
    """The patients of a table with commas or semicolons and a header. Raises ListError.

    languages: those patients can be spoken to in. region: whose way of writing telephone numbers
    is understood [ISO 3166 letters]; None: only with a country code. taken: names, in small
    letters, that patients of the clinic have already.
    """
    reader = _Reader(languages, region, taken)
    found = tuple(reader.patients(text.removeprefix("\ufeff")))
    if reader.problems:
        raise ListError(reader.problems)
    return found


def names_taken(store: Store) -> frozenset[str]:
    """Names of the clinic's patients, in small letters."""
    return frozenset(person.name.casefold() for person in people.by_role(store, Role.PATIENT))


def invite_all(
    store: Store, clinic: Clinic, patients: Sequence[NewPatient], now: datetime
) -> tuple[Invited, ...]:
    """Invite each, in the transaction of the caller: one that is refused undoes all."""
    return tuple(Invited(one, _invite(store, clinic, one, now)) for one in patients)


def _invite(store: Store, clinic: Clinic, one: NewPatient, now: datetime) -> str:
    code = invite_patient(store, clinic, one.name, one.tendon, None, now, one.level)
    (person,) = (p for p in people.by_role(store, Role.PATIENT) if p.name == one.name)
    if one.language is not None:
        people.set_language(store, person.id, one.language)
    if one.morning_time is not None:
        episode = plans.of_patient(store, person.id)
        plans.set_morning_time(store, episode.id, one.morning_time)
    return code


class _Reader:
    """One pass over a list: gathers problems on the way."""

    def __init__(self, languages: Sequence[str], region: str | None, taken: frozenset[str]) -> None:
        self._languages, self._region = languages, region
        self._taken = dict.fromkeys(taken, "a patient of the clinic")
        self.problems: list[BadCell] = []
        self._readers: Mapping[str, Callable[[str], Any]] = {
            "name": self._name,
            "tendon": _tendon,
            "language": self._language,
            "morning_time": _morning_time,
            "channel": _channel,
            "address": str,
            "level": _level,
        }

    def patients(self, text: str) -> Iterator[NewPatient]:
        """The rows that can be read."""
        rows = _numbered_rows(text)
        line, header = next(rows, (1, []))
        columns = [name.strip().lower() for name in header]
        self._check_header(line, columns)
        if self.problems:
            return
        count = 0
        for line, cells in rows:
            count += 1
            found = self._patient(line, columns, cells)
            if found is not None:
                yield found
        if not count:
            self.problems.append(BadCell(line, "", "at least one patient under the header", ""))

    def _check_header(self, line: int, columns: list[str]) -> None:
        for index, name in enumerate(columns):
            if name not in COLUMNS or name in columns[:index]:
                expected = f"each of {', '.join(COLUMNS)} at most once"
                self.problems.append(BadCell(line, str(index + 1), expected, name))
        for name in NEEDED:
            if name not in columns:
                expected = f"a header with the column {name}"
                self.problems.append(BadCell(line, "", expected, ", ".join(columns)))

    def _patient(self, line: int, columns: list[str], cells: list[str]) -> NewPatient | None:
        """One row; None where something in it is wrong."""
        before = len(self.problems)
        if len(cells) > len(columns):
            expected = f"{len(columns)} cells, as in the header"
            self.problems.append(BadCell(line, "", expected, f"{len(cells)} cells"))
        padded = [cell.strip() for cell in cells] + [""] * (len(columns) - len(cells))
        held: dict[str, Any] = {}
        for column, cell in zip(columns, padded, strict=False):
            if not cell and column not in NEEDED:
                continue
            try:
                held[column] = self._readers[column](cell)
            except ValueError as error:
                self.problems.append(BadCell(line, column, str(error), cell))
        self._check_address(line, held)
        if len(self.problems) > before:
            return None
        self._taken[held["name"].casefold()] = f"line {line}"
        return NewPatient(line=line, **held)

    def _check_address(self, line: int, held: dict[str, Any]) -> None:
        """A number is read by the region; an address without its channel says nothing."""
        address, channel = held.get("address"), held.get("channel")
        if address is not None and channel is None:
            expected = "a channel for the address, " + " or ".join(CHANNELS)
            self.problems.append(BadCell(line, "channel", expected, ""))
        elif address is not None and channel == "sms":
            number = number_in(address, self._region or "ZZ")
            if number is None:
                where = f"as in {self._region}" if self._region else "with its country code"
                expected = f"a telephone number, {where}"
                self.problems.append(BadCell(line, "address", expected, address))
            held["address"] = number

    def _name(self, cell: str) -> str:
        name = " ".join(cell.split())
        if not name or len(name) > NAME_MAX or not name.isprintable():
            raise ValueError(f"a name of 1 to {NAME_MAX} characters")
        holder = self._taken.get(name.casefold())
        if holder is not None:
            raise ValueError(f"a name of its own, as {holder} has this one; add an initial")
        return name

    def _language(self, cell: str) -> str:
        if cell.lower() not in self._languages:
            raise ValueError(
                f"a language that patients can be spoken to in: {', '.join(self._languages)}"
            )
        return cell.lower()


def _tendon(cell: str) -> Tendon:
    try:
        return Tendon(cell.lower())
    except ValueError:
        raise ValueError(" or ".join(Tendon)) from None


def _morning_time(cell: str) -> time:
    if re.fullmatch(r"([01]?[0-9]|2[0-3]):[0-5][0-9]", cell):
        return time.fromisoformat(cell.zfill(5))
    raise ValueError("a time of day such as 07:30")


def _channel(cell: str) -> str:
    if cell.lower() not in CHANNELS:
        raise ValueError(" or ".join(CHANNELS))
    return cell.lower()


def _level(cell: str) -> Position:
    place = re.fullmatch(r"([1-9][0-9]?)(?: ([1-9][0-9]?))?", cell)
    if place is None:
        raise ValueError("a level such as 3, or level and dose such as 3 2")
    return Position(int(place[1]), int(place[2] or 1))


def _numbered_rows(text: str) -> Iterator[tuple[int, list[str]]]:
    """The rows that hold something, with the line each begins on [from 1]."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = ";" if first.count(";") > first.count(",") else ","
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    begins = 1
    for cells in rows:
        if any(cell.strip() for cell in cells):
            yield begins, cells
        begins = rows.line_num + 1
