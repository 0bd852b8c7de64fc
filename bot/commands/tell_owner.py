"""`nextmorning tell-owner`: for when the bot itself is down and can tell nobody."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Annotated

import typer

from bot.clock import SystemClock
from bot.commands.options import ConfigOption
from bot.errors import RefusedError
from bot.ports import LAST_RESORT, Accepted, Outgoing
from bot.settings import read_settings


def tell_owner(
    text: Annotated[str, typer.Argument(help="What is to be said.")],
    config: ConfigOption = Path("clinic.toml"),
) -> None:
    """Tell the owner something by [last_resort] of the configuration, without the bot.

    A service manager calls it when the bot has failed: see deploy/systemd.

    Example: nextmorning tell-owner "The bot has failed." --config clinic.toml
    """
    settings = read_settings(config)
    table = settings.channels.get(LAST_RESORT)
    if table is None:
        raise RefusedError(f"{config} has no [last_resort], so there is no way to tell the owner")
    channel = table.channel(settings.shared, SystemClock())
    delivery = asyncio.run(channel.send(Outgoing(0, LAST_RESORT, "", text)))
    if not isinstance(delivery, Accepted):
        raise RefusedError(f"the owner could not be told: {delivery}")
    typer.echo("told")
