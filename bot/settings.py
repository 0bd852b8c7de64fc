"""Reads a clinic's configuration: a TOML file, with secrets from the environment if they stand
there. Every problem is found at once, each with its key and what was expected."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Mapping
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
    """[escalation]: how long one channel is given before the next is tried."""

    emergency_minutes: Annotated[int, Field(ge=1, le=60)] = 5
    same_day_minutes: Annotated[int, Field(ge=1, le=480)] = 30
    next_working_day_hours: Annotated[int, Field(ge=1, le=48)] = 4


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


class WordingTable(Table):
    """[wording]: the clinic's own messages; a folder with one folder a language, files named as
    the shipped templates; `nextmorning wording --list` shows them."""

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
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise SettingsError((f"{path}: cannot be read: {error.strerror}",)) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise SettingsError((f"{path}: is not TOML: {error}",)) from error
    problems: list[str] = []
    channels = {}
    for kind in registry.TABLES:
        given = kind.with_secrets(data.pop(kind.table, None), os.environ)
        if given is not None:
            channels[kind.table] = _read(kind, given, problems, f"{kind.table}.")
    file = _read(_File, data, problems)
    if problems:
        raise SettingsError(tuple(problems))
    return Settings.model_construct(**dict(file), channels=channels)


def _read(kind: type[T], given: object, problems: list[str], before: str = "") -> T:
    """A table; where it cannot be read, what is wrong is added to `problems`."""
    try:
        return kind.model_validate(given)
    except ValidationError as error:
        problems += [_sentence(problem, before) for problem in error.errors()]
        return kind.model_construct()


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
    return f"{key}: {problem['msg'].removeprefix('Value error, ')}, found {problem['input']!r}"


def clinic_of(settings: Settings) -> Clinic:
    """The clinic as the working functions need it. Raises SettingsError for a protocol file that
    cannot be used, or hours that leave no working time."""
    texts, protocols, problems = _protocols(settings.protocols.files)
    ladders = {
        Tendon.MID_PORTION: settings.protocols.mid_portion,
        Tendon.INSERTIONAL: settings.protocols.insertional,
    }
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
        quiet_from=settings.prompts.quiet_from,
        quiet_until=settings.prompts.quiet_until,
        weekly_on=WEEKDAYS.index(settings.prompts.weekly_on),
        visa_a=settings.prompts.visa_a,
        follow_up_always=settings.prompts.follow_up_always,
        language=table.language,
        identifier_system=table.identifier_system,
        wording=wording,
        rota=tuple(_shift(table) for table in settings.rota),
        digest_on=None if settings.digest is None else WEEKDAYS.index(settings.digest.weekday),
        digest_at=time(8, 30) if settings.digest is None else settings.digest.at,
        last_resort=LAST_RESORT in settings.channels,
        page_url="" if settings.web is None else settings.web.page_url(),
        segments_a_month=None if settings.sms is None else settings.sms.monthly_segments,
        region=None if settings.sms is None else settings.sms.region,
        sms_number=next(filter(None, (one.own_number() for one in settings.channels.values())), ""),
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
    )
