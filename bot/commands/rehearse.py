"""`nextmorning rehearse`: the bot on a page of this machine, with made-up people and a clock that
can be moved. No account, no token, no network."""

from __future__ import annotations

import asyncio
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Annotated

import typer

from bot.errors import RefusedError
from bot.rehearsal.play import play as play_weeks
from bot.web.rehearsal import run_page


def rehearse(
    play: Annotated[
        bool, typer.Option("--play", help="Print three weeks of one patient and end; no page.")
    ] = False,
    port: Annotated[
        int, typer.Option(min=0, max=65535, help="Port of the page on 127.0.0.1; 0 for any.")
    ] = 8420,
    store: Annotated[Path | None, typer.Option(help="Keep the rehearsal in this new file.")] = None,
) -> None:
    """Try the bot with made-up patients, on a page of this machine.

    Example: nextmorning rehearse --port 8420
    """
    with suppress(KeyboardInterrupt):
        if play:
            asyncio.run(play_weeks(typer.echo))
            return
        _open_page(port, store)
    typer.echo("The rehearsal has ended.")


def _open_page(port: int, store: Path | None) -> None:
    """Serve until interrupted, from a file that is thrown away unless one was named."""
    if store is not None:
        if store.exists():
            raise RefusedError(
                f"{store} exists; a rehearsal begins with a new file, so name another one"
            )
        asyncio.run(run_page(store, port, typer.echo))
        return
    with tempfile.TemporaryDirectory(prefix="nextmorning-") as folder:
        asyncio.run(run_page(Path(folder) / "rehearsal.sqlite", port, typer.echo))
