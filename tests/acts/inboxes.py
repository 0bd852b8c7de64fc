"""Where the tests of channels commit what came. Told to fail, it keeps nothing."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Callable, Sequence
from typing import Any

from stand_ins.patience import PATIENCE_SECONDS

from bot.ports import Arrival, Channel, Incoming, Receipt


class Inbox:
    """Keeps arrivals in their order, and the cursor beside them; `failures_left`: how many commits
    will raise. While it is not `open`, a commit is under way.
    """

    def __init__(self) -> None:
        self.arrivals: list[Arrival] = []
        self.tries = 0
        self.failures_left = 0
        self.cursor: str | None = None
        self.open = asyncio.Event()
        self.open.set()
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
            self._news.notify_all()
        await self.open.wait()
        if self.failures_left:
            self.failures_left -= 1
            raise OSError("the disk is full; the patient wrote 3 10")
        async with self._news:
            self.arrivals.extend(arrivals)
            self.cursor = cursor
            self._news.notify_all()

    async def texts(self, count: int) -> list[str]:
        """The texts of the messages, once there are so many."""
        await self.until(lambda: len(self.messages) >= count)
        return [message.text for message in self.messages]

    async def until(self, condition: Callable[[], Any], seconds: float = PATIENCE_SECONDS) -> None:
        """Return once the condition holds."""
        async with asyncio.timeout(seconds), self._news:
            await self._news.wait_for(condition)


@contextlib.asynccontextmanager
async def listening(
    channel: Channel, inbox: Inbox, cursor: str | None = None
) -> AsyncIterator[None]:
    """The channel listens for the inbox, and ends only when cancelled."""
    task = asyncio.create_task(channel.listen(inbox.commit, cursor))
    await asyncio.sleep(0)
    try:
        yield
    finally:
        assert not task.done()
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)
