"""Reads a protocol from text and refuses what cannot be used, each problem with its line.

Nothing is filled in: a number without unit or source, or a key it does not know, is a problem.
Whether the ladder can be climbed: `protocol_checks`. The shipped files in `protocols/` are the one
thing in `rules` that is read from disk.
Read next: `protocol_keys` for what a file may hold.
"""

from __future__ import annotations

import re
import tomllib
from functools import cache
from importlib import resources
from typing import Any, TypeGuard

from rules.errors import ProtocolError
from rules.protocol import Cited, Dose, DoseUnit, Level, Protocol, Settings, Tendon
from rules.protocol_checks import ladder_problems
from rules.protocol_keys import (
    EITHER_TENDON,
    HEAD_TEXTS,
    LEVEL_NUMBERS,
    LEVEL_WORDS,
    SETTINGS,
    Asked,
)
from rules.protocol_lines import Key, line_of, lines_of_keys
from rules.sources import MARKS, is_known

SHIPPED = ("mid-portion-ladder", "insertional-ladder", "heavy-slow")
"""Names of the protocols that come with the project."""

_STEP = re.compile(r"(?P<sets>\d{1,2}) x (?P<amount>\d{1,3})(?: \+ (?P<load>\d{1,3}(?:\.\d)?) kg)?")


def read_protocol(text: str) -> Protocol:
    """The protocol in a TOML text. Raises ProtocolError for the first problem, by line."""
    protocol, problems = _read(text)
    if protocol is None:
        raise problems[0]
    return protocol


def check_protocol(text: str) -> list[ProtocolError]:
    """All that is wrong with a TOML text, by line; empty where it can be used."""
    return _read(text)[1]


def borrowed_name(protocol: Protocol) -> str:
    """What is wrong with the name of a clinic's protocol: that and the version of a shipped one,
    with something else in it, would make two ladders one in every record. Empty where it is not."""
    known = protocol.name in SHIPPED and shipped_protocol(protocol.name)
    if not known or known == protocol or known.version != protocol.version:
        return ""
    return (
        f"a name or a version of its own was expected, since it differs from the shipped"
        f" {protocol.name}, version {protocol.version}"
    )


@cache
def shipped_protocol(name: str) -> Protocol:
    """One of the protocols of `SHIPPED`. Raises ProtocolError for any other name."""
    return read_protocol(shipped_text(name))


def shipped_text(name: str) -> str:
    """The TOML text of a shipped protocol. Raises ProtocolError for a name not in `SHIPPED`."""
    if name not in SHIPPED:
        raise ProtocolError(f"one of {', '.join(SHIPPED)} was expected; found {name!r}")
    return resources.files("rules").joinpath("protocols", f"{name}.toml").read_text("utf-8")


def _read(text: str) -> tuple[Protocol | None, list[ProtocolError]]:
    """The protocol, or None and what is wrong."""
    try:
        held = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"line (\d+)", str(error))
        line = int(found[1]) if found else None
        return None, [ProtocolError(f"a TOML file was expected; {error}", line=line)]
    reading = _Reading(text)
    protocol = reading.protocol(held)
    if protocol is not None:
        for key, message in ladder_problems(protocol):
            reading.refuse(key, message)
    if reading.problems:
        return None, sorted(reading.problems, key=lambda problem: problem.line or 0)
    return protocol, []


