"""Puts a broken statement and its history into words: one line a day.

Read next: `__main__`.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from prove.model import DAY_0, Run
from prove.search import Broken

from rules.history import History, Session


def told(run: Run, broken: Broken) -> Iterator[str]:
    """The statement, then the days that lead to it, then what the rules said."""
    history, advice = broken.history, broken.advice
    yield f"BROKEN in run {run.name}: {broken.statement}."
    first = history.moves[0]
    yield (
        f"  {run.protocol.name}, {history.tendon.value}; enrolled at"
        f" level {first.position.level} dose {first.position.dose},"
        f" usual pain {int(history.usual_pain)},"
        f" {(DAY_0 - history.enrolled_on).days} calm days before day 0"
    )
    day = DAY_0
    while day <= broken.today:
        yield f"  day {(day - DAY_0).days}: {', '.join(_happened(history, day)) or 'no answer'}"
        day += timedelta(days=1)
    gate = "open" if history.hops_allowed else "closed"
    yield (
        f"  then, with the gate to hops {gate}: {advice.action.value} ({advice.reason.value}),"
        f" from level {advice.stood.level} dose {advice.stood.dose}"
        f" to level {advice.position.level} dose {advice.position.dose}"
    )


def _happened(history: History, day: date) -> Iterator[str]:
    for morning in history.mornings:
        if morning.on == day:
            yield f"first-step pain {_said(morning.first_step_pain)}"
    for session in history.sessions:
        yield from _followed_up(session, day)
    for move in history.moves[1:]:
        if move.on == day:
            what = "steps back" if move.step_back else "does less" if move.do_less else "moves"
            yield f"{what} to level {move.position.level} dose {move.position.dose}"
    for session in history.sessions:
        if session.on == day:
            yield (
                f"session at level {session.position.level} dose {session.position.dose}"
                f" (during {_said(session.pain_during)}, after {_said(session.pain_after)},"
                f" effort {_said(session.effort)}"
                f"{', after a painkiller' if session.painkiller else ''})"
            )
    if day in history.rest_days:
        yield "rest"


def _followed_up(session: Session, day: date) -> Iterator[str]:
    for days, name, pain in ((1, "24 h", session.pain_24h), (2, "48 h", session.pain_48h)):
        if session.on + timedelta(days=days) == day and pain is not None:
            yield f"{name} pain {int(pain)}"


def _said(answer: int | None) -> str:
    return "not told" if answer is None else str(int(answer))
