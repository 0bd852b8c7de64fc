"""Says who is told of an escalation, in which order, and when the daily list goes out.

Reads the clinic's rota and its hours; tells nobody. Read next: `notify`, `send_daily_lists`.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from bot.clinic import Clinic, Shift
from bot.store import people, shifts
from bot.store.database import Store
from rules.escalation import OnCall
from rules.prompt_times import DAY, instant, local_date
from rules.working_hours import WorkingHours

# How long after opening the list goes out. Convention: clear of the daily look for silence.
LIST_AFTER = timedelta(minutes=15)


def rota(store: Store, clinic: Clinic, now: datetime) -> tuple[OnCall, ...]:
    """The clinicians in the order in which they are told, each with the channels that work.

    Whoever was erased or has opted out is not among them. Without a rota all are on duty; with
    one, those whose shift covers `now`.
    """
    held = shifts.in_force(store, clinic.rota)
    return tuple(
        OnCall(
            str(person.id),
            tuple(contact.channel for contact in people.contacts(store, person.id)),
            on_duty=is_on_duty(held, person.name, now, clinic.zone_info),
        )
        for person in people.by_role(store, *people.CLINICAL)
        if person.opted_out_at is None
    )


def is_on_duty(held: Sequence[Shift], clinician: str, now: datetime, zone: ZoneInfo) -> bool:
    """Whether it is this clinician's turn at an instant [UTC]; always, without a rota."""
    return not held or any(
        shift.covers(now, zone) for shift in held if shift.clinician == clinician
    )


def nobody_hears(store: Store, clinic: Clinic, now: datetime) -> bool:
    """Whether no clinician can be told of an alarm, on duty or not."""
    return not any(one.channels for one in rota(store, clinic, now))


def next_list_at(at: datetime, hours: WorkingHours) -> datetime:
    """The first instant, not before `at` [UTC], at which the daily list goes out: a quarter of an
    hour after opening, or half-way through the day where the clinic opens for less than that."""
    zone = ZoneInfo(hours.zone)
    day = local_date(at, zone)
    while True:
        opens_at, closes_at = instant(day, hours.opens, zone), instant(day, hours.closes, zone)
        list_at = opens_at + min(LIST_AFTER, (closes_at - opens_at) / 2)
        if day.weekday() in hours.weekdays and day not in hours.days_off and list_at >= at:
            return list_at
        day += DAY
