"""The local channel: people of a rehearsal, inside this process. No account, no network.

What is said to it goes through the same `commit` as any message; what is sent to it is accepted
and shown by the page, which reads the store.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from datetime import datetime

from bot.ports import Accepted, Commit, Delivery, Incoming, Never, Outgoing

OnSent = Callable[[Outgoing], None]


class LocalChannel:
    """A channel whose other end is a page, a test or a script."""

    def __init__(self, name: str = "local", on_sent: OnSent | None = None) -> None:
        self.name = name
        self.closed_addresses: set[str] = set()
        self._on_sent = on_sent
        self._said: asyncio.Queue[tuple[Incoming, asyncio.Future[None]]] = asyncio.Queue()
        self._count = 0

    async def say(self, address: str, text: str, at: datetime, pressed: str | None = None) -> None:
        """Somebody writes or presses a button; returns once the message is on disk."""
        self._count += 1
        message_id = f"{at:%Y%m%d%H%M%S}-{self._count}"
        incoming = Incoming(self.name, message_id, address, text, sent_at=at, pressed=pressed)
        kept: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        await self._said.put((incoming, kept))
        await kept

    async def listen(self, commit: Commit, cursor: str | None) -> None:  # noqa: ARG002 - no past
        """Commit what is said, one at a time, and only then let the speaker go on."""
        while True:
            incoming, kept = await self._said.get()
            try:
                await commit([incoming], None)
            except Exception as error:
                kept.set_exception(error)
            else:
                kept.set_result(None)

    async def send(self, outgoing: Outgoing) -> Delivery:
        """Accept it; an address that was closed answers as a blocked one would."""
        if outgoing.address in self.closed_addresses:
            return Never("blocked")
        if self._on_sent is not None:
            self._on_sent(outgoing)
        return Accepted(f"{self.name}-{outgoing.id}")

    async def close(self) -> None:
        """Nothing to give back."""
