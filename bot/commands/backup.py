"""`nextmorning backup` and `nextmorning restore`: a copy of the database, there and back."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from bot.clock import SystemClock
from bot.commands.options import ConfigOption, JsonOption
from bot.errors import RefusedError
from bot.operations.backup import Copied, back_up, back_up_into
from bot.operations.backup import restore as restored
from bot.settings import read_settings


def backup(
    file: Annotated[
        Path | None, typer.Argument(help="The copy to make; it must not be there yet.")
    ] = None,
    config: ConfigOption = Path("clinic.toml"),
    into: Annotated[
        Path | None, typer.Option(help="Instead: a folder of copies, each named by its time.")
    ] = None,
    keep: Annotated[
        int, typer.Option(min=1, help="How many copies of that folder stay, the newest.")
    ] = 14,
    as_json: JsonOption = False,
) -> None:
    """Copy the database while the bot goes on serving.

    The copy is checked before it gets its name, only its owner can read it, and it is not
    encrypted: keep it as you keep patients' papers.

    Example: nextmorning backup /var/backups/clinic-2026-03-02.db

    With --into, the copy is also made a database of once, and then the oldest ones go.

    Example: nextmorning backup --into /var/backups/clinic --keep 14
    """
    if (file is None) == (into is None):
        raise RefusedError("expected either the name of a copy or --into FOLDER")
    source = read_settings(config).store.path
    with Console(stderr=True).status(f"Copying {source}"):
        if into is not None:
            copied = back_up_into(source, into, keep, SystemClock().now())
        elif file is not None:
            copied = back_up(source, file)
    _say(copied, as_json)


def restore(
    file: Annotated[Path, typer.Argument(help="A copy that backup made.")],
    to: Annotated[Path, typer.Option(help="The database to make; it must not be there yet.")],
    as_json: JsonOption = False,
) -> None:
    """Make a database of a copy, in the shape this version needs. Nothing is overwritten.

    Then name the new file in the configuration, under store.path, and start the bot. Whoever was
    erased after the copy was made is in it again: erase them anew before the bot starts.

    Example: nextmorning restore /var/backups/clinic-2026-03-02.db --to clinic-restored.db
    """
    with Console(stderr=True).status(f"Restoring {file}"):
        copied = restored(file, to)
    _say(copied, as_json)
    warning = "Whoever was erased after the copy was made is in it again: erase them anew."
    typer.echo(warning, err=True)


def _say(copied: Copied, as_json: bool) -> None:
    if as_json:
        told = {
            "file": str(copied.path),
            "size_bytes": copied.size_bytes,
            "patients": copied.patients,
        }
        typer.echo(json.dumps(told))
        return
    typer.echo(f"{copied.path}: {copied.patients} patients, {copied.size_bytes} bytes, checked")
