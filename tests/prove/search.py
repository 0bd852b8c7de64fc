"""Goes through every history of a run, day by day, and stops at the first day with a broken one.

All histories of a day are gone through before the next day is begun, so the first that is found
broken is among the shortest. What histories share is shared: a day is lived once for all that
agree up to it, and those with the same future go on as one, with their number kept (`sameness`).
Read next: `telling`, for how a history is put into words.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Iterator
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
from prove.sameness import check_bound, future_key
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


@dataclass(frozen=True)
class Followed:
    """One of the histories that are the same from here on. `ways`: how many there are."""

    history: History
    ways: int
    sessions: int


@dataclass
class Found:
    """What going through a run, or a part of it, has found.

    `asked`: decisions checked; `covered`: decisions of all histories, those merged included.
    `by_reason`: `covered` by action and reason. `followed`: histories after merging.
    """

    histories: int = 0
    asked: int = 0
    covered: int = 0
    followed: int = 0
    by_reason: Counter[tuple[str, str]] = field(default_factory=Counter)
    broken: list[Broken] = field(default_factory=list)

    def add(self, other: Found) -> None:
        """Take in what was found elsewhere."""
        self.histories += other.histories
        self.asked += other.asked
        self.covered += other.covered
        self.followed += other.followed
        self.by_reason.update(other.by_reason)
        self.broken += other.broken


Frontier = dict[Hashable, Followed]
Batches = list[list[Followed]]
Mapped = Callable[
    [Callable[[list[Followed]], tuple[Found, Frontier]], Batches],
    Iterable[tuple[Found, Frontier]],
]


def exhaust(
    run: Run,
    sessions: int | None = None,
    *,
    advise: Advise = advise,
    merging: bool = True,
    checking: bool = True,
    processes: int = 1,
) -> Found:
    """Go through all histories of a run of at most so many sessions; the run's own bound if None.

    `processes`: 1 stays in this one. `merging` False follows every history by itself; `checking`
    False only counts.
    """
    bound = run.sessions if sessions is None else sessions
    if merging:
        check_bound(run, bound)
    found = Found()
    frontier: Frontier = {None: Followed(run.start, 1, 0)}
    today = DAY_0
    with _mapped(processes) as mapped:
        while frontier and not found.broken:
            work = partial(_live, _Asking(run, bound, advise, merging, checking), today)
            found.followed += len(frontier)
            waiting = list(frontier.values())
            batches = [waiting[n : n + BATCH] for n in range(0, len(waiting), BATCH)]
            frontier = {}
            for part, evenings in mapped(work, batches):
                found.add(part)
                _merge(frontier, evenings, merging=merging)
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
    merging: bool
    checking: bool


def _live(asking: _Asking, today: date, batch: list[Followed]) -> tuple[Found, Frontier]:
    """One day of some histories: what was found, and the evenings that go on."""
    found, bound, merging = Found(), asking.bound, asking.merging
    evenings: Frontier = {}
    for one in batch:
        judge = partial(_judge, asking, found, one.ways)
        ended = one.sessions >= bound
        for evening in live_day(asking.run, one.history, today, judge, ended=ended):
            done = one.sessions + len(evening.sessions) - len(one.history.sessions)
            days = days_since_session(evening, today)
            if (done >= bound and days >= 2) or days >= RESTING_DAYS_MAX:
                found.histories += one.ways
                continue
            tomorrow, more = today + timedelta(days=1), max(0, bound - done)
            key = future_key(evening, asking.run.protocol, tomorrow, more) if merging else None
            entry = (done, len(evenings) if key is None else key)
            _merge(evenings, {entry: Followed(evening, one.ways, done)}, merging=merging)
    return found, evenings


def _merge(into: Frontier, more: Frontier, *, merging: bool) -> None:
    """Add histories; those with a future that is followed already only add their number."""
    for key, one in more.items():
        entry = key if merging else len(into)
        held = into.get(entry)
        if held is not None:
            one = Followed(held.history, held.ways + one.ways, one.sessions)
        into[entry] = one


def _judge(asking: _Asking, found: Found, ways: int, history: History, today: date) -> Advice:
    """Ask the rules, check what they say, and count it."""
    advise, protocol = asking.advise, asking.run.protocol
    advice = advise(history, protocol, today)
    found.asked += 1
    found.covered += ways
    found.by_reason[advice.action.value, advice.reason.value] += ways
    if not asking.checking:
        return advice
    for statement in broken(advise, history, protocol, today):
        if len(found.broken) < SHOWN_MAX:
            found.broken.append(Broken(history, today, advice, statement))
    return advice
