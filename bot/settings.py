"""Reads a clinic's configuration: a TOML file, with secrets from the environment if they stand
there. Every problem is found at once, each with its key and what was expected."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Mapping
from copy import deepcopy
from datetime import date, time, timedelta
from pathlib import Path
from typing import Annotated, Any, Literal, Self, TypeVar, get_args
from zoneinfo import available_timezones

from pydantic import AfterValidator, Field, ValidationError, model_validator

from bot.channels import registry
from bot.channels.tables import ChannelTable, Filled, Shared, SmsTable, Table, WebTable
from bot.clinic import Clinic, Shift
from bot.errors import SettingsError
from bot.operations.custom_wording import Wording, read_wording, wording_problems
from bot.ports import LAST_RESORT
from dialogs.catalogues import languages
from rules.errors import RulesError
from rules.escalation import Pace
from rules.protocol import Protocol, Tendon
from rules.protocol_reader import (
    SHIPPED,
    borrowed_name,
    check_protocol,
    read_protocol,
    shipped_text,
)
from rules.working_hours import WorkingHours

Weekday = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]
WEEKDAYS: tuple[Weekday, ...] = get_args(Weekday)

T = TypeVar("T", bound=Table)

# Said in place of what the reading of a value says of it, by the kind of problem.
WORDS_FOR = dict.fromkeys(("time_parsing", "time_type"), 'expected a time such as "08:00"') | {
    "date_from_datetime_parsing": "expected a date such as 2026-12-25",
    "string_too_short": "is empty",
}

# What is wrong under what is wrong comes to light so many times [tries]. Convention.
MENDED_AT_MOST = 4

NO_SMPP = (
    "text messages by SMPP now go through a gateway on this machine: copy what stands here into "
    "deploy/gateway/carrier.example.conf, and put [sms_gateway] in place of [smpp]"
)


def _known_zone(name: str) -> str:
    if name not in available_timezones():
        raise ValueError(f"expected an IANA time zone such as Europe/Lisbon, found {name!r}")
    return name


Zone = Annotated[str, AfterValidator(_known_zone)]


def _known_language(code: str) -> str:
    if code not in languages():
        raise ValueError(f"expected one of {', '.join(languages())}")
    return code


Language = Annotated[str, AfterValidator(_known_language)]


def _uri(text: str) -> str:
    if not re.fullmatch(r"[A-Za-z][A-Za-z0-9+.-]*:[^\s|]+", text):
        raise ValueError("expected a URI such as https://clinic.example/patients")
    return text


class ClinicTable(Table):
    """[clinic]: what patients and clinicians are told about it."""

    name: Filled
    phone: Filled
    emergency_number: Filled
    crisis_line: Filled
    zone: Zone
    language: Language = "en"
    identifier_system: Annotated[str, AfterValidator(_uri)] = ""


class HoursTable(Table):
    """[hours]: when the clinic works, for what can wait until then."""

    opens: time = time(8, 0)
    closes: time = time(18, 0)
    days: frozenset[Weekday] = frozenset(WEEKDAYS[:5])
    days_off: frozenset[date] = frozenset()


class PromptsTable(Table):
    """[prompts]: when patients may be asked, on their own wall clock."""

    quiet_from: time = time(21, 30)
    quiet_until: time = time(7, 0)
    weekly_on: Weekday = "sunday"
    visa_a: bool = True
    follow_up_always: bool = False
    ask_less: bool = False

    @model_validator(mode="after")
    def _quiet_hours_end(self) -> Self:
        """Nobody would ever be asked anything."""
        if self.quiet_from == self.quiet_until:
            raise ValueError("quiet_until was expected to be another time than quiet_from")
        return self


class DigestTable(Table):
    """[digest]: when clinicians get the week in one picture; without the table they get none."""

    weekday: Weekday = "monday"
    at: Annotated[time, Field(alias="time")] = time(8, 30)


class EscalationTable(Table):
    """[escalation]: how long one channel is given before the next is tried; the pauses once
    everyone was told in vain; how long somebody may have one before they are reminded."""

    emergency_minutes: Annotated[int, Field(ge=1, le=60)] = 5
    same_day_minutes: Annotated[int, Field(ge=1, le=480)] = 30
    next_working_day_hours: Annotated[int, Field(ge=1, le=48)] = 4
    first_pause_minutes: Annotated[int, Field(ge=5, le=60)] = 60
    longest_pause_hours: Annotated[int, Field(ge=1, le=24)] = 12
    emergency_held_hours: Annotated[int, Field(ge=1, le=24)] = 2
    same_day_held_hours: Annotated[int, Field(ge=1, le=48)] = 6
    next_working_day_held_hours: Annotated[int, Field(ge=1, le=168)] = 72


class ShiftTable(Table):
    """[[rota]]: when one clinician is on duty; named as in the invitation."""

    clinician: Filled
    days: frozenset[Weekday] = frozenset(WEEKDAYS[:5])
    opens: Annotated[time, Field(alias="from")]
    closes: Annotated[time, Field(alias="to")]
    days_off: frozenset[date] = frozenset()


class ProtocolsTable(Table):
    """[protocols]: which protocol a new patient gets; `files` adds the clinic's own."""

    mid_portion: Filled = "mid-portion-ladder"
    insertional: Filled = "insertional-ladder"
    files: tuple[Path, ...] = ()

    @property
    def ladders(self) -> dict[Tendon, str]:
        """The protocol of each tendon, by name."""
        return {Tendon.MID_PORTION: self.mid_portion, Tendon.INSERTIONAL: self.insertional}


