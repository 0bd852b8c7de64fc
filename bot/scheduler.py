"""APScheduler: the one short interval job, and the few that run by the hour and by the day.

There is never a job for a patient: what is due is a row, found by an indexed query.
"""

from __future__ import annotations

from apscheduler.schedulers.asyncio import AsyncIOScheduler
from apscheduler.triggers.cron import CronTrigger
from apscheduler.triggers.interval import IntervalTrigger

from bot.app import App

# How often due rows are looked for [seconds]: an escalation waits no longer than this.
TICK_SECONDS = 2

# When the daily look for silence runs, on the clinic's clock [hour]. Convention: as it opens, and
# clear of the hour between 1 and 3 that a change of clocks leaves out or repeats.
WATCH_HOUR = 8


def scheduler_for(app: App) -> AsyncIOScheduler:
    """A scheduler for one bot, not started yet. Late runs are made up for once, never skipped."""
    scheduler = AsyncIOScheduler(
        timezone=app.clinic.zone_info,
        job_defaults={"coalesce": True, "max_instances": 1, "misfire_grace_time": None},
    )
    now = app.clock.now()
    scheduler.add_job(app.tick, IntervalTrigger(seconds=TICK_SECONDS), id="tick")
    scheduler.add_job(app.digest, IntervalTrigger(minutes=1), id="digest")
    # Both at the start too, beside the messages that come in.
    hourly, daily = IntervalTrigger(hours=1), CronTrigger(hour=WATCH_HOUR, minute=5)
    scheduler.add_job(app.plan_ahead, hourly, id="plan ahead", next_run_time=now)
    scheduler.add_job(app.watch, daily, id="watch", next_run_time=now)
    return scheduler
