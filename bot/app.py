"""Builds the running bot from its parts and keeps its loops going: the only file that knows all.

One pass: the clock is asked once, and that `now` is handed down to plain functions that run on the
store's writing thread. Nothing below asks for the time or awaits anything.
"""

from __future__ import annotations

import asyncio
import logging
import secrets
from collections.abc import Sequence
from contextlib import suppress
from datetime import datetime

from bot.charts.message_images import as_png
from bot.clinic import Clinic
from bot.clinicians.weekly_digest import WrittenDigest, digest_languages, send_digest, write_digest
from bot.delivery.receive import receive
from bot.delivery.send import settle, take_next
from bot.escalations.chase import chase
from bot.handle import give_up, handle
from bot.operations.daily_checks import watch
from bot.operations.heartbeat import say_running
from bot.patients.due_prompts import PROMPTS_A_PASS, plan_ahead, tick
from bot.patients.unanswered_slips import let_numbers_stand
from bot.ports import Arrival, Channel, Clock
from bot.store import inbox, plans
from bot.store.database import Store, Writer

log = logging.getLogger(__name__)

# Senders side by side on one channel [count]: one slow chat must not hold up the others.
SENDERS = 4

# Messages handled before it is looked again which are most likely a worry [messages], and failures
# before one is given up [count]. Convention.
HANDLED_A_PASS = 25
FAILURES_MAX = 3

# How long a sender or the handler sleeps when nothing woke it [seconds].
IDLE_SECONDS = 1.0


class App:
    """The bot: a writer, a clinic, a clock and channels. `run` names this run in the outbox."""

    def __init__(
        self, writer: Writer, clinic: Clinic, clock: Clock, channels: Sequence[Channel]
    ) -> None:
        self.writer, self.clinic, self.clock = writer, clinic, clock
        self.channels = {channel.name: channel for channel in channels}
        self.run = secrets.token_hex(4)
        self.ticked_at: datetime | None = None
        self._came = asyncio.Event()
        self._goes = asyncio.Event()

    # One pass of each kind of work.

    async def tick(self) -> None:
        """Write what is due, prompts and escalations alike, until nothing more is."""
        now = self.clock.now()
        while await self.writer.run(tick, self.clinic, now) >= PROMPTS_A_PASS:
            pass
        rest = (let_numbers_stand, chase, say_running)
        # In this order, and handed over at once, so that they share a commit.
        await asyncio.gather(*(self.writer.run(work, self.clinic, now) for work in rest))
        self.ticked_at = now
        self._goes.set()

    async def digest(self) -> None:
        """Send the week's digest where it is due. It is read beside the writer, which may be busy
        with messages all the while."""
        now = self.clock.now()
        if languages := await self.writer.run(digest_languages, self.clinic, now):
            made = await asyncio.to_thread(self._written, languages, now)
            await self.writer.run_between(send_digest, self.clinic, made, now)
            self._goes.set()

    def _written(self, languages: frozenset[str], now: datetime) -> WrittenDigest:
        store = Store(self.writer.path, read_only=True)
        try:
            return write_digest(store, self.clinic, languages, now)
        finally:
            store.close()

    def wake(self) -> None:
        """Something was written to be sent."""
        self._goes.set()

    async def plan_ahead(self) -> None:
        """Leave no patient without prompts; run at start-up and every hour."""
        for patient in await self.writer.run(plans.treated):
            await self.writer.run_between(plan_ahead, self.clinic, patient, self.clock.now())

    async def watch(self) -> None:
        """Look for what nobody wrote about: silence, no progress; run at start-up and once a
        day."""
        for patient in await self.writer.run(plans.treated):
            await self.writer.run_between(watch, self.clinic, patient, self.clock.now())

    async def handle_waiting(self) -> int:
        """Handle what has come in, words before numbers; gives how many messages."""
        now = self.clock.now()
        waiting = await self.writer.run(inbox.waiting, HANDLED_A_PASS)
        work = [self.writer.run(handle, self.clinic, number, now) for number in waiting]
        # Handed over in order at once, so that a burst shares its commits.
        for number, failure in zip(
            waiting, await asyncio.gather(*work, return_exceptions=True), strict=True
        ):
            if isinstance(failure, BaseException):
                await self._failed(number, failure)
        self._goes.set()
        return len(waiting)

    async def send_waiting(self, name: str) -> int:
        """Send what waits on one channel until nothing does; gives how many were tried."""
        channel, sent = self.channels[name], 0
        while True:
            now = self.clock.now()
            outgoing = await self.writer.run(take_next, name, self.run, now, self.clinic)
            if outgoing is None:
                return sent
            if outgoing.picture is not None:
                outgoing = await asyncio.to_thread(as_png, outgoing)
            delivery = await channel.send(outgoing)
            log.info(
                "message %s: %s on %s, attempt %s, %s segments",
                outgoing.id, type(delivery).__name__.lower(), name, outgoing.attempt,
                outgoing.segments,
            )  # fmt: skip
            await self.writer.run(settle, self.clinic, outgoing, delivery, self.clock.now())
            sent += 1

    # The loops of a service.

    async def serve(self) -> None:
        """Run until cancelled: receivers, the handler and senders. `scheduler` runs the ticks."""
        loops = [
            *(self.listen(channel) for channel in self.channels.values()),
            self._handle_for_ever(),
            *(self._send_for_ever(name) for name in self.channels for _ in range(SENDERS)),
        ]
        async with asyncio.TaskGroup() as group:
            for loop in loops:
                group.create_task(loop)

    async def commit(self, channel: str, messages: Sequence[Arrival], cursor: str | None) -> None:
        """Keep a batch; returns when it is on disk."""
        await self.writer.run(receive, messages, channel, cursor, self.clock.now())
        self._came.set()

    async def close(self) -> None:
        """Close the channels, then the store, letting what waits for the store finish."""
        for channel in self.channels.values():
            await channel.close()
        self.writer.close()

    async def listen(self, channel: Channel) -> None:
        """Receive from one channel until cancelled, from where it was left."""

        async def commit(messages: Sequence[Arrival], cursor: str | None) -> None:
            await self.commit(channel.name, messages, cursor)

        cursor = await self.writer.run(inbox.cursor, channel.name)
        await channel.listen(commit, cursor)

    async def _handle_for_ever(self) -> None:
        while True:
            self._came.clear()
            try:
                handled = await self.handle_waiting()
            except Exception:
                log.exception("handling failed; it is tried again")
                handled = 0
            if not handled:
                await _woken(self._came)

    async def _send_for_ever(self, name: str) -> None:
        while True:
            self._goes.clear()
            try:
                await self.send_waiting(name)
            except Exception:
                log.exception("sending on %s failed; it is tried again", name)
            await _woken(self._goes)

    async def _failed(self, number: int, failure: BaseException) -> None:
        """A message that keeps failing must not stop the others, nor be forgotten."""
        log.error("message %s could not be handled", number, exc_info=failure)
        failures = await self.writer.run(inbox.count_failure, number)
        if failures >= FAILURES_MAX:
            await self.writer.run(give_up, number, self.clock.now())


async def _woken(event: asyncio.Event) -> None:
    """Wait for the event, or for the idle time, whichever comes first."""
    # Not wait_for: in Python 3.11 it loses a cancellation that comes together with the event.
    with suppress(TimeoutError):
        async with asyncio.timeout(IDLE_SECONDS):
            await event.wait()
