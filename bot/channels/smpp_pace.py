"""How fast messages leave by SMPP: as agreed, and slower for a while when the carrier says so.

Never: knows a message. The pace of what waits is the outbox's; this is the carrier's.
"""

from __future__ import annotations

from datetime import timedelta

from aiolimiter import AsyncLimiter

PACE_LEAST = 1.0
"""The slowest we go when told to slow down [messages/s]. Convention."""

ACCEPTED_TO_SPEED_UP = 20
"""Messages accepted in a row before the pace is doubled again, up to the setting. Convention."""


class Pace:
    """The pace of one account. `most`: as agreed [messages/s]. `first_wait`, `longest_wait`: the
    pause after a refusal, doubling from one to the other."""

    def __init__(self, most: float, first_wait: timedelta, longest_wait: timedelta) -> None:
        self._most, self._waits = most, (first_wait, longest_wait)
        self._refused = self._accepted = 0
        self._set(most)

    def _set(self, rate: float) -> None:
        self.rate = rate
        # One at a time, evenly: a bucket of ten would let twenty through in its first second.
        self._limiter = AsyncLimiter(1, 1 / rate)

    async def turn(self) -> None:
        """Wait until the next message may leave."""
        await self._limiter.acquire()

    def slower(self) -> timedelta:
        """The carrier wants less: half as fast, and a pause that doubles while it says so."""
        first, longest = self._waits
        wait = min(longest, first * 2.0 ** min(self._refused, 16))
        self._refused, self._accepted = self._refused + 1, 0
        self._set(max(min(PACE_LEAST, self._most), self.rate / 2))
        return wait

    def accepted(self) -> None:
        """One went through."""
        self._refused, self._accepted = 0, self._accepted + 1
        if self.rate < self._most and self._accepted >= ACCEPTED_TO_SPEED_UP:
            self._accepted = 0
            self._set(min(self._most, self.rate * 2))
