"""The exhaustion of the bounded model, held small enough for every run of the tests.

The default bound is its own command: `PYTHONPATH=tests python -m prove`.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import replace
from datetime import date, timedelta

import pytest
from prove.model import DAY_0, RESTING_DAYS_MAX, Run, days_since_session, live_day, runs
from prove.sameness import future_key
from prove.search import exhaust
from prove.statements import worsened
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


def test_merging_leaves_nothing_out() -> None:
    """With and without merging there are as many histories, and as many of each decision."""
    run = smaller(RUNS["long"])

    merged = exhaust(run, 2, checking=False)
    apart = exhaust(run, 2, merging=False, checking=False)

    assert merged.histories == apart.histories
    assert merged.by_reason == apart.by_reason
    assert merged.asked <= apart.asked == apart.covered


@pytest.mark.parametrize("name", RUNS)
def test_histories_with_one_key_get_one_advice_and_keep_one_key(name: str) -> None:
    """By induction over the days: nothing that is asked after merging can differ.

    Each history is followed by itself; all with one key hear the same on each way the next day may
    go, also with one answer worse, and have one key again in the evening.
    """
    run = smaller(RUNS[name])
    bound = 1 if run.start.sessions else bound_of(name)  # a long record is slow to ask about
    evenings, today = [(run.start, 0)], DAY_0
    while evenings:
        heard: dict[Hashable, Hashable] = {}
        coming = []
        for history, done in evenings:
            key = (done, future_key(history, run.protocol, today, bound - done))
            said, ways = lived(run, history, today, bound - done)
            assert heard.setdefault(key, said) == said
            coming += [(evening, done + trained) for evening, trained in ways]
        today += timedelta(days=1)
        evenings = [(one, done) for one, done in coming if not over(one, today, bound - done)]


def over(history: History, today: date, more: int) -> bool:
    """Whether a history ends on the evening before."""
    days = days_since_session(history, today) - 1
    return days >= RESTING_DAYS_MAX or (more == 0 and days >= 2)


def lived(
    run: Run, history: History, today: date, more: int
) -> tuple[Hashable, list[tuple[History, int]]]:
    """All that is said on one day and the keys of its evenings; and the evenings themselves."""
    said: list[Hashable] = []

    def judge(asked: History, on: date) -> Advice:
        advice = advise(asked, run.protocol, on)
        for one in (asked, *(worse for _what, worse in worsened(asked, on))):
            answer = advise(one, run.protocol, on)
            said.append((answer.action, answer.reason, answer.position))
        return advice

    ways = []
    for evening in live_day(run, history, today, judge, ended=more == 0):
        trained = len(evening.sessions) - len(history.sessions)
        ways.append((evening, trained))
        tomorrow = today + timedelta(days=1)
        if not over(evening, tomorrow, more - trained):
            said.append(future_key(evening, run.protocol, tomorrow, more - trained))
    return tuple(said), ways


def test_more_sessions_than_the_merging_may_join_are_refused() -> None:
    """From the fifth session on, the first ones are a usual of their own."""
    with pytest.raises(ValueError, match="under 5 sessions were expected in run long"):
        exhaust(RUNS["long"], 5)


def test_two_processes_find_what_one_finds() -> None:
    """Handing histories to processes changes nothing but the time."""
    run = smaller(RUNS["long"])

    assert exhaust(run, 2, processes=2, checking=False) == exhaust(run, 2, checking=False)


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
