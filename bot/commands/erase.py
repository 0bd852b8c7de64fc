"""`nextmorning erase`: a patient leaves, and nothing of theirs stays in the database."""

from __future__ import annotations

import json
from contextlib import closing
from pathlib import Path
from typing import Annotated

import typer

from bot.clock import SystemClock
from bot.commands.options import ConfigOption, JsonOption
from bot.errors import NotFoundError, RefusedError, StoreError
from bot.operations.erasure import Tombstone, older_copies, wipe
from bot.operations.erasure import erase as erased
from bot.settings import read_settings
from bot.store import people
from bot.store.database import Store
from bot.store.migrations import migrate
from bot.store.people import Person, Role


def erase(
    patient: Annotated[str, typer.Argument(help="The patient's whole name.")],
    config: ConfigOption = Path("clinic.toml"),
    yes: Annotated[
        bool, typer.Option("--yes", help="Do not ask for the name again; for scripts.")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Erase all that is kept of a patient; only a number, dates and counts are left.

    This cannot be undone. Give the patient their data first, with export. The bot may go on
    serving meanwhile.

    Example: nextmorning erase Ana
    """
    from rich.console import Console  # only here: other commands find a patient with this file

    with closing(Store(read_settings(config).store.path)) as store:
        migrate(store)
        person = patient_called(store, patient)
        if not yes:
            _ask_for_the_name(person)
        tombstone = store.do(erased, person, SystemClock().now())
        with Console(stderr=True).status("Rewriting the file without it"):
            clean = wipe(store)
    _say(tombstone, as_json)
    for copy in older_copies(store.path):
        typer.echo(f"{copy} was made before and still has it: delete it.", err=True)
    typer.echo("Backups made before still have it too.", err=True)
    if not clean:
        raise StoreError(
            "the rows are gone, but another program held the file, so that traces may be left in"
            " it; run nextmorning backup's copy in its place, or VACUUM the file when it is free"
        )


def patient_called(store: Store, name: str) -> Person:
    """The patient of exactly this name, capitals aside; raises NotFoundError."""
    wanted = " ".join(name.split()).casefold()
    for person in people.by_role(store, Role.PATIENT):
        if person.name.casefold() == wanted:
            return person
    raise NotFoundError(f"no patient is named {name!r}; the whole name was expected")


def _ask_for_the_name(person: Person) -> None:
    typed = typer.prompt(f"All of {person.name}'s data will be gone. Type the name to go on")
    if typed.strip() != person.name:
        raise RefusedError(f"expected {person.name!r}, found {typed!r}; nothing was erased")


def _say(tombstone: Tombstone, as_json: bool) -> None:
    counts = {table: count for table, count in tombstone.counts.items() if count}
    if as_json:
        told = {
            "number": tombstone.number,
            "invited_on": tombstone.invited_on.isoformat(),
            "enrolled_on": tombstone.enrolled_on and tombstone.enrolled_on.isoformat(),
            "erased": counts,
        }
        typer.echo(json.dumps(told))
        return
    typer.echo(f"Erased: patient {tombstone.number}, {sum(counts.values())} rows")
