"""`nextmorning escalation`: what was raised, who was told, who has it. Reads only."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from bot.commands.options import ConfigOption, JsonOption
from bot.escalations.history import history_lines, history_table
from bot.settings import clinic_of, read_settings
from bot.store.database import Store

app = typer.Typer(
    name="escalation", help="What was raised to clinicians, and what became of it.",
    no_args_is_help=True,
    add_completion=False,
)  # fmt: skip


@app.callback()
def _group() -> None:
    """Keep `history` a command of its own: typer folds a single one away."""


@app.command()
def history(
    number: Annotated[
        int | None,
        typer.Argument(help="The escalation's number; without it, the latest are listed."),
    ] = None,
    config: ConfigOption = Path("clinic.toml"),
    as_json: JsonOption = False,
) -> None:
    """Show what happened to one escalation. Example: nextmorning escalation history 12

    Example: nextmorning escalation history --json
    """
    settings = read_settings(config)
    store = Store(settings.store.path, read_only=True)
    try:
        if as_json:
            typer.echo(json.dumps(history_table(store, number), indent=1))
        else:
            typer.echo("\n".join(history_lines(store, clinic_of(settings), number)))
    finally:
        store.close()
