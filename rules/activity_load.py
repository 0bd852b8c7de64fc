"""Decides nothing: keeps the books on other activity, as effort times minutes, day by day and week.

There is no ratio of weeks, no monotony, no strain and no cut-off here, on purpose: none of them can
say whether a change of load raises or lowers the risk of injury (impellizzeri-2020). What may be
said of one unusually long activity is in the hold rules.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from rules.history import Activity
from rules.quantities import Effort, Minutes

WEEK_DAYS = 7  # Convention: the day asked about and the six before it. [days]


@dataclass(frozen=True)
class WeekLoad:
    """The load of seven days.

    `days`: load of each day, oldest first; a day without activity counts 0 [arbitrary units, 0 and
    over]. `unrated`: activities without an effort; they are left out, so that with any of them
    `total` is what the week came to at least.
    """

    days: tuple[int, ...]
    unrated: int

    @property
    def total(self) -> int:
        """Sum of the days [arbitrary units, 0 and over]."""
        return sum(self.days)


def session_load(effort: Effort | None, minutes: Minutes) -> int | None:
    """Effort times minutes of one activity [arbitrary units, 0 and over].

    None where the effort was not answered: no rating is not a rating of 0.
    Source: foster-2001, session rating.
    """
    return None if effort is None else effort * minutes


def week_load(activities: tuple[Activity, ...], until: date) -> WeekLoad:
    """The load of the seven local days that end with `until`, that day included.

    Several activities of a day add up. Source: foster-2001, session rating; the sum is bookkeeping.
    """
    loads = dict.fromkeys((until - timedelta(days=ago) for ago in reversed(range(WEEK_DAYS))), 0)
    unrated = 0
    for activity in activities:
        if activity.on not in loads:
            continue
        load = session_load(activity.effort, activity.minutes)
        if load is None:
            unrated += 1
        else:
            loads[activity.on] += load
    return WeekLoad(tuple(loads.values()), unrated)