class WordingTable(Table):
    """[wording]: a folder of the clinic's own messages; see `bot.operations.custom_wording`."""

    folder: Path | None = None


class StoreTable(Table):
    """[store]: where the database file stands."""

    path: Path = Path("nextmorning.sqlite")


class _File(Table):
    """The configuration file without the tables of channels."""

    clinic: ClinicTable
    hours: HoursTable = HoursTable()
    prompts: PromptsTable = PromptsTable()
    digest: DigestTable | None = None
    escalation: EscalationTable = EscalationTable()
    rota: tuple[ShiftTable, ...] = ()
    protocols: ProtocolsTable = ProtocolsTable()
    wording: WordingTable = WordingTable()
    web: WebTable | None = None
    sms: SmsTable | None = None
    store: StoreTable = StoreTable()


class Settings(_File):
    """The whole configuration. `channels`: the tables of those there are, by name."""

    channels: dict[str, ChannelTable]

    @property
    def shared(self) -> Shared:
        """The tables that several channels read."""
        return Shared(self.web, self.sms)


def read_settings(path: Path) -> Settings:
    """Read a configuration file. Raises SettingsError listing every problem with its key."""
    settings, problems = read_mended(path)
    if settings is None or problems:
        raise SettingsError(problems)
    return settings


def read_mended(path: Path) -> tuple[Settings | None, tuple[str, ...]]:
    """The settings as far as they can be read, so that what is wrong further on shows as well, and
    each problem with its key. None: nothing can be read."""
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        return None, (f"{path}: cannot be read: {error.strerror}",)
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        return None, (f"{path}: is not TOML: {error}",)
    problems: list[str] = []
    channels = {}
    for kind in registry.TABLES:
        given = kind.with_secrets(data.pop(kind.table, None), os.environ)
        table = None if given is None else _read(kind, given, problems, f"{kind.table}.")
        if table is not None:
            channels[kind.table] = table
    file = _read(_File, data, problems)
    settings = None if file is None else Settings.model_construct(**dict(file), channels=channels)
    return settings, tuple(problems)


def _read(kind: type[T], given: object, problems: list[str], before: str = "") -> T | None:
    """A table; what is wrong is added to `problems`, and mended. None where it cannot be."""
    try:
        return kind.model_validate(given)
    except ValidationError as error:
        problems += [_sentence(problem, before) for problem in error.errors()]
        wrong = error.errors()
    held = deepcopy(given)
    for _ in range(MENDED_AT_MOST):
        for problem in wrong:
            _mend(held, problem)
        try:
            return kind.model_validate(held)
        except ValidationError as error:
            wrong = error.errors()
    return None


def _mend(held: Any, problem: Mapping[str, Any]) -> None:
    """Put something usable where a key is missing, and leave out what is wrong. A table that is
    wrong as a whole is left out as one."""
    *way, last = problem["loc"] or ("",)
    for step in way:
        inner = held.get(step) if isinstance(held, dict) else None
        if not isinstance(inner, dict):
            last = step
            break
        held = inner
    if isinstance(held, dict):
        held.pop(last, None)
        if problem["type"] == "missing" and last == problem["loc"][-1]:
            held[last] = {} if last == "clinic" else "UTC"


def _sentence(problem: Mapping[str, Any], before: str) -> str:
    key = (before + ".".join(str(part) for part in problem["loc"])).removesuffix(".")
    if key == "smpp":
        return f"smpp: {NO_SMPP}"
    if problem["type"] == "extra_forbidden":
        return f"{key}: there is no such key; see deploy/clinic.example.toml for those there are"
    if problem["type"] == "missing":
        return f"{key}: is missing"
    if problem["type"] == "model_type":
        return f"{key}: expected a table [{key}], found {problem['input']!r}"
    says = problem["msg"].removeprefix("Value error, ").replace("Input should be", "expected")
    says = WORDS_FOR.get(problem["type"], says)
    shown = "" if isinstance(problem["input"], dict) else f", found {problem['input']!r}"
    return f"{key}: {says}" if "found" in says else f"{key}: {says}{shown}"


