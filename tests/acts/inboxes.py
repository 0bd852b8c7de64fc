"""Where the tests of channels commit what came. Told to fail, it keeps nothing."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Callable, Sequence
from typing import Any

from stand_ins.patience import PATIENCE_SECONDS

from bot.ports import Arrival, Channel, Incoming, Receipt


class Inbox:
    """Keeps arrivals in their order; `failures_left`: how many commits will raise."""

    def __init__(self) -> None:
        self.arrivals: list[Arrival] = []
        self.tries = 0
        self.failures_left = 0
        self._news = asyncio.Condition()

    @property
    def messages(self) -> list[Incoming]:
        """The messages among them."""
        return [came for came in self.arrivals if isinstance(came, Incoming)]

    @property
    def receipts(self) -> list[Receipt]:
        """The receipts among them."""
        return [came for came in self.arrivals if isinstance(came, Receipt)]

    async def commit(self, arrivals: Sequence[Arrival], cursor: str | None) -> None:
        """Keep a batch."""
        async with self._news:
            self.tries += 1
            if self.failures_left:
                self.failures_left -= 1
                raise OSError("the disk is full; the patient wrote 3 10")
            self.arrivals.extend(arrivals)
            self._news.notify_all()

    async def until(self, condition: Callable[[], Any], seconds: float = PATIENCE_SECONDS) -> None:
        """Return once the condition holds."""
        async with asyncio.timeout(seconds), self._news:
            await self._news.wait_for(condition)


@contextlib.asynccontextmanager
async def listening(channel: Channel, inbox: Inbox) -> AsyncIterator[None]:
    """The channel listens for the inbox."""
    task = asyncio.create_task(channel.listen(inbox.commit, None))
    await asyncio.sleep(0)
    try:
        yield
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)
