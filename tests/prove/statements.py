"""What must hold of every advice, worked out from the answers alone.

Nothing here uses what the rules use to reach their advice: usual, next-day pain and the next step
on the ladder are computed again. A statement that does not hold is told in one sentence.
Read next: `search`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, timedelta
from statistics import median
from typing import Any

from rules.history import History, LoadingStop, Session, Tendon, Tier
from rules.protocol import Position, Protocol
from rules.quantities import Pain
from rules.reasons import Action, Advice

Advise = Callable[[History, Protocol, date], Advice]

COMFORT_MAX, LIMIT, RAISE_DAYS, HARM = 3, 4, 7, 7
"""As shipped [points, points, days, points]; written down again, to notice a changed file."""

CLASSES = (3, 4, 5, 6, 7)
"""The answers that differ for the rules: comfortable and settled, sore, over the limit, over
the ceiling, far over it [points]."""

ANSWERS = ("pain_during", "pain_after", "pain_24h", "pain_48h")


def broken(advise: Advise, history: History, protocol: Protocol, today: date) -> Iterator[str]:
    """Ask the rules about a history, and tell each statement that their advice breaks."""
    advice = advise(history, protocol, today)
    yield from _broken_advance(history, protocol, advice)
    yield from _broken_place(history, protocol, advice)
    if advice.action is Action.STOP:
        yield "it stops without a warning sign"
    if _answered_for(history, advice):
        yield "it steps down a second time for one session"
    if _harmed(history) and advice.action is not Action.STEP_BACK:
        yield f"with a session of {HARM} or more it says {advice.action.value}"
    if advice.action is Action.DO_LESS and not _one_less(protocol, history.position, advice):
        yield f"it does less by going to {_place(advice.position)}"
    sign = LoadingStop("tendon-rupture", Tier.EMERGENCY, raised_on=today)
    stopped = advise(replace(history, loading_stops=(sign,)), protocol, today)
    if stopped.action is not Action.STOP or stopped.position != history.position:
        yield f"with a warning sign it says {stopped.action.value}"
    for what, worse in worsened(history, today):
        bolder = advise(worse, protocol, today)
        if bolder.action.boldness > advice.action.boldness or bolder.position > advice.position:
            yield (
                f"with {what} it says {bolder.action.value} ({bolder.reason.value}), bolder than"
                f" {advice.action.value} ({advice.reason.value})"
            )
    # Last, so that anything remembered from the questions above would show.
    if advise(replace(history), protocol, today) != advice:
        yield "asked again, it says something else"


def worsened(history: History, today: date) -> Iterator[tuple[str, History]]:
    """The history with one answer about the last session or since it worse, and what was changed.

    A known answer is raised to each higher one; an unknown one that is due is given as the worst.
    """
    if not history.sessions:
        return
    last = history.sessions[-1]
    due = len(ANSWERS) if (today - last.on).days >= 2 else 2 + (today - last.on).days
    for name in ANSWERS[:due]:
        for pain in _higher(getattr(last, name)):
            worse = replace(last, **{name: pain})
            yield f"{name} {_said(pain)}", _with_last(history, worse)
    for index, morning in enumerate(history.mornings[-2:], start=len(history.mornings[-2:]) * -1):
        if morning.on <= last.on:
            continue
        for pain in _higher(max(morning.first_step_pain, CLASSES[0])):
            mornings = list(history.mornings)
            mornings[index] = replace(morning, first_step_pain=pain)
            yield f"a first-step pain of {_said(pain)}", replace(history, mornings=tuple(mornings))
    if not last.painkiller:
        yield "a painkiller", _with_last(history, replace(last, painkiller=True))


def _higher(pain: Pain | None) -> Iterator[Pain]:
    if pain is None:
        yield Pain(CLASSES[-1])
        return
    yield from (Pain(higher) for higher in CLASSES if higher > pain)


def _with_last(history: History, last: Session) -> History:
    return replace(history, sessions=(*history.sessions[:-1], last))


def _broken_advance(history: History, protocol: Protocol, advice: Advice) -> Iterator[str]:
    """What an advance must rest on, and that nothing else goes up."""
    if advice.action is not Action.ADVANCE:
        if advice.position > history.position:
            yield f"it goes up without an advance, to {_place(advice.position)}"
        return
    if advice.position != _next(protocol, history.position):
        yield f"it goes from {_place(history.position)} to {_place(advice.position)} at once"
    if not history.sessions:
        yield "it advances before any session"
        return
    last = history.sessions[-1]
    for name in ANSWERS[:2]:
        pain = getattr(last, name)
        if pain is None or pain > COMFORT_MAX:
            yield f"it advances with {name} {_said(pain)}"
    settled = min(_usual(history, last.on) + 1, LIMIT)
    for name, days, told in (("next-day", 1, last.pain_24h), ("two-day", 2, last.pain_48h)):
        morning = _first_steps(history).get(last.on + timedelta(days=days))
        since = last.pain_48h if morning is None else None
        known = [pain for pain in (morning, told, since) if pain is not None]
        worst = max(known, default=None)
        if worst is None or worst > settled:
            yield f"it advances with {name} pain {_said(worst)}, settled is at most {settled:g}"
    ups = [
        after.on
        for before, after in zip(history.moves, history.moves[1:], strict=False)
        if after.position > before.position
    ]
    if ups and (advice.on - ups[-1]).days < RAISE_DAYS:
        yield f"it goes up twice within {(advice.on - ups[-1]).days} days"


def _broken_place(history: History, protocol: Protocol, advice: Advice) -> Iterator[str]:
    """Where this patient must never be loaded."""
    level = protocol.levels[advice.position.level - 1]
    goes_there = advice.session_today or advice.position != history.position
    if goes_there and level.deficit and history.tendon is Tendon.INSERTIONAL:
        yield "it loads an insertional tendon on a deficit level"
    rises = advice.position > history.position
    if (advice.session_today or rises) and level.hops and not history.hops_allowed:
        yield "it says hops with the gate closed"


def _answered_for(history: History, advice: Advice) -> bool:
    """Whether a step back names a session that one was made for, by this session's own answers."""
    if not advice.steps_down or not history.sessions:
        return False
    if "session_on" not in advice.because.evidence:
        return False
    on = history.sessions[-1].on
    return any(move.down and move.session_on == on for move in history.moves)


