"""The holds that remember what was too much: a raise is kept back, the session is done.

Read next: `ladder`, then `advice`.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from itertools import pairwise

from rules.history import History, Move, MovedBy
from rules.ladder import next_position
from rules.protocol import Position, Protocol
from rules.reading import sore_with_echo, usual_session_pain, worst_session_pain
from rules.reasons import Evidence
from rules.stay import days_between_raises, last_raise_on
from rules.usual import ONE_DAY, last_step_down


def place_was_too_much(history: History, protocol: Protocol, today: date) -> Evidence | None:
    """The next place is at or under one that was left downwards, and it is too soon to try again.

    `steps_too_much` counts those steps; while there is one, the later of the last raise and the
    last step down must lie `brake_times` times the days between raises back, and from
    `brake_steps_many` such steps on `brake_times_many` times [days, at least].
    Source: own-simulation, table of brakes.
    """
    ahead = next_position(protocol, history.position)
    steps = [] if ahead is None else steps_too_much(history, protocol, ahead, today)
    if not steps:
        return None
    settings = protocol.settings
    many = len(steps) >= settings.brake_steps_many
    times = settings.brake_times_many if many else settings.brake_times
    days_min = times * days_between_raises(history, protocol)
    days = (today - _last_change_on(history)).days
    if days >= days_min:
        return None
    return {"steps_down": len(steps), "days_since": days, "days_min": days_min}


def raised_after_sore_session(history: History, protocol: Protocol, today: date) -> Evidence | None:
    """A session of the last `sore_session_hold_days` days hurt, and so did the day after.

    As `rest_day.sore_session_and_next_day` asks it. Source: own-simulation, table of a flare from a
    session.
    """
    first = today - (protocol.settings.sore_session_hold_days - 1) * ONE_DAY
    for session in reversed(history.sessions):
        if session.on < first:
            return None
        found = sore_with_echo(history, protocol, session)
        if found is not None:
            return {**found, "hold_days": protocol.settings.sore_session_hold_days}
    return None


def steps_too_much(
    history: History, protocol: Protocol, place: Position, today: date
) -> list[Move]:
    """The steps down within `brake_memory_days` that speak against a raise to a place.

    Those from this place or a higher one, whose session hurt at least `brake_session_margin` over
    `reading.usual_session_pain` [points]; a session of which no pain is known counts as one that
    hurt. What lies before a clinician's last move does not count: their word stands above it.
    Source: own-simulation, table of brakes.
    """
    memory = protocol.settings.brake_memory_days
    return [
        move
        for stood, move in _steps_down(history)
        if stood >= place and (today - move.on).days < memory
        if _hurt(history, protocol, move)
    ]


def _steps_down(history: History) -> Iterator[tuple[Position, Move]]:
    """Each real step down since a clinician last moved the patient, with the place left."""
    by_hand = [n for n, move in enumerate(history.moves) if move.by is MovedBy.CLINICIAN]
    since = history.moves[by_hand[-1] if by_hand else 0 :]
    for before, move in pairwise(since):
        if move.down and move.position < before.position:
            yield before.position, move


def _hurt(history: History, protocol: Protocol, move: Move) -> bool:
    session = next((one for one in history.sessions if one.on == move.session_on), None)
    worst = None if session is None else worst_session_pain(session)
    if session is None or worst is None:
        return True
    margin = protocol.settings.brake_session_margin
    return worst >= usual_session_pain(history, protocol, session) + margin


def _last_change_on(history: History) -> date:
    """The later of the last raise and the last step down."""
    step = last_step_down(history)
    known = [last_raise_on(history), None if step is None else step.on]
    return max(on for on in known if on is not None)