class _Reading:
    """One pass over a file: gathers problems and sources on the way."""

    def __init__(self, text: str) -> None:
        self._lines = lines_of_keys(text)
        self.problems: list[ProtocolError] = []
        self._cited: list[Cited] = []

    def refuse(self, key: Key, message: str) -> None:
        """Note a problem at the line of a key."""
        self.problems.append(ProtocolError(message, line=line_of(self._lines, key)))

    def protocol(self, held: dict[str, Any]) -> Protocol | None:
        """The whole file; None where a part is missing or wrong."""
        self._only((), held, (*HEAD_TEXTS, "settings", "levels"))
        head = {name: self._text((), held, name) for name in HEAD_TEXTS}
        tendon = self._tendon(head["tendon"])
        like = _shipped_like(tendon, held.get("levels"))
        settings = self._settings(held.get("settings"), like)
        levels = self._levels(held.get("levels"))
        if self.problems or settings is None:
            return None
        return Protocol(
            name=head["name"],
            title=head["title"],
            version=head["version"],
            tendon=tendon,
            settings=settings,
            levels=levels,
            cited=tuple(self._cited),
        )

    def _tendon(self, found: str) -> Tendon | None:
        allowed = [*Tendon, EITHER_TENDON]
        if found and found not in allowed:
            self.refuse(("tendon",), f"tendon is one of {', '.join(allowed)}; found {found!r}")
        return Tendon(found) if found in list(Tendon) else None

    def _settings(self, table: object, like: str) -> Settings | None:
        """All settings; one that is missing is told with the line of the shipped file `like`."""
        key = ("settings",)
        if not isinstance(table, dict):
            self.refuse(key, "a table [settings] was expected; found none")
            return None
        self._only(key, table, tuple(SETTINGS))
        missing = [name for name in SETTINGS if name not in table]
        for name in missing:
            shipped = _setting_in(like, name)
            self.refuse((*key, name), f"[settings] needs {name}; {like} has: {shipped}")
        values = {
            name: self._number(key, table, name, asked)
            for name, asked in SETTINGS.items()
            if name not in missing
        }
        if missing or None in values.values():
            return None
        return Settings(**values)  # type: ignore[arg-type]  # SETTINGS names its fields, tested

    def _levels(self, tables: object) -> tuple[Level, ...]:
        are_tables = isinstance(tables, list) and all(isinstance(t, dict) for t in tables)
        if not isinstance(tables, list) or not tables or not are_tables:
            self.refuse(("levels",), "at least one table [[levels]] was expected; found none")
            return ()
        return tuple(
            self._level(("levels", number), table) for number, table in enumerate(tables, start=1)
        )

    def _level(self, key: Key, table: dict[str, Any]) -> Level:
        self._only(key, table, (*LEVEL_WORDS, *LEVEL_NUMBERS))
        return Level(
            name=self._text(key, table, "name"),
            exercise=self._text(key, table, "exercise"),
            tempo=self._tempo(key, table),
            doses=self._doses((*key, "doses"), table.get("doses")),
            days_min=self._count(key, table, "days_min"),
            spacing_hours=self._count(key, table, "spacing_hours"),
            heel_raises_min=self._count_if_there(key, table, "heel_raises_min"),
            raise_days_min=self._count_if_there(key, table, "raise_days_min"),
            begins_from_raises=self._count_if_there(key, table, "begins_from_raises"),
            deficit=self._flag(key, table, "deficit"),
            hops=self._flag(key, table, "hops"),
            heavy=self._flag(key, table, "heavy"),
        )

    def _tempo(self, key: Key, table: dict[str, Any]) -> str:
        """How fast: a text with the source of the seconds in it."""
        here, held = (*key, "tempo"), table.get("tempo")
        if not isinstance(held, dict):
            self.refuse(here, 'tempo = { text = "...", source = "..." } was expected')
            return ""
        self._only(here, held, ("text", "source", "note"))
        self._cite(here, held, "text")
        return self._text(here, held, "text")

    def _doses(self, key: Key, held: object) -> tuple[Dose, ...]:
        if not isinstance(held, dict):
            self.refuse(key, "doses = { unit, source, steps } was expected; found none")
            return ()
        self._only(key, held, ("unit", "source", "note", "steps"))
        unit, steps = held.get("unit"), held.get("steps")
        if unit not in list(DoseUnit):
            self.refuse(key, f"unit of doses is one of {', '.join(DoseUnit)}; found {unit!r}")
            return ()
        self._cite(key, held, unit)
        if not isinstance(steps, list) or not steps:
            self.refuse(key, "at least one step of doses was expected; found none")
            return ()
        doses = [self._dose(key, DoseUnit(unit), step) for step in steps]
        return tuple(dose for dose in doses if dose is not None)

    def _dose(self, key: Key, unit: DoseUnit, step: object) -> Dose | None:
        found = _STEP.fullmatch(step) if isinstance(step, str) else None
        if found is None or not int(found["sets"]) or not int(found["amount"]):
            self.refuse(
                key, f'a step like "3 x 15" or "3 x 15 + 5 kg" was expected; found {step!r}'
            )
            return None
        return Dose(int(found["sets"]), int(found["amount"]), unit, float(found["load"] or 0))

    def _count(self, key: Key, table: dict[str, Any], name: str) -> int:
        """A whole number of a level; 0 where it is refused, and then no protocol comes of it."""
        return int(self._number(key, table, name, LEVEL_NUMBERS[name]) or 0)

    def _count_if_there(self, key: Key, table: dict[str, Any], name: str) -> int | None:
        """A whole number of a level that may be left out."""
        return self._count(key, table, name) if name in table else None

    def _number(
        self, key: Key, table: dict[str, Any], name: str, asked: Asked
    ) -> int | float | None:
        """One number with its unit and source, within its range; None where it is refused."""
        here, held = (*key, name), table.get(name)
        if not isinstance(held, dict):
            self.refuse(here, f"{name} = {{ value, unit, source }} was expected; found {held!r}")
            return None
        self._only(here, held, ("value", "unit", "source", "note"))
        self._cite(here, held, asked.unit)
        if held.get("unit") != asked.unit:
            self.refuse(here, f"unit of {name} is {asked.unit!r}; found {held.get('unit')!r}")
        value = held.get("value")
        if _is_number(value, asked.whole) and asked.lowest <= value <= asked.highest:
            return value
        kind = "a whole number" if asked.whole else "a number"
        span = f"from {asked.lowest} to {asked.highest} {asked.unit}"
        self.refuse(here, f"{name} is {kind} {span}; found {value!r}")
        return None

    def _cite(self, key: Key, held: dict[str, Any], unit: str) -> None:
        source = held.get("source")
        if not isinstance(source, str) or not is_known(source):
            self.refuse(
                key,
                f"{key[-1]} needs the key of a known source, or one of {', '.join(MARKS)};"
                f" found {source!r}",
            )
            return
        path = ".".join(str(part) for part in key)
        self._cited.append(Cited(path, unit, source, str(held.get("note", ""))))

    def _text(self, key: Key, table: dict[str, Any], name: str) -> str:
        value = table.get(name)
        if isinstance(value, str) and value.strip():
            return value
        self.refuse((*key, name), f"{name} is a text that says something; found {value!r}")
        return ""

    def _flag(self, key: Key, table: dict[str, Any], name: str) -> bool:
        value = table.get(name, False)
        if not isinstance(value, bool):
            self.refuse((*key, name), f"{name} is true or false; found {value!r}")
        return value is True

    def _only(self, key: Key, table: dict[str, Any], allowed: tuple[str, ...]) -> None:
        """Refuse each key that is not known here."""
        for name in table:
            if name not in allowed:
                known = ", ".join(allowed)
                self.refuse((*key, name), f"a key of {known} was expected; found {name!r}")


def _shipped_like(tendon: Tendon | None, levels: object) -> str:
    """The shipped protocol that is most like one for this tendon with these levels."""
    mid_portion, insertional, heavy = SHIPPED
    tables = levels if isinstance(levels, list) else []
    if any(isinstance(table, dict) and table.get("heavy") is True for table in tables):
        return heavy
    return insertional if tendon is Tendon.INSERTIONAL else mid_portion


def _setting_in(shipped: str, name: str) -> str:
    """The line of a setting in a shipped file, as it can be put into another."""
    return next(line for line in shipped_text(shipped).splitlines() if line.startswith(f"{name} ="))


def _is_number(value: object, whole: bool) -> TypeGuard[int | float]:
    """Whether a value of the file is a number; true and false are none."""
    return isinstance(value, int if whole else int | float) and not isinstance(value, bool)
