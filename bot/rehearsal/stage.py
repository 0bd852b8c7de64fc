"""Runs the real bot on a stepped clock and the local channel: tests, rehearsal page and `--play`
all stand on this. It moves time from one due instant to the next, and lets people answer.
"""

from __future__ import annotations

import asyncio
import heapq
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from pathlib import Path
from typing import Concatenate, ParamSpec, TypeVar

from bot.app import App
from bot.channels.local.channel import LocalChannel
from bot.clinic import Clinic
from bot.clinicians.weekly_digest import next_digest_at
from bot.clock import SteppedClock
from bot.operations.daily_checks import next_instant
from bot.ports import Channel, Outgoing
from bot.scheduler import WATCH_HOUR
from bot.store.database import Store, Writer
from bot.store.migrations import migrate
from rules.prompt_times import instant

P = ParamSpec("P")
R = TypeVar("R")

# Channels of a rehearsal: a chat with buttons, and plain text messages.
CHAT, TEXT = "chat", "text"

# The shortest step of the clock [seconds]: due times are kept to the second.
SHORTEST_STEP = timedelta(seconds=1)

DAY = timedelta(days=1)

Act = Callable[[], Awaitable[None]]
Heard = Callable[[Outgoing], None]


@dataclass(frozen=True)
class Line:
    """Something that passed: when, on which channel, whose address, what, and which way."""

    at: datetime
    channel: str
    address: str
    text: str
    from_bot: bool


Listener = Callable[[Line], None]


class Stage:
    """A bot, its clock, and what people are about to say. Use as an async context."""

    def __init__(
        self,
        path: Path,
        clinic: Clinic,
        start: datetime,
        *,
        more_channels: Sequence[Channel] = (),
        heard: Heard | None = None,
        prepare: Callable[[Store], None] = migrate,
    ) -> None:
        self.clinic = clinic
        self.clock = SteppedClock(start)
        self.heard: list[Heard] = [] if heard is None else [heard]
        self.listeners: list[Listener] = []
        self.chat = LocalChannel(CHAT, self._sent)
        self.text = LocalChannel(TEXT, self._sent)
        self.writer = Writer(path, prepare)
        channels = [self.chat, self.text, *more_channels]
        self.app = App(self.writer, clinic, self.clock, channels)
        self._planned: list[tuple[datetime, int, Act]] = []
        self._count = 0
        self._listening: list[asyncio.Task[None]] = []
        self._digested_at: datetime | None = None

    async def __aenter__(self) -> Stage:
        self.writer.start()
        for channel in (self.chat, self.text):
            self._listening.append(asyncio.create_task(self.app.listen(channel)))
        await self.app.plan_ahead()
        return self

    async def __aexit__(self, *_: object) -> None:
        for task in self._listening:
            task.cancel()
        await asyncio.gather(*self._listening, return_exceptions=True)
        await self.app.close()

    @property
    def now(self) -> datetime:
        """The instant the stage's clock stands at [UTC]."""
        return self.clock.now()

    async def run(
        self, work: Callable[Concatenate[Store, P], R], *args: P.args, **kwargs: P.kwargs
    ) -> R:
        """Run a function on the store, as the bot does."""
        return await self.writer.run(work, *args, **kwargs)

    async def say(self, channel: str, address: str, text: str, pressed: str | None = None) -> None:
        """Somebody writes (or presses a button) now; returns once all that follows has happened."""
        local = self.chat if channel == CHAT else self.text
        self._pass_on(Line(self.now, channel, address, text, from_bot=False))
        await local.say(address, text, self.now, pressed)
        await self.settle()

    def later(self, at: datetime, act: Act) -> None:
        """Somebody will do something at an instant, if time is moved that far."""
        self._count += 1
        heapq.heappush(self._planned, (at, self._count, act))

    async def settle(self) -> None:
        """Do all there is to do at this instant: handle, write what is due, send."""
        while True:
            handled = await self.app.handle_waiting()
            await self.app.tick()
            if self._digested_at != self.now:  # it hangs on the time alone
                await self.app.digest()
                self._digested_at = self.now
            sent = [await self.app.send_waiting(name) for name in self.app.channels]
            if not handled and not any(sent):
                return

    async def go_to(self, target: datetime) -> None:
        """Move the clock to an instant, stopping wherever something is due on the way."""
        await self.settle()
        while (step := await self._next_step()) is not None and step <= target:
            await self._step_to(step)
        self.clock.move_to(target)
        await self.settle()

    async def go_to_next(self) -> datetime:
        """Move the clock to the next instant at which something is due; gives that instant."""
        step = await self._next_step()
        if step is not None:
            await self._step_to(step)
        return self.now

    async def next_due(self) -> datetime | None:
        """When something falls due next, people's answers included; None if nothing will."""
        return await self._next_step()

    async def _step_to(self, step: datetime) -> None:
        watch_at = self._next_watch()
        self.clock.move_to(step)
        if step >= watch_at:
            await self.app.plan_ahead()
            await self.app.watch()
        while self._planned and self._planned[0][0] <= self.now:
            _, _, act = heapq.heappop(self._planned)
            await act()
        await self.settle()

    async def _next_step(self) -> datetime | None:
        due = await self.writer.run(next_instant)
        said = self._planned[0][0] if self._planned else None
        digest_at = next_digest_at(self.clinic, self.now)
        steps = [s for s in (due, said, digest_at, self._next_watch()) if s is not None]
        return max(min(steps), self.now + SHORTEST_STEP)

    def _next_watch(self) -> datetime:
        """When the daily look for silence runs next, on the clinic's clock."""
        today = self.now.astimezone(self.clinic.zone_info).date()
        at = time(WATCH_HOUR, 5)
        first = instant(today, at, self.clinic.zone_info)
        return first if first > self.now else instant(today + DAY, at, self.clinic.zone_info)

    def _pass_on(self, line: Line) -> None:
        for listener in self.listeners:
            listener(line)

    def _sent(self, outgoing: Outgoing) -> None:
        line = Line(self.now, outgoing.channel, outgoing.address, outgoing.text, from_bot=True)
        self._pass_on(line)
        for listener in self.heard:
            listener(outgoing)
