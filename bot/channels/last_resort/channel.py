"""Runs the clinic's own command, or posts to its own address: a way out that needs no channel.

Nobody is reached there by an address, and nobody answers.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Sequence

import httpx

from bot.ports import LAST_RESORT, Accepted, Commit, Delivery, Later, Outgoing

log = logging.getLogger(__name__)

# How long a command or an address may take [seconds]. Convention.
PATIENCE = 60.0


class LastResort:
    """`command`: argv; without one, `url` is posted to."""

    name = LAST_RESORT

    def __init__(self, command: Sequence[str], url: str = "") -> None:
        self._command, self._url = command, url

    async def listen(self, commit: Commit, cursor: str | None) -> None:
        """Nothing ever comes."""

    async def send(self, outgoing: Outgoing) -> Delivery:
        """Done once the command ended with 0, or the address answered 2xx; else later again."""
        try:
            why = await (self._run if self._command else self._post)(outgoing.text)
        except (OSError, TimeoutError, httpx.HTTPError) as error:
            why = str(error) or type(error).__name__
        if not why:
            return Accepted()
        log.error("the last resort failed: %s", why)
        return Later(why)

    async def _run(self, text: str) -> str:
        pipe, away = asyncio.subprocess.PIPE, asyncio.subprocess.DEVNULL
        process = await asyncio.create_subprocess_exec(
            *self._command, stdin=pipe, stdout=away, stderr=away
        )
        try:
            async with asyncio.timeout(PATIENCE):
                await process.communicate(text.encode())
        except BaseException:
            process.kill()
            raise
        return f"the command ended with {process.returncode}" if process.returncode else ""

    async def _post(self, text: str) -> str:
        kind = {"Content-Type": "text/plain; charset=utf-8"}
        async with httpx.AsyncClient(timeout=PATIENCE) as client:
            answer = await client.post(self._url, content=text.encode(), headers=kind)
        return "" if answer.is_success else f"the address answered {answer.status_code}"

    async def close(self) -> None:
        """Nothing to give back."""
