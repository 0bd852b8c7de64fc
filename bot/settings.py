"""Reads a clinic's configuration: a TOML file, with secrets from the environment if they stand
there. Every problem is found at once, each with its key and what was expected."""

from __future__ import annotations

import os
import tomllib
from datetime import date, time, timedelta
from pathlib import Path
from typing import Annotated, Literal, get_args
from zoneinfo import available_timezones

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, SecretStr, ValidationError

from bot.clinic import Clinic
from bot.errors import SettingsError
from rules.errors import RulesError
from rules.escalation import Pace
from rules.lexicon import shipped_lexicon
from rules.protocol import Protocol, Tendon
from rules.protocol_reader import SHIPPED, read_protocol, shipped_text
from rules.working_hours import WorkingHours

Weekday = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]
WEEKDAYS: tuple[Weekday, ...] = get_args(Weekday)

# The environment variable that holds the bot token, so that it need not stand in a file.
TOKEN_VARIABLE = "NEXTMORNING_TELEGRAM_TOKEN"


def _known_zone(name: str) -> str:
    if name not in available_timezones():
        raise ValueError(f"expected an IANA time zone such as Europe/Lisbon, found {name!r}")
    return name


Zone = Annotated[str, AfterValidator(_known_zone)]
Filled = Annotated[str, Field(min_length=1)]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class ClinicTable(_Table):
    """[clinic]: what patients and clinicians are told about it."""

    name: Filled
    phone: Filled
    emergency_number: Filled
    crisis_line: Filled
    zone: Zone
    language: Literal["en"] = "en"


class HoursTable(_Table):
    """[hours]: when the clinic works, for what can wait until then."""

    opens: time = time(8, 0)
    closes: time = time(18, 0)
    days: frozenset[Weekday] = frozenset(WEEKDAYS[:5])
    days_off: frozenset[date] = frozenset()


class PromptsTable(_Table):
    """[prompts]: when patients may be asked, on their own wall clock."""

    quiet_from: time = time(21, 30)
    quiet_until: time = time(7, 0)
    weekly_on: Weekday = "sunday"


class EscalationTable(_Table):
    """[escalation]: how long one channel is given before the next is tried."""

    emergency_minutes: Annotated[int, Field(ge=1, le=60)] = 5
    same_day_minutes: Annotated[int, Field(ge=1, le=480)] = 30
    next_working_day_hours: Annotated[int, Field(ge=1, le=48)] = 4


class ProtocolsTable(_Table):
    """[protocols]: which protocol a new patient gets; `files` adds the clinic's own."""

    mid_portion: Filled = "mid-portion-ladder"
    insertional: Filled = "insertional-ladder"
    files: tuple[Path, ...] = ()


class TelegramTable(_Table):
    """[telegram]: the bot's token; better kept in the environment."""

    token: SecretStr = SecretStr("")
    base_url: str = ""


class StoreTable(_Table):
    """[store]: where the database file stands."""

    path: Path = Path("nextmorning.sqlite")


class Settings(_Table):
    """The whole configuration file."""

    clinic: ClinicTable
    hours: HoursTable = HoursTable()
    prompts: PromptsTable = PromptsTable()
    escalation: EscalationTable = EscalationTable()
    protocols: ProtocolsTable = ProtocolsTable()
    telegram: TelegramTable | None = None
    store: StoreTable = StoreTable()


def read_settings(path: Path) -> Settings:
    """Read a configuration file. Raises SettingsError listing every problem with its key."""
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise SettingsError((f"{path}: cannot be read: {error.strerror}",)) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise SettingsError((f"{path}: is not TOML: {error}",)) from error
    try:
        settings = Settings.model_validate(data)
    except ValidationError as error:
        raise SettingsError(tuple(_sentence(problem) for problem in error.errors())) from error
    return _with_environment(settings)


def _sentence(problem: object) -> str:
    assert isinstance(problem, dict)
    key = ".".join(str(part) for part in problem["loc"])
    if problem["type"] == "extra_forbidden":
        return f"{key}: there is no such key; see deploy/clinic.example.toml for those there are"
    if problem["type"] == "missing":
        return f"{key}: is missing"
    return f"{key}: {problem['msg'].removeprefix('Value error, ')}, found {problem['input']!r}"


def _with_environment(settings: Settings) -> Settings:
    token = os.environ.get(TOKEN_VARIABLE, "").strip()
    if not token:
        return settings
    telegram = settings.telegram or TelegramTable()
    told = telegram.model_copy(update={"token": SecretStr(token)})
    return settings.model_copy(update={"telegram": told})


def clinic_of(settings: Settings) -> Clinic:
    """The clinic as the working functions need it. Raises SettingsError for a protocol file that
    cannot be used, or hours that leave no working time."""
    problems: list[str] = []
    texts = {name: shipped_text(name) for name in SHIPPED}
    protocols = {name: read_protocol(text) for name, text in texts.items()}
    for file in settings.protocols.files:
        try:
            text = file.read_text(encoding="utf-8")
            protocol = read_protocol(text)
        except (OSError, UnicodeDecodeError, RulesError) as error:
            problems.append(f"protocols.files: {file}: {error}")
            continue
        texts[protocol.name], protocols[protocol.name] = text, protocol
    ladders = {
        Tendon.MID_PORTION: settings.protocols.mid_portion,
        Tendon.INSERTIONAL: settings.protocols.insertional,
    }
    problems += _ladder_problems(ladders, protocols)
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
        lexicon=shipped_lexicon(table.language),
        protocols=protocols,
        protocol_texts=texts,
        ladders=ladders,
        quiet_from=settings.prompts.quiet_from,
        quiet_until=settings.prompts.quiet_until,
        weekly_on=WEEKDAYS.index(settings.prompts.weekly_on),
        language=table.language,
    )


def _ladder_problems(
    ladders: dict[Tendon, str], protocols: dict[str, Protocol]
) -> list[str]:
    problems = []
    for tendon, name in ladders.items():
        key = f"protocols.{tendon.name.lower()}"
        if name not in protocols:
            problems.append(f"{key}: no protocol is named {name!r}; {sorted(protocols)}")
        elif protocols[name].tendon not in (None, tendon):
            problems.append(f"{key}: {name} is for the other kind of tendon")
    return problems


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