def clinic_of(settings: Settings) -> Clinic:
    """The clinic as the working functions need it. Raises SettingsError for a protocol file that
    cannot be used, or hours that leave no working time."""
    texts, protocols, problems = _protocols(settings.protocols.files)
    ladders = settings.protocols.ladders
    problems += _ladder_problems(ladders, protocols)
    wording = _wording(settings.wording.folder, protocols, problems)
    if problems:
        raise SettingsError(tuple(problems))
    table = settings.clinic
    return Clinic(
        name=table.name,
        phone=table.phone,
        emergency_number=table.emergency_number,
        crisis_line=table.crisis_line,
        zone=table.zone,
        pace=_pace(settings),
        protocols=protocols,
        protocol_texts=texts,
        ladders=ladders,
        **settings.prompts.model_dump(exclude={"weekly_on"}),
        weekly_on=WEEKDAYS.index(settings.prompts.weekly_on),
        language=table.language,
        identifier_system=table.identifier_system,
        wording=wording,
        wording_folder=settings.wording.folder,
        rota=tuple(_shift(table) for table in settings.rota),
        digest_on=None if settings.digest is None else WEEKDAYS.index(settings.digest.weekday),
        digest_at=time(8, 30) if settings.digest is None else settings.digest.at,
        last_resort=LAST_RESORT in settings.channels,
        page_url="" if settings.web is None else settings.web.page_url(),
        segments_a_month=None if settings.sms is None else settings.sms.monthly_segments,
        region=None if settings.sms is None else settings.sms.region,
        sms_number=next(filter(None, (one.own_number() for one in settings.channels.values())), ""),
        alarm_segments_a_day=None if settings.sms is None else settings.sms.alarm_segments_a_day,
    )


def _protocols(
    files: tuple[Path, ...],
) -> tuple[dict[str, str], dict[str, Protocol], list[str]]:
    """The texts and protocols that ship and the clinic's own, by name; and what is wrong."""
    problems: list[str] = []
    texts = {name: shipped_text(name) for name in SHIPPED}
    protocols = {name: read_protocol(text) for name, text in texts.items()}
    for file in files:
        try:
            text = file.read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError) as error:
            problems.append(f"protocols.files: {file}: {error}")
            continue
        if wrong := check_protocol(text):
            problems += [f"protocols.files: {file}: {problem}" for problem in wrong]
            continue
        protocol = read_protocol(text)
        if borrowed := borrowed_name(protocol):
            problems.append(f"protocols.files: {file}: {borrowed}")
            continue
        texts[protocol.name], protocols[protocol.name] = text, protocol
    return texts, protocols, problems


def _wording(folder: Path | None, protocols: dict[str, Protocol], problems: list[str]) -> Wording:
    """The clinic's own messages; what is wrong with them is added to `problems`."""
    if folder is None:
        return {}
    wording, unread = read_wording(folder)
    problems += unread
    problems += wording_problems(folder, wording, protocols.values())
    return wording


def _ladder_problems(ladders: dict[Tendon, str], protocols: dict[str, Protocol]) -> list[str]:
    problems = []
    for tendon, name in ladders.items():
        key = f"protocols.{tendon.name.lower()}"
        if name not in protocols:
            problems.append(f"{key}: no protocol is named {name!r}; {sorted(protocols)}")
        elif protocols[name].tendon not in (None, tendon):
            problems.append(f"{key}: {name} is for the other kind of tendon")
    return problems


def _shift(table: ShiftTable) -> Shift:
    return Shift(
        clinician=table.clinician,
        opens=table.opens,
        closes=table.closes,
        weekdays=frozenset(WEEKDAYS.index(day) for day in table.days),
        days_off=table.days_off,
    )


def _pace(settings: Settings) -> Pace:
    hours = settings.hours
    try:
        working = WorkingHours(
            zone=settings.clinic.zone,
            opens=hours.opens,
            closes=hours.closes,
            weekdays=frozenset(WEEKDAYS.index(day) for day in hours.days),
            days_off=hours.days_off,
        )
    except RulesError as error:
        raise SettingsError((f"hours: {error}",)) from error
    intervals = settings.escalation
    return Pace(
        working_hours=working,
        emergency_interval=timedelta(minutes=intervals.emergency_minutes),
        same_day_interval=timedelta(minutes=intervals.same_day_minutes),
        next_working_day_interval=timedelta(hours=intervals.next_working_day_hours),
        first_pause=timedelta(minutes=intervals.first_pause_minutes),
        longest_pause=timedelta(hours=intervals.longest_pause_hours),
        emergency_held=timedelta(hours=intervals.emergency_held_hours),
        same_day_held=timedelta(hours=intervals.same_day_held_hours),
        next_working_day_held=timedelta(hours=intervals.next_working_day_held_hours),
    )
