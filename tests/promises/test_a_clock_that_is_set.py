"""Promise: a clock that is set, either way, leaves nothing asleep, and the owner hears of it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from world import World

from bot.commands.clock_jump import ClockWatch, after_jump
from bot.commands.watchdog import is_well
from bot.rehearsal.stage import CHAT
from bot.scheduler import scheduler_for
from bot.store import people
from bot.store.database import Store
from bot.store.people import Role


class SetClock:
    """A clock that can be put back, beside seconds that only run forward."""

    def __init__(self) -> None:
        self.now_is, self.ran = datetime(2026, 3, 2, 9, tzinfo=UTC), 0.0

    def now(self) -> datetime:
        """The instant it shows."""
        return self.now_is

    def runs(self, seconds: float, set_by: timedelta = timedelta(0)) -> None:
        """Time passes, and the clock is set meanwhile."""
        self.now_is += timedelta(seconds=seconds) + set_by
        self.ran += seconds


@pytest.mark.parametrize(
    ("set_by", "seen"),
    [
        pytest.param(timedelta(hours=-1), timedelta(hours=-1), id="an hour back"),
        pytest.param(timedelta(days=1), timedelta(days=1), id="a day forward"),
        pytest.param(timedelta(seconds=2), timedelta(0), id="corrected by a time service"),
    ],
)
def test_a_jump_is_seen_once(set_by: timedelta, seen: timedelta) -> None:
    """By how much, at the next look, and not again."""
    clock = SetClock()
    watch = ClockWatch(clock, lambda: clock.ran)

    clock.runs(10, set_by)
    first = watch.jumped()
    clock.runs(10)

    assert first == seen
    assert watch.jumped() == timedelta(0)


async def test_after_an_hour_back_everything_runs_at_once_and_the_owner_hears(
    world: World,
) -> None:
    """The scheduler would sleep for an hour; a tick of the future is no sign of health."""
    app = world.stage.app

    def owner(store: Store) -> None:
        added = people.add(store, Role.OWNER, "Odile", world.now)
        people.add_contact(store, added.id, CHAT, "odile", world.now)

    await world.stage.run(owner)
    scheduler = scheduler_for(app)
    scheduler.start(paused=True)
    for job in scheduler.get_jobs():
        job.modify(next_run_time=world.now + timedelta(hours=1))
    app.ticked_at = world.now + timedelta(hours=1)

    well = await is_well(app)
    await after_jump(app, scheduler, timedelta(hours=-1))
    due = {job.next_run_time for job in scheduler.get_jobs()}
    scheduler.shutdown(wait=False)
    await world.stage.settle()

    assert not well
    assert due == {world.now}
    assert any("set back by 60 minutes" in line.text for line in world.lines)
