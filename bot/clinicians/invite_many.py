"""Reads a list of patients to invite and invites them: all of them, or none.

Every bad cell is told at once, with line and column, what was expected and what was found. A code
must come from the patient's own phone, so an address is only compared and told on the letter; it is
not believed before the patient writes from it. Read next: `letter`.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any

from bot.clinic import Clinic
from bot.clinicians.invite import invite_patient
from bot.clinicians.refusal import NotDoneError
from bot.errors import BotError
from bot.phone_numbers import number_in
from bot.store import people, plans
from bot.store.database import Store
from bot.store.people import Role
from dialogs.lines import line
from dialogs.turn import Value
from dialogs.words import bare, shipped_words
from rules.protocol import Position, Tendon
from rules.quantities import Minutes, Pain

COLUMNS = (
    "name", "tendon", "language", "morning_time", "channel", "address", "level", "side", "usual",
    "identifier", "born_on",
)  # fmt: skip
NEEDED = ("name", "tendon")
CHANNELS, SIDES = ("telegram", "sms"), ("left", "right", "both")

# Longest name that is taken [characters]. Convention: it stands in messages of 160.
NAME_MAX = 30

# An identifier of the clinic's own record. Convention: what such numbers are made of.
IDENTIFIER_MAX = 40
IDENTIFIER = re.compile(r"\w(?:[\w./ -]*\w)?")
# Nobody was born so long before today [years]. Convention.
AGE_MAX = 120


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
    side: str | None = None
    usual: tuple[int, int] | None = None
    identifier: str | None = None
    born_on: date | None = None


class CellError(ValueError):
    """A cell is not what was `expected`, a line of the catalogue with its values."""

    def __init__(self, expected: str, **values: str | int) -> None:
        super().__init__(expected)
        self.expected, self.values = expected, values


@dataclass(frozen=True)
class BadCell:
    """What is wrong with one cell, or with a whole line where `column` is empty."""

    line: int
    column: str
    expected: CellError | NotDoneError
    found: str

    def sentence(self, language: str, field: str = "") -> str:
        """Place, what was expected and what was found, in the language of whoever reads it.
        `field`: what the place is called, where there is but one line."""
        if isinstance(self.expected, NotDoneError):
            why = self.expected.in_language(language)
            place: dict[str, Value] = {"line": self.line, "patient": self.found}
            return why if field else line("not-invited", language, why=why, **place)
        expected = line(f"cell-{self.expected.expected}", language, **self.expected.values)
        values = {"expected": expected, "found": self.found}
        if field:
            return line("bad-field", language, field=field, **values)
        name = "bad-cell" if self.column else "bad-line"
        return line(name, language, line=self.line, column=self.column, **values)


class ListError(BotError):
    """The list cannot be used. `problems`: all that is wrong with it, in file order."""

    def __init__(self, problems: Sequence[BadCell]) -> None:
        super().__init__("\n".join(one.sentence("en") for one in problems))
        self.problems = tuple(problems)


@dataclass(frozen=True)
class Invited:
    """A patient who was invited, with the code, which is shown once."""

    patient: NewPatient
    code: str


def read_list(
    text: str, languages: Sequence[str], region: str | None, taken: frozenset[str]
) -> tuple[NewPatient, ...]:
    """The patients of a table with commas, semicolons or tabs and a header. Raises ListError.

    languages: those patients can be spoken to in. region: whose way of writing telephone numbers
    is understood [ISO 3166 letters]; None: only with a country code. taken: names, in small
    letters, that patients of the clinic have already.
    """
    reader = _Reader(languages, region, taken)
    found = tuple(reader.patients(text.removeprefix("\ufeff")))
    if reader.problems:
        raise ListError(reader.problems)
    return found


def one_row(cells: Mapping[str, str]) -> str:
    """A list of one patient, by column."""
    table = io.StringIO()
    csv.writer(table).writerows((cells.keys(), cells.values()))
    return table.getvalue()


def names_taken(store: Store) -> frozenset[str]:
    """Names of the clinic's patients, in small letters."""
    return frozenset(person.name.casefold() for person in people.by_role(store, Role.PATIENT))


def invite_all(
    store: Store,
    clinic: Clinic,
    patients: Sequence[NewPatient],
    now: datetime,
    made_by: int | None = None,
) -> tuple[Invited, ...]:
    """Invite each, in the transaction of the caller. Raises ListError with all that are refused,
    and then nobody is to be invited."""
    invited: list[Invited] = []
    problems: list[BadCell] = []
    for one in patients:
        try:
            invited.append(Invited(one, _invite(store, clinic, one, now, made_by)))
        except NotDoneError as error:
            problems.append(BadCell(one.line, "", error, one.name))
        except CellError as error:
            problems.append(BadCell(one.line, "born_on", error, str(one.born_on)))
    if problems:
        raise ListError(problems)
    return tuple(invited)


def _invite(
    store: Store, clinic: Clinic, one: NewPatient, now: datetime, made_by: int | None
) -> str:
    today = now.astimezone(clinic.zone_info).date()
    if one.born_on and (one.born_on > today or one.born_on.year < today.year - AGE_MAX):
        raise CellError("born-on")
    code = invite_patient(store, clinic, one.name, one.tendon, made_by, now, one.level)
    (person,) = (p for p in people.by_role(store, Role.PATIENT) if p.name == one.name)
    people.identify(store, person.id, one.identifier, one.born_on)
    if one.language is not None:
        people.set_language(store, person.id, one.language)
    episode = plans.of_patient(store, person.id)
    if one.morning_time is not None:
        plans.set_morning_time(store, episode.id, one.morning_time)
    plans.tell_before(store, episode.id, one.side, one.usual)
    return code


