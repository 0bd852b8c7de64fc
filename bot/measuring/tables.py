"""The tables of what was played: false alarms, trouble met, the climb and its price.

Read next: `trials`, for who is played.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import inf
from typing import Any

from bot.measuring.answering import Tendency
from bot.measuring.estimates import Estimate, mean, middle, share
from bot.measuring.trials import (
    AT_CEILING,
    MEANS,
    SOON_DAYS,
    WORLDS,
    Climbed,
    ClimbTrial,
    StableTrial,
    Task,
    Trial,
    TroubleTrial,
)
from rules.protocol import Protocol

SHARES = {
    "step back": "step back",
    "do less": "do less",
    "session lost": "session lost",
    "false alarm": "any of these",
    "rest day": "rest day said",
    "notice": "notice",
    "notice at limit": "usual at limit",
}
"""What a stable week is counted for, and the head of its column. Who lives at the limit is told of
on purpose, so that a limit or a load is chosen: apart from the other notices."""

Found = dict[tuple[Trial, int], list[Any]]
"""What the patients of each trial came to, under the first or the second protocol."""


@dataclass(frozen=True)
class Row:
    """One group of patients under one protocol: the first or the second measured."""

    group: str
    protocol: int
    cells: tuple[Estimate, ...]


@dataclass(frozen=True)
class Table:
    """Columns of estimates; a row for each group, and under it the other protocol's.

    `brief`: so many columns at first are told without their intervals.
    """

    title: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    brief: int = 0


@dataclass(frozen=True)
class Measured:
    """All tables of one or two protocols."""

    stable: tuple[Table, ...]
    reasons: tuple[Table, ...]
    troubles: Table
    climbs: Table

    def __iter__(self) -> Iterator[Table]:
        """The tables in the order in which they are told."""
        yield from (*self.stable, *self.reasons, self.troubles, self.climbs)


def measured(
    protocols: Sequence[Protocol], tasks: Sequence[Task], outcomes: Iterable[list[Any]]
) -> Measured:
    """The tables of what was played; `outcomes` in the order of the tasks."""
    found: Found = {}
    for task, outcome in zip(tasks, outcomes, strict=True):
        found.setdefault((task.trial, protocols.index(task.protocol)), []).extend(outcome)
    return Measured(
        stable=tuple(_stable(found, world) for world in (*WORLDS, AT_CEILING.world)),
        reasons=tuple(_reasons(found, which) for which in range(len(protocols))),
        troubles=_troubles(found),
        climbs=_climbs(found, landmarks(protocols[0])),
    )


def landmarks(protocol: Protocol) -> dict[str, int]:
    """Parts of the ladder worth waiting for, with their level: single-leg raises and hops.

    Single-leg raises are where the first count of heel raises leads; a ladder without has none.
    """
    found: dict[str, int] = {}
    for number, level in enumerate(protocol.levels, start=1):
        if level.heel_raises_min is not None:
            found.setdefault("single-leg raises", number + 1)
        if level.hops:
            found.setdefault("hops", number)
    return found


def _stable(found: Found, world: str) -> Table:
    """Stable weeks of one world."""
    rows = [
        Row(f"mean {trial.is_.mean}", which, tuple(_week_share(weeks, kind) for kind in SHARES))
        for (trial, which), weeks in found.items()
        if isinstance(trial, StableTrial) and trial.world == world
    ]
    title = f"Stable patients, {world}: percent of weeks with"
    return Table(title, tuple(SHARES.values()), tuple(rows))


def _reasons(found: Found, which: int) -> Table:
    """What stable weeks were counted for, each reason by itself."""
    groups = {
        trial.is_.mean: weeks
        for (trial, under), weeks in found.items()
        if isinstance(trial, StableTrial) and trial.world == next(iter(WORLDS)) and under == which
    }
    counted = sum((week for weeks in groups.values() for week in weeks), Counter[str]())
    rows = [
        Row(reason, which, tuple(_week_share(weeks, reason) for weeks in groups.values()))
        for reason, _ in counted.most_common()
        if ": " in reason
    ]
    columns = tuple(f"mean {one}" for one in groups)
    return Table("Stable patients by reason: percent of weeks with", columns, tuple(rows))


def _week_share(patients: Sequence[Counter[str]], kind: str) -> Estimate:
    return share([one[kind] for one in patients], [one["weeks"] for one in patients])


def _troubles(found: Found) -> Table:
    """How often trouble is met soon enough, by mean pain and together."""
    met: dict[tuple[Tendency, int], list[list[float]]] = {}
    for (trial, which), days in found.items():
        if isinstance(trial, TroubleTrial):
            groups = met.setdefault((replace(trial.is_, mean=0), which), [])
            groups.append([day for day in days if day is not None])
    rows = []
    for (is_, which), groups in met.items():
        soon, every = SOON_DAYS[is_.trouble], [day for days in groups for day in days]
        cells = [_part([day <= soon for day in days]) for days in (*groups, every)]
        cells.append(_part([day == inf for day in every]))
        group = f"{is_.trouble.value} of {is_.points:g}, in {soon} days"
        rows.append(Row(group, which, tuple(cells)))
    columns = (*(f"mean {one}" for one in MEANS), "all", "never")
    return Table("Trouble met: percent", columns, tuple(rows), brief=len(MEANS))


def _climbs(found: Found, parts: dict[str, int]) -> Table:
    """Weeks to parts of the ladder, and what the climb cost."""
    rows = [
        Row(trial.told(), which, tuple(_climb(years, parts)))
        for (trial, which), years in found.items()
        if isinstance(trial, ClimbTrial)
    ]
    columns = (*parts, "last dose", "overloads", "bad days", "steps down")
    title = "Recovering patients, with flares from outside or quiet: weeks to, and in all"
    return Table(title, columns, tuple(rows))


def _climb(years: Sequence[Climbed], parts: dict[str, int]) -> Iterator[Estimate]:
    for level in parts.values():
        yield middle([year.reached.get(level, inf) / 7 for year in years])
    yield middle([(inf if year.top is None else year.top) / 7 for year in years])
    yield mean([year.overloads for year in years])
    yield mean([year.bad_days for year in years])
    yield mean([year.steps.total() for year in years])


def _part(those: Sequence[bool]) -> Estimate:
    return share(those, [1] * len(those))
