"""Notices that somebody has set the machine's clock, which the scheduler goes by: put back an hour,
it would do nothing for that hour. What is due is a row with a time, so nothing is sent twice.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from datetime import datetime, timedelta
from time import monotonic

from apscheduler.schedulers.base import BaseScheduler

from bot.app import App
from bot.clinic import Clinic
from bot.patient_record.say import tell
from bot.ports import Clock
from bot.store import people
from bot.store.database import Store
from bot.store.people import Role
from dialogs.turn import Said

log = logging.getLogger(__name__)

# How often the two clocks are compared [seconds], and how far apart they may drift meanwhile: a
# time service corrects by less. Convention.
LOOK_SECONDS = 10.0
JUMP = timedelta(seconds=60)


class ClockWatch:
    """Compares the clock that can be set with the one that only runs forward [seconds]."""

    def __init__(self, clock: Clock, running: Callable[[], float] = monotonic) -> None:
        self._clock, self._running = clock, running
        self._began = self._pair()

    def jumped(self) -> timedelta:
        """By how much the clock was set since the last look; zero where it was not."""
        (began, began_at), (now, now_at) = self._began, self._pair()
        self._began = now, now_at
        jump = now - began - timedelta(seconds=now_at - began_at)
        return jump if abs(jump) >= JUMP else timedelta(0)

    def _pair(self) -> tuple[datetime, float]:
        return self._clock.now(), self._running()


async def keep_time(app: App, scheduler: BaseScheduler) -> None:
    """Look again and again, until cancelled; after a jump everything runs at once, and the owner
    hears of it."""
    watch = ClockWatch(app.clock)
    while True:
        await asyncio.sleep(LOOK_SECONDS)
        if jump := watch.jumped():
            await after_jump(app, scheduler, jump)


async def after_jump(app: App, scheduler: BaseScheduler, jump: timedelta) -> None:
    """Wake what sleeps by the old time."""
    now = app.clock.now()
    log.error("the clock was set by %s; everything that is due is looked for now", jump)
    for job in scheduler.get_jobs():
        job.modify(next_run_time=now)
    await app.writer.run(tell_owner, app.clinic, jump, now)


def tell_owner(store: Store, clinic: Clinic, jump: timedelta, now: datetime) -> None:
    """Whoever runs the machine is the one who can look at its clock."""
    values = {"minutes": round(abs(jump).total_seconds() / 60), "back": jump < timedelta(0)}
    for owner in people.by_role(store, Role.OWNER):
        tell(store, clinic, owner, Said("clinician/clock-set", values), now)
