"""`nextmorning enrol-many`: invites a list of patients, and writes a letter with a code to each."""

from __future__ import annotations

import json
from contextlib import closing
from pathlib import Path
from typing import Annotated

import typer

from bot.clinicians.invite_many import ListError, invite_all, names_taken, read_list
from bot.clinicians.letter import letter
from bot.clock import SystemClock
from bot.commands.export import write_new
from bot.commands.options import ConfigOption, JsonOption
from bot.errors import NotFoundError
from bot.settings import clinic_of, read_settings
from bot.store.database import Store
from bot.store.migrations import migrate
from dialogs.catalogues import languages

HELP = """Invite a list of patients: all of them, or none where one row is wrong.

The list is a table with commas or semicolons. Of its columns, name and
tendon are needed; an empty cell means that the patient will be asked:

name, tendon, language, morning_time, channel, address, level, side, usual,
identifier, born_on

For instance: Ana,mid-portion,en,07:30,sms,020 7946 0018,3,left,3 20

The ladder begins at the level; "3 2" is level 3, dose 2; an empty cell is
the first. Of usual, "3 20" is first-step pain 3 and 20 minutes of stiffness:
what stands here is not asked again. The identifier is that of the clinic's
own record; born_on is a birth date such as 1980-05-31. Both are there for
the export to other programs.

The codes are written to a new file that only its owner can read, as a
short letter for each patient to print or to read out. A code counts only
from the patient's own phone, so none is sent: an address in the list is
there to remind whoever hands it over.

Example: nextmorning enrol-many patients.csv --codes letters.txt
"""
"""What `nextmorning enrol-many --help` teaches."""


def enrol_many(
    file: Annotated[Path, typer.Argument(help="The list of patients.")],
    codes: Annotated[Path, typer.Option(help="The file to make, with a letter for each.")],
    config: ConfigOption = Path("clinic.toml"),
    as_json: JsonOption = False,
) -> None:
    """Invite a list of patients; see HELP."""
    settings, now = read_settings(config), SystemClock().now()
    clinic = clinic_of(settings)
    with closing(Store(settings.store.path)) as store:
        migrate(store)
        try:
            listed = read_list(_text(file), languages(), clinic.region, names_taken(store))
        except ListError as error:
            for problem in error.problems:
                typer.echo(f"{file}: {problem.sentence('en')}", err=True)
            typer.echo("Nobody was invited.", err=True)
            raise typer.Exit(2) from None
        with store.transaction():
            invited = invite_all(store, clinic, listed, now)
            # Within the transaction: where the letters cannot be kept, nobody was invited.
            write_new(codes, "\n".join(f"{letter(clinic, one, now)}\n" for one in invited))
    if as_json:
        told = {"codes": str(codes), "invited": [one.patient.name for one in invited]}
        typer.echo(json.dumps(told))
    else:
        typer.echo(f"{len(invited)} patients invited; their codes are in {codes}")


def _text(file: Path) -> str:
    try:
        return file.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise NotFoundError(f"{file} cannot be read: {error.strerror}") from error
    except UnicodeDecodeError:
        raise NotFoundError(f"{file}: expected text in UTF-8; found other bytes") from None