class _Reader:
    """One pass over a list: gathers problems on the way."""

    def __init__(self, languages: Sequence[str], region: str | None, taken: frozenset[str]) -> None:
        self._languages, self._region = languages, region
        self._taken = dict.fromkeys(taken, 0)
        self.problems: list[BadCell] = []
        self._readers: Mapping[str, Callable[[str], Any]] = {
            "name": self._name,
            "tendon": self._tendon,
            "language": self._language,
            "morning_time": _morning_time,
            "channel": _channel,
            "address": str,
            "level": _level,
            "side": self._side,
            "usual": _usual,
            "identifier": _identifier,
            "born_on": _born_on,
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
            self.problems.append(BadCell(line, "", CellError("nobody"), ""))

    def _check_header(self, line: int, columns: list[str]) -> None:
        for index, name in enumerate(columns):
            if name not in COLUMNS or name in columns[:index]:
                expected = CellError("columns", names=", ".join(COLUMNS))
                self.problems.append(BadCell(line, str(index + 1), expected, name))
        for name in NEEDED:
            if name not in columns:
                expected = CellError("header", title=name)
                self.problems.append(BadCell(line, "", expected, ", ".join(columns)))

    def _patient(self, line: int, columns: list[str], cells: list[str]) -> NewPatient | None:
        """One row; None where something in it is wrong."""
        before = len(self.problems)
        if len(cells) > len(columns):
            expected = CellError("cells", count=len(columns))
            self.problems.append(BadCell(line, "", expected, str(len(cells))))
        padded = [cell.strip() for cell in cells] + [""] * (len(columns) - len(cells))
        held: dict[str, Any] = {}
        for column, cell in zip(columns, padded, strict=False):
            if not cell and column not in NEEDED:
                continue
            try:
                held[column] = self._readers[column](cell)
            except CellError as error:
                self.problems.append(BadCell(line, column, error, cell))
        self._check_address(line, held)
        if len(self.problems) > before:
            return None
        self._taken[held["name"].casefold()] = line
        return NewPatient(line=line, **held)

    def _check_address(self, line: int, held: dict[str, Any]) -> None:
        """A number is read by the region; an address without its channel says nothing."""
        address, channel = held.get("address"), held.get("channel")
        if address is not None and channel is None:
            self.problems.append(BadCell(line, "channel", _one_of(CHANNELS), ""))
        elif address is not None and channel == "sms":
            number = number_in(address, self._region or "ZZ")
            if number is None:
                region = self._region
                number_as = CellError("number-in", region=region) if region else CellError("number")
                self.problems.append(BadCell(line, "address", number_as, address))
            held["address"] = number

    def _name(self, cell: str) -> str:
        name = " ".join(cell.split())
        if not name or len(name) > NAME_MAX or not name.isprintable():
            raise CellError("name", most=NAME_MAX)
        holder = self._taken.get(name.casefold())
        if holder is not None:
            raise CellError("name-twice", line=holder) if holder else CellError("name-taken")
        return name

    def _language(self, cell: str) -> str:
        if cell.lower() not in self._languages:
            raise _one_of(self._languages)
        return cell.lower()

    def _tendon(self, cell: str) -> Tendon:
        for language in self._languages:
            kind = shipped_words(language).clinician["tendons"].get(bare(cell))
            if kind is not None:
                return Tendon(kind)
        raise _one_of(Tendon)

    def _side(self, cell: str) -> str:
        for language in self._languages:
            side = shipped_words(language).answers.get(bare(cell))
            if side in SIDES:
                return side
        raise _one_of(SIDES)


def _one_of(choices: Iterable[str]) -> CellError:
    return CellError("one-of", choices=", ".join(choices))


def _morning_time(cell: str) -> time:
    if re.fullmatch(r"([01]?[0-9]|2[0-3]):[0-5][0-9]", cell):
        return time.fromisoformat(cell.zfill(5))
    raise CellError("time")


def _channel(cell: str) -> str:
    if cell.lower() not in CHANNELS:
        raise _one_of(CHANNELS)
    return cell.lower()


def _level(cell: str) -> Position:
    place = re.fullmatch(r"([1-9][0-9]?)(?: ([1-9][0-9]?))?", cell)
    if place is None:
        raise CellError("level")
    return Position(int(place[1]), int(place[2] or 1))


def _usual(cell: str) -> tuple[int, int]:
    """First-step pain [points] and morning stiffness [minutes]."""
    found = re.fullmatch(r"([0-9]{1,2})[ /]+([0-9]{1,3})", cell)
    if found is None or int(found[1]) > Pain.highest or int(found[2]) > Minutes.highest:
        raise CellError("usual", pain=Pain.highest, minutes=Minutes.highest)
    return int(found[1]), int(found[2])


def _identifier(cell: str) -> str:
    if len(cell) > IDENTIFIER_MAX or not IDENTIFIER.fullmatch(cell):
        raise CellError("identifier", most=IDENTIFIER_MAX)
    return cell


def _born_on(cell: str) -> date:
    """A birth date; that it can be one is seen when the patient is invited."""
    try:
        return datetime.strptime(cell, "%Y-%m-%d").date()
    except ValueError:
        raise CellError("born-on") from None


def _numbered_rows(text: str) -> Iterator[tuple[int, list[str]]]:
    """The rows that hold something, with the line each begins on [from 1]."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = max(",;\t", key=first.count)
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    begins = 1
    for cells in rows:
        if any(cell.strip() for cell in cells):
            yield begins, cells
        begins = rows.line_num + 1
