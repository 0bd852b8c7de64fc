"""Commands on a clinic's store: invitations. A code is shown once and can be used once."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

import typer

from bot.clinicians.invite import invite_staff
from bot.clinicians.invite_many import (
    ListError,
    invite_all,
    names_taken,
    one_row,
    read_list,
)
from bot.clinicians.remove import remove_staff
from bot.clock import SystemClock
from bot.commands.options import ConfigOption, JsonOption, known_language
from bot.errors import RefusedError
from bot.settings import Settings, clinic_of, read_settings
from bot.store import people
from bot.store.database import Store
from bot.store.migrations import migrate
from bot.store.people import INVITATION_DAYS, Role
from dialogs.catalogues import languages
from rules.protocol import Tendon

LanguageOption = Annotated[
    str | None,
    typer.Option(help="Language they are written to in, such as es; else the clinic's."),
]


def enrol(
    name: Annotated[str, typer.Argument(help="The patient's first name, as the bot will say it.")],
    tendon: Annotated[Tendon, typer.Option(help="Where along the tendon it hurts.")],
    level: Annotated[
        int | None, typer.Option(help="Level at which the ladder begins; else the first.")
    ] = None,
    dose: Annotated[int, typer.Option(help="Dose of that level.")] = 1,
    language: LanguageOption = None,
    identifier: Annotated[
        str | None, typer.Option(help="What the clinic's own record calls the patient.")
    ] = None,
    born_on: Annotated[str | None, typer.Option(help="Birth date, such as 1980-05-31.")] = None,
    config: ConfigOption = Path("clinic.toml"),
    as_json: JsonOption = False,
) -> None:
    """Invite a patient.

    Example: nextmorning enrol Ana --tendon mid-portion

    Example: nextmorning enrol Ana --tendon mid-portion --level 3 --dose 1

    Example: nextmorning enrol Luz --tendon insertional --language es --born-on 1980-05-31
    """
    if level is None and dose != 1:
        raise RefusedError(f"expected a level with the dose; found dose {dose} alone")
    given = {
        "name": name,
        "tendon": tendon.value,
        "language": language,
        "level": None if level is None else f"{level} {dose}",
        "identifier": identifier,
        "born_on": born_on,
    }
    settings, store = _opened(config)
    code = _invited(settings, store, {key: text or "" for key, text in given.items()})
    _show(settings, name, code, as_json)


def _invited(settings: Settings, store: Store, cells: Mapping[str, str]) -> str:
    """The code of a patient, invited as if alone in a list. Raises RefusedError."""
    clinic = clinic_of(settings)
    try:
        listed = read_list(one_row(cells), languages(), clinic.region, names_taken(store))
        (invited,) = store.do(invite_all, clinic, listed, SystemClock().now())
    except ListError as error:
        wrong = (
            one.sentence("en", one.column.replace("_", "-") or "place") for one in error.problems
        )
        raise RefusedError("\n".join(wrong)) from None
    return invited.code


def invite_clinician(
    name: Annotated[str, typer.Argument(help="The clinician's name, as colleagues know it.")],
    config: ConfigOption = Path("clinic.toml"),
    lead: Annotated[
        bool,
        typer.Option(
            "--lead", help="May close anyone's escalations, and hears daily that it runs."
        ),
    ] = False,
    language: LanguageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Invite a clinician; with --lead, the lead clinician.

    Example: nextmorning invite-clinician "Ines A"

    Example: nextmorning invite-clinician "Ines A" --lead --language es
    """
    role = Role.LEAD_CLINICIAN if lead else Role.CLINICIAN
    _invite(config, role, name, language, as_json)


def invite_owner(
    name: Annotated[str, typer.Argument(help="The name of whoever runs this for the clinic.")],
    config: ConfigOption = Path("clinic.toml"),
    language: LanguageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Invite an owner: hears every working day that it runs, reads nothing about a patient.

    Example: nextmorning invite-owner "Oda B"
    """
    _invite(config, Role.OWNER, name, language, as_json)


def remove_clinician(
    name: Annotated[str, typer.Argument(help="The whole name of the invitation.")],
    config: ConfigOption = Path("clinic.toml"),
) -> None:
    """Remove somebody of the clinic: they hear nothing more, and what they had goes on.

    Example: nextmorning remove-clinician "Ines A"
    """
    settings, store = _opened(config)
    clinic, now = clinic_of(settings), SystemClock().now()
    staff = people.by_role(store, *people.CLINICAL, Role.OWNER)
    person = next((one for one in staff if one.name.casefold() == name.casefold()), None)
    if person is None:
        names = ", ".join(one.name for one in staff)
        raise RefusedError(f"nobody of the clinic is named {name!r}; there are {names}")
    store.do(remove_staff, clinic, person, None, now)
    typer.echo(f"Removed: {person.name}. To let them in again: nextmorning invite-clinician")


def _invite(config: Path, role: Role, name: str, language: str | None, as_json: bool) -> None:
    """Add somebody of the clinic and show their code."""
    settings, store = _opened(config)
    spoken = known_language(language or settings.clinic.language)
    code = store.do(invite_staff, role, name, spoken, SystemClock().now())
    _show(settings, name, code, as_json)


def _opened(config: Path) -> tuple[Settings, Store]:
    settings = read_settings(config)
    store = Store(settings.store.path)
    migrate(store)
    return settings, store


def _show(settings: Settings, name: str, code: str, as_json: bool) -> None:
    links = (table.invitation(code) for table in settings.channels.values())
    link = next((link for link in links if link is not None), None)
    if as_json:
        told = {"name": name, "code": code, "days": INVITATION_DAYS, "link": link}
        typer.echo(json.dumps(told, indent=1))
        return
    typer.echo(f"Code for {name}: {code}")
    typer.echo(f"It can be used once, within {INVITATION_DAYS} days. Ask {name} to send it to the")
    typer.echo(f"bot of {settings.clinic.name}; on Telegram, /start {code} does the same.")
    if link is not None:
        typer.echo(f"On a phone with Telegram, this opens the chat: {link}")
