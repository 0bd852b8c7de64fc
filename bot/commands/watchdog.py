"""Tells systemd that the bot is alive, and only while it does its work.

systemd restarts a service that stays silent (`WatchdogSec` in deploy/systemd). So a
ping is sent only where the last tick is recent and the store has just answered. Without systemd
nothing is sent. Source: systemd, sd_notify(3) and sd_watchdog_enabled(3).
"""

from __future__ import annotations

import asyncio
import os
import socket
from datetime import timedelta

from bot.app import App
from bot.store.database import Store

# How old the last tick may be [seconds]: ticks come every 2 s, and a burst may hold a few back.
TICK_IS_RECENT = timedelta(seconds=30)  # Convention.

# How long the store may take to answer [seconds].
STORE_ANSWERS_WITHIN = 10.0  # Convention.

# Between two looks where systemd does not say how often it expects a ping [seconds].
LOOK_SECONDS = 10.0  # Convention.


def notify_systemd(state: str) -> bool:
    """Send one state, such as READY=1. False where nobody listens: no systemd, or it is gone."""
    address = os.environ.get("NOTIFY_SOCKET", "")
    if not address:
        return False
    if address.startswith("@"):
        address = "\0" + address[1:]
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as out:
        try:
            out.connect(address)
            out.sendall(state.encode())
        except OSError:
            return False
    return True


async def keep_alive(app: App) -> None:
    """Say that the bot is ready, then ping for as long as it is well; until cancelled."""
    notify_systemd("READY=1")
    while True:
        if await is_well(app):
            notify_systemd("WATCHDOG=1")
        await asyncio.sleep(_seconds_between())


async def is_well(app: App) -> bool:
    """Whether the last tick is recent and the store answers."""
    ticked_at = app.ticked_at
    if ticked_at is None or abs(app.clock.now() - ticked_at) > TICK_IS_RECENT:
        return False
    try:
        async with asyncio.timeout(STORE_ANSWERS_WITHIN):
            await app.writer.run(_answers)
    except Exception:  # Whatever is wrong with the store, the answer is no.
        return False
    return True


def _answers(store: Store) -> None:
    store.row("SELECT 1 AS one FROM people")


def _seconds_between() -> float:
    """A third of what systemd allows, so that two pings may be missed."""
    allowed = os.environ.get("WATCHDOG_USEC", "")
    return int(allowed) / 3_000_000 if allowed.isdigit() else LOOK_SECONDS
