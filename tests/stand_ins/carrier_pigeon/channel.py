"""A channel by pigeon, to show what a channel is: it sends, it receives, it closes."""

from __future__ import annotations

import asyncio

from bot.ports import Accepted, Clock, Commit, Delivery, Incoming, Outgoing


class PigeonChannel:
    """`flown`: what has left; `home`: address and words of pigeons that came home."""

    def __init__(self, ring: str, clock: Clock) -> None:
        self.name, self.ring, self._clock = "pigeon", ring, clock
        self.flown: list[tuple[str, str]] = []
        self.home: asyncio.Queue[tuple[str, str]] = asyncio.Queue()

    async def listen(self, commit: Commit, cursor: str | None) -> None:
        """Read what each pigeon brings."""
        count = int(cursor or 0)
        while True:
            address, text = await self.home.get()
            count += 1
            incoming = Incoming(self.name, f"{self.ring}:{count}", address, text)
            await commit([incoming], str(count))
            self.home.task_done()

    async def send(self, outgoing: Outgoing) -> Delivery:
        """Let one fly."""
        self.flown.append((outgoing.address, outgoing.text))
        return Accepted(f"{outgoing.id}")

    async def close(self) -> None:
        """Shut the loft."""
