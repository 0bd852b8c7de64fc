"""The exhaustion of the bounded model, held small enough for every run of the tests.

The default bound is its own command: `PYTHONPATH=tests python -m prove`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest
from prove.model import Run, runs
from prove.search import exhaust
from prove.telling import told

from rules.advice import advise
from rules.history import History
from rules.ladder import one_level_lower
from rules.protocol import Position, Protocol
from rules.reasons import Action, Advice, Finding, Reason

RUNS = {run.name: run for run in runs()}


def smaller(run: Run) -> Run:
    """The run with two ways to feel and two answers, so that even unmerged it is quick."""
    return replace(run, felt=(run.felt[0], run.felt[-1]), told=(run.told[0], run.told[-1]))


def bound_of(name: str) -> int:
    """Sessions of a history in these tests: fewer where a run branches most."""
    return 2 if name in ("long", "pairs", "wide") else 1


@pytest.mark.parametrize("name", RUNS)
def test_every_statement_holds_up_to_a_small_bound(name: str) -> None:
    """No history of one or two sessions with the fewest answers breaks a statement."""
    found = exhaust(smaller(RUNS[name]), bound_of(name))

    assert found.broken == []
    assert found.histories > 0


def test_two_processes_find_what_one_finds() -> None:
    """Handing histories to processes changes nothing but the time."""
    run = smaller(RUNS["long"])

    assert exhaust(run, 1, processes=2) == exhaust(run, 1)


Change = Callable[[History, Protocol, date, Advice], Advice]


def bold(history: History, protocol: Protocol, today: date, advice: Advice) -> Advice:
    """Whenever the place is to be held, go up by a dose instead."""
    if advice.action is not Action.HOLD or advice.stood != Position(1, 1):
        return advice
    return _said(advice, Action.ADVANCE, Reason.READY, Position(1, 2))


def leaping(history: History, protocol: Protocol, today: date, advice: Advice) -> Advice:
    """Each session also raises the level."""
    if advice.action is not Action.HOLD or advice.stood.level > 3:
        return advice
    return _said(advice, Action.HOLD, advice.reason, Position(advice.stood.level + 1, 1))


def deaf(history: History, protocol: Protocol, today: date, advice: Advice) -> Advice:
    """A warning sign is not heard."""
    return advise(replace(history, loading_stops=()), protocol, today)


def gateless(history: History, protocol: Protocol, today: date, advice: Advice) -> Advice:
    """The gate to hops counts as open."""
    return advise(replace(history, hops_allowed=True), protocol, today)


def lenient(history: History, protocol: Protocol, today: date, advice: Advice) -> Advice:
    """A session that hurt over the limit is taken for one that nothing was told of."""
    last = history.sessions[-1] if history.sessions else None
    if last is None or last.pain_during is None or last.pain_during < 7:
        return advice
    untold = replace(last, pain_during=None, pain_after=None)
    gone = replace(history, sessions=(*history.sessions[:-1], untold))
    return advise(gone, protocol, today)


def unforgiving(history: History, protocol: Protocol, today: date, advice: Advice) -> Advice:
    """A session is answered for each day anew."""
    last = history.sessions[-1] if history.sessions else None
    if last is None or last.pain_during is None or last.pain_during < 7:
        return advice
    down = one_level_lower(protocol, history.position)
    evidence = {"session_on": last.on.isoformat()}
    because = Finding(Action.STEP_BACK, Reason.PAIN_FAR_OVER_LIMIT, evidence)
    return replace(advice, because=because, position=down)


def _said(advice: Advice, action: Action, reason: Reason, position: Position) -> Advice:
    return replace(advice, because=Finding(action, reason, {}), position=position)


@pytest.mark.parametrize(
    ("name", "change", "statement"),
    [
        pytest.param("long", bold, "it advances before any session", id="too soon"),
        pytest.param("long", leaping, "it goes up without an advance", id="two things at once"),
        pytest.param("long", deaf, "with a warning sign it says", id="sign not heard"),
        pytest.param("gate", gateless, "it says hops with the gate closed", id="gate"),
        pytest.param("pairs", lenient, "bolder than", id="a worse answer is bolder"),
        pytest.param("long", unforgiving, "a second time for one session", id="stepped back twice"),
    ],
)
def test_a_planted_fault_is_found_and_told(name: str, change: Change, statement: str) -> None:
    """Rules that break one statement are caught, with the days that lead to it in words."""

    def faulty(history: History, protocol: Protocol, today: date) -> Advice:
        if history.loading_stops and change is not deaf:
            return advise(history, protocol, today)
        return change(history, protocol, today, advise(history, protocol, today))

    run = RUNS[name]

    found = exhaust(run, 2, advise=faulty)

    assert any(statement in broken.statement for broken in found.broken)
    lines = list(told(run, found.broken[0]))
    assert lines[0].startswith(f"BROKEN in run {name}: ")
    assert lines[2].startswith("  day 0: ")
