"""Goes through every history of a run, day by day, and stops at the first day with a broken one.

All histories of a day are gone through before the next day is begun, so the first that is found
broken is among the shortest. A day is lived once for all histories that agree up to it.
Read next: `telling`, for how a history is put into words.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import partial
from multiprocessing import get_context

from prove.model import (
    DAY_0,
    RESTING_DAYS_MAX,
    Run,
    days_since_session,
    live_day,
)
from prove.statements import Advise, broken

from rules.advice import advise
from rules.history import History
from rules.reasons import Advice

BATCH = 20
"""Histories handed to a process at a time. Convention."""

SHOWN_MAX = 3
"""Broken histories that are told of a run. Convention."""


@dataclass(frozen=True)
class Broken:
    """A history on which a statement does not hold, with what the rules said."""

    history: History
    today: date
    advice: Advice
    statement: str


@dataclass
class Found:
    """What going through a run, or a part of it, has found.

    `asked`: decisions checked. `by_reason`: the same by action and reason.
    """

    histories: int = 0
    asked: int = 0
    by_reason: Counter[tuple[str, str]] = field(default_factory=Counter)
    broken: list[Broken] = field(default_factory=list)

    def add(self, other: Found) -> None:
        """Take in what was found elsewhere."""
        self.histories += other.histories
        self.asked += other.asked
        self.by_reason.update(other.by_reason)
        self.broken += other.broken


Frontier = list[tuple[History, int]]
"""Histories that go on, each with its sessions."""

Mapped = Callable[
    [Callable[[Frontier], tuple[Found, Frontier]], list[Frontier]],
    Iterable[tuple[Found, Frontier]],
]


def exhaust(
    run: Run, sessions: int | None = None, *, advise: Advise = advise, processes: int = 1
) -> Found:
    """Go through all histories of a run of at most so many sessions; the run's own bound if None.

    `processes`: 1 stays in this one.
    """
    asking = _Asking(run, run.sessions if sessions is None else sessions, advise)
    found = Found()
    frontier: Frontier = [(run.start, 0)]
    today = DAY_0
    with _mapped(processes) as mapped:
        while frontier and not found.broken:
            batches = [frontier[n : n + BATCH] for n in range(0, len(frontier), BATCH)]
            frontier = []
            for part, evenings in mapped(partial(_live, asking, today), batches):
                found.add(part)
                frontier += evenings
            today += timedelta(days=1)
    del found.broken[SHOWN_MAX:]
    return found


@contextmanager
def _mapped(processes: int) -> Iterator[Mapped]:
    """`map`, here or over processes; in order either way, so that each time the same is found."""
    if processes == 1:
        yield map
        return
    with get_context("fork").Pool(processes) as pool:
        yield pool.imap


@dataclass(frozen=True)
class _Asking:
    """What stays the same through all days of a run."""

    run: Run
    bound: int
    advise: Advise


def _live(asking: _Asking, today: date, batch: Frontier) -> tuple[Found, Frontier]:
    """One day of some histories: what was found, and the evenings that go on."""
    found, bound = Found(), asking.bound
    evenings: Frontier = []
    judge = partial(_judge, asking, found)
    for history, sessions in batch:
        for evening in live_day(asking.run, history, today, judge, ended=sessions >= bound):
            done = sessions + len(evening.sessions) - len(history.sessions)
            days = days_since_session(evening, today)
            if (done >= bound and days >= 2) or days >= RESTING_DAYS_MAX:
                found.histories += 1
            else:
                evenings.append((evening, done))
    return found, evenings


def _judge(asking: _Asking, found: Found, history: History, today: date) -> Advice:
    """Ask the rules, check what they say, and count it."""
    advise, protocol = asking.advise, asking.run.protocol
    advice = advise(history, protocol, today)
    found.asked += 1
    found.by_reason[advice.action.value, advice.reason.value] += 1
    for statement in broken(advise, history, protocol, today):
        if len(found.broken) < SHOWN_MAX:
            found.broken.append(Broken(history, today, advice, statement))
    return advice