def _harmed(history: History) -> bool:
    """Whether the last session hurt far over the ceiling and no step down has answered for it."""
    last = history.sessions[-1] if history.sessions else None
    known = [p for p in (last.pain_during, last.pain_after) if p is not None] if last else []
    answered = any(
        move.down and (move.session_on == last.on or move.on > last.on)
        for move in history.moves
        if last is not None
    )
    return max(known, default=0) >= HARM and not answered


def _one_less(protocol: Protocol, stood: Position, advice: Advice) -> bool:
    """Whether a place is one dose down, or lower where the place stood on is closed."""
    if stood.dose > 1:
        below = Position(stood.level, stood.dose - 1)
    elif stood.level > 1:
        below = Position(stood.level - 1, len(protocol.levels[stood.level - 2].doses))
    else:
        below = stood
    closed = protocol.levels[below.level - 1].hops or protocol.levels[stood.level - 1].hops
    return advice.position == below or (closed and advice.position < below)


def _next(protocol: Protocol, position: Position) -> Position:
    if position.dose < len(protocol.levels[position.level - 1].doses):
        return Position(position.level, position.dose + 1)
    return Position(position.level + 1, 1)


def _first_steps(history: History) -> dict[date, Any]:
    return {morning.on: morning.first_step_pain for morning in history.mornings}


def _usual(history: History, on: date) -> float:
    """Median first-step pain of the 14 mornings up to a session; with under five, as enrolled."""
    pains = _first_steps(history)
    window = [pains.get(on - timedelta(days=days)) for days in range(14)]
    answered = [pain for pain in window if pain is not None]
    return float(median(answered)) if len(answered) >= 5 else float(history.usual_pain)


def _said(pain: int | None) -> str:
    return "not told" if pain is None else str(int(pain))


def _place(position: Position) -> str:
    return f"level {position.level} dose {position.dose}"
