"""The command line: one file a group of commands, each a thin layer over a function elsewhere.

A command's file is imported when that command is called, so a command pays for what it uses only.
"""

from __future__ import annotations

import sys
from importlib import import_module
from importlib.metadata import version
from typing import Annotated, Any

import typer
from typer.core import TyperCommand

from bot.errors import BotError
from rules.errors import RulesError

COMMANDS = (
    ("rehearse", "rehearse", "Try the bot with made-up patients, on a page of this machine."),
    ("serve", "serve", "Run the bot for a clinic."),
    ("enrol", "clinic", "Invite a patient."),
    ("enrol-many", "enrol_many", "Invite a list of patients, and write a letter to each."),
    ("invite-clinician", "clinic", "Invite a clinician; with --lead, the lead clinician."),
    ("remove-clinician", "clinic", "Remove somebody of the clinic, who hears nothing more."),
    ("invite-owner", "clinic", "Invite the owner, who reads nothing about a patient."),
    ("caseload", "caseload", "Say who needs somebody, most urgent first, and why."),
    ("replay", "replay", "Say what the rules would have advised on each day of a paper diary."),
    ("screen", "screen", "Read messages, one a line, and say which warning sign each holds."),
    ("measure", "measure", "Measure protocols on invented patients."),
    ("wording", "wording", "Print every message, and how long it is as a text message."),
    ("backup", "backup", "Copy the database while the bot goes on serving."),
    ("restore", "backup", "Make a database of a copy, in the shape this version needs."),
    ("tell-owner", "tell_owner", "Tell the owner something while the bot is down."),
    ("export", "export", "Hand over all that is kept of a patient."),
    ("report", "report", "Make one HTML page of a patient's course; with --long, all of it."),
    ("exercises", "exercises", "Make the exercise sheet of a patient, to print."),
    ("erase", "erase", "Erase all that is kept of a patient but a number, dates and counts."),
    ("protocol", "protocol", "List, show, copy and check the files that hold every number."),
    ("escalation", "escalation", "Show what was raised to clinicians, and what became of it."),
)
"""Each command, the file it stands in, under its own name, and what it does."""

app = typer.Typer(
    name="nextmorning",
    help="Asks a loaded Achilles tendon how it is, and tells patient and therapist what follows.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
)


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"nextmorning {version('nextmorning')}")
        raise typer.Exit


@app.callback()
def _group(
    _version: Annotated[
        bool,
        typer.Option("--version", callback=_show_version, is_eager=True, help="Say the version."),
    ] = False,
) -> None:
    """Take commands, though none has been imported yet."""


class ImportedWhenCalled(TyperCommand):
    """Stands for a command in the list of commands, and hands over to it when it is called."""

    def __init__(self, name: str, file: str, summary: str) -> None:
        super().__init__(name, help=summary)
        self.file = file

    def make_context(self, info_name: str | None, args: list[str], *more: Any, **named: Any) -> Any:
        """The context of the real command, which is then invoked, explained or completed."""
        return self._command().make_context(info_name, args, *more, **named)

    def _command(self) -> Any:
        """The file's `app` where it is a group of commands, else the function of this name.
        What is taught about it is the file's HELP, else the function's docstring."""
        assert self.name is not None
        module = import_module(f"{__name__}.{self.file}")
        group = getattr(module, "app", None)
        if group is None:
            group = typer.Typer(
                add_completion=False, pretty_exceptions_enable=False, rich_markup_mode="rich"
            )
            function = getattr(module, self.name.replace("-", "_"))
            group.command(self.name, help=getattr(module, "HELP", None))(function)
        return typer.main.get_command(group)


def main() -> None:
    """Run the command line; an error of ours is a sentence and exit status 2."""
    commands: Any = typer.main.get_command(app)
    for command in COMMANDS:
        commands.add_command(ImportedWhenCalled(*command))
    try:
        commands()
    except (BotError, RulesError) as error:
        print(f"nextmorning: {error}", file=sys.stderr)
        sys.exit(2)
