"""The command line: one file a group of commands, each a thin layer over a function elsewhere."""

from __future__ import annotations

import sys

import typer

from bot.commands.backup import backup, restore
from bot.commands.caseload import caseload
from bot.commands.clinic import enrol, invite_clinician, invite_owner
from bot.commands.enrol_many import HELP as ENROL_MANY_HELP
from bot.commands.enrol_many import enrol_many
from bot.commands.erase import erase
from bot.commands.escalation import escalation_app
from bot.commands.export import export
from bot.commands.measure import measure
from bot.commands.protocol import protocol_app
from bot.commands.rehearse import rehearse
from bot.commands.replay import HELP, replay
from bot.commands.report import report
from bot.commands.screen import screen
from bot.commands.serve import serve
from bot.commands.wording import wording
from bot.errors import BotError
from rules.errors import RulesError

app = typer.Typer(
    name="nextmorning",
    help="Asks a loaded Achilles tendon how it is, and tells patient and therapist what follows.",
    no_args_is_help=True,
    add_completion=True,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
)
app.command()(rehearse)
app.command()(serve)
app.command()(enrol)
app.command("enrol-many", help=ENROL_MANY_HELP)(enrol_many)
app.command("invite-clinician")(invite_clinician)
app.command("invite-owner")(invite_owner)
app.command()(caseload)
app.command(help=HELP)(replay)
app.command()(screen)
app.command()(measure)
app.command()(wording)
app.command()(backup)
app.command()(restore)
app.command()(export)
app.command()(report)
app.command()(erase)
app.add_typer(protocol_app)
app.add_typer(escalation_app)


def main() -> None:
    """Run the command line; an error of ours is a sentence and exit status 2."""
    try:
        app()
    except (BotError, RulesError) as error:
        print(f"nextmorning: {error}", file=sys.stderr)
        sys.exit(2)
