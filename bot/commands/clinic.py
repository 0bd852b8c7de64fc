"""Commands on a clinic's store: invitations. A code is shown once and can be used once."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Annotated

import typer

from bot.channels.telegram_profile import INVITATION, bot_name
from bot.clock import SystemClock
from bot.commands.serve import ConfigOption
from bot.enrolling import invite_patient
from bot.errors import RefusedError
from bot.settings import Settings, clinic_of, read_settings
from bot.store import audit, people
from bot.store.database import Store
from bot.store.migrations import migrate
from bot.store.people import INVITATION_DAYS, Role
from rules.protocol import Tendon


def enrol(
    name: Annotated[str, typer.Argument(help="The patient's first name, as the bot will say it.")],
    tendon: Annotated[Tendon, typer.Option(help="Where along the tendon it hurts.")],
    config: ConfigOption = Path("clinic.toml"),
) -> None:
    """Invite a patient. Example: nextmorning enrol Ana --tendon mid-portion"""
    settings, store = _opened(config)
    code = store.do(invite_patient, clinic_of(settings), name, tendon, None, SystemClock().now())
    _show(settings, name, code)


def invite_clinician(
    name: Annotated[str, typer.Argument(help="The clinician's name, as colleagues know it.")],
    config: ConfigOption = Path("clinic.toml"),
    lead: Annotated[bool, typer.Option("--lead", help="May change anyone's plan.")] = False,
) -> None:
    """Invite a clinician. Example: nextmorning invite-clinician "Ines A" """
    settings, store = _opened(config)
    code = store.do(_invite_clinician, name, lead, settings.clinic.language)
    _show(settings, name, code)


def _invite_clinician(store: Store, name: str, lead: bool, language: str) -> str:
    now = SystemClock().now()
    role = Role.LEAD_CLINICIAN if lead else Role.CLINICIAN
    if any(person.name == name for person in people.by_role(store, *people.CLINICAL)):
        raise RefusedError(f"there is a clinician named {name!r} already")
    person = people.add(store, role, name, now, language=language)
    audit.note(store, person.id, "clinician invited", now)
    return people.invite(store, person.id, None, now)


def _opened(config: Path) -> tuple[Settings, Store]:
    settings = read_settings(config)
    store = Store(settings.store.path)
    migrate(store)
    return settings, store


def _show(settings: Settings, name: str, code: str) -> None:
    typer.echo(f"Code for {name}: {code}")
    typer.echo(f"It can be used once, within {INVITATION_DAYS} days. Ask {name} to send it to the")
    typer.echo(f"bot of {settings.clinic.name}; on Telegram, /start {code} does the same.")
    link = _link(settings, code)
    if link is not None:
        typer.echo(f"On a phone with Telegram, this opens the chat: {link}")


def _link(settings: Settings, code: str) -> str | None:
    """A link to the bot with the code in it; None where the bot's name cannot be asked."""
    table = settings.telegram
    if table is None or not table.token.get_secret_value():
        return None
    name = asyncio.run(bot_name(table.token.get_secret_value(), table.base_url or None))
    return None if name is None else INVITATION.format(name=name, code=code)
