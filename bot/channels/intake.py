"""What channels with webhooks share: a secret is compared, a sender is slowed down,
and what came is committed before it is acknowledged.

Never reads what a message says, and never lets it, an address or a secret into a log.
Read next: the channels whose webhooks end here, `sms_gateway`, `hosted_sms`, `telegram.webhook`.
"""

from __future__ import annotations

import asyncio
import hmac
import logging
from collections import OrderedDict
from collections.abc import Sequence

from aiolimiter import AsyncLimiter
from starlette.responses import Response

from bot.ports import Arrival, Commit, Incoming

# What one address may write [messages in seconds]. Convention: a person cannot; a machine that
# answers our answers does.
MESSAGES_MAX, MESSAGES_SECONDS = 30, 60.0

# Addresses whose pace is remembered [count]; the one silent for longest is forgotten first.
REMEMBERED = 10_000

# When a sender that was turned away should come again [seconds]. Convention.
AGAIN_SECONDS = "10"

_log = logging.getLogger(__name__)


def same_secret(given: str, wanted: str) -> bool:
    """Whether a secret is the right one, in a time that does not tell how much of it is."""
    return hmac.compare_digest(given.encode(), wanted.encode())


class Rate:
    """How often each of many keys may do something: `count` times in `seconds`."""

    def __init__(self, count: float, seconds: float, remembered: int = REMEMBERED) -> None:
        self._count, self._seconds, self._remembered = count, seconds, remembered
        self._paces: OrderedDict[str, AsyncLimiter] = OrderedDict()

    async def allows(self, key: str) -> bool:
        """Whether once more is within the rate; if so, it counts."""
        pace = self._paces.setdefault(key, AsyncLimiter(self._count, self._seconds))
        self._paces.move_to_end(key)
        while len(self._paces) > self._remembered:
            self._paces.popitem(last=False)
        if not pace.has_capacity():
            return False
        await pace.acquire()  # does not wait: there is room, and nothing ran between
        return True


class Intake:
    """Where webhooks end: open while the channel listens, closed otherwise."""

    def __init__(self, name: str, senders: Rate | None = None) -> None:
        self._name = name
        self._senders = Rate(MESSAGES_MAX, MESSAGES_SECONDS) if senders is None else senders
        self._commit: Commit | None = None

    async def listen(self, commit: Commit) -> None:
        """Be open until cancelled."""
        self._commit = commit
        try:
            await asyncio.Event().wait()
        finally:
            self._commit = None

    async def take(self, arrivals: Sequence[Arrival]) -> Response:
        """Commit a batch of one sender and say so: 200 only once it is on disk.

        429: its sender writes too fast. 503: not now. In both cases nothing was kept.
        """
        if self._commit is None:
            return turned_away(503)
        for address in {came.address for came in arrivals if isinstance(came, Incoming)}:
            if not await self._senders.allows(address):
                _log.warning("%s: a sender writes too fast and was turned away", self._name)
                return turned_away(429)
        try:
            await self._commit(arrivals, None)
        except Exception as error:  # the name alone: its words may hold what a patient wrote
            _log.error("%s: not committed (%s); not acknowledged", self._name, type(error).__name__)
            return turned_away(503)
        return Response(status_code=200)


def turned_away(status: int) -> Response:
    """Come again later."""
    return Response(status_code=status, headers={"Retry-After": AGAIN_SECONDS})
