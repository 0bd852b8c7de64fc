"""Decides what counts as the clinic's working time, and adds spans of it to an instant.

Hours are wall-clock times in the clinic's own zone, weekends and named days off left out. It never
decides who is told: that is `escalation`, which reads this. A change of clocks is resolved as in
`prompt_times`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from rules.errors import ScheduleError
from rules.prompt_times import DAY, instant, local_date

MONDAY_TO_FRIDAY = frozenset(range(5))  # Convention: weekdays worked. [0 Monday to 6 Sunday]


@dataclass(frozen=True)
class WorkingHours:
    """When the clinic works. No default for the zone: a guess would be hours off.

    `zone`: name in the IANA time zone database. `opens` (included) to `closes` (not included):
    08:00 to 18:00, convention. `weekdays`: Monday to Friday, convention [0 Monday to 6 Sunday].
    `days_off`: local dates on which nobody works, such as public holidays.
    Raises ScheduleError where no working time is left.
    """

    zone: str
    opens: time = time(8, 0)
    closes: time = time(18, 0)
    weekdays: frozenset[int] = MONDAY_TO_FRIDAY
    days_off: frozenset[date] = frozenset()

    def __post_init__(self) -> None:
        if not self.opens < self.closes:
            raise ScheduleError(
                f"expected the clinic to close after it opens; found {self.opens:%H:%M} and "
                f"{self.closes:%H:%M}"
            )
        if not self.weekdays or not self.weekdays <= frozenset(range(7)):
            raise ScheduleError(
                f"expected at least one weekday, 0 (Monday) to 6; found {sorted(self.weekdays)}"
            )
        try:
            ZoneInfo(self.zone)
        except (ZoneInfoNotFoundError, ValueError, OSError) as problem:
            raise ScheduleError(
                f"expected the name of a time zone, such as Europe/Berlin; found {self.zone!r}"
            ) from problem


def next_working_instant(at: datetime, hours: WorkingHours) -> datetime:
    """The same instant if the clinic works then, else the next time it opens [UTC]."""
    opens_at, _ = next(_working_days(at, hours))
    return max(at, opens_at)


def after_working_time(at: datetime, span: timedelta, hours: WorkingHours) -> datetime:
    """The first instant by which `span` of working time has passed since `at` [UTC].

    A span that runs out just as the clinic closes ends at the next opening, so that the result
    always lies in working time.
    """
    left = span
    for opens_at, closes_at in _working_days(at, hours):
        start = max(at, opens_at)
        if left < closes_at - start:
            return start + left
        left -= closes_at - start
    raise AssertionError("unreachable: working days do not end")


def next_opening(at: datetime, hours: WorkingHours) -> datetime:
    """The first time after an instant at which the clinic opens [UTC]."""
    return next(opens_at for opens_at, _ in _working_days(at, hours) if opens_at > at)


def _working_days(at: datetime, hours: WorkingHours) -> Iterator[tuple[datetime, datetime]]:
    """Opening and closing of each working day not yet over at an instant, without end."""
    zone = ZoneInfo(hours.zone)
    day = local_date(at, zone)
    while True:
        closes_at = instant(day, hours.closes, zone)
        if day.weekday() in hours.weekdays and day not in hours.days_off and closes_at > at:
            yield instant(day, hours.opens, zone), closes_at
        day += DAY
