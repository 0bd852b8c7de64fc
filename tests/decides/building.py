"""Builds histories for the rules' tests: one that is ready to advance, and ways to change it.

Days are numbered from `DAY_0`; the patient of `ready_history` came to level 2 on day 0 and is asked
about on day 30 (`TODAY`). All values are invented; the settings are those that ship.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from rules.history import (
    Activity,
    HeelRaises,
    History,
    Morning,
    Move,
    MovedBy,
    Session,
)
from rules.protocol import Dose, DoseUnit, Level, Position, Protocol, Settings, Tendon
from rules.protocol_reader import shipped_protocol
from rules.quantities import Count, Effort, Minutes, Pain

DAY_0 = date(2026, 3, 2)
SETTINGS: Settings = shipped_protocol("mid-portion-ladder").settings


def day(number: int) -> date:
    """The date of a day counted from DAY_0."""
    return DAY_0 + timedelta(days=number)


TODAY = day(30)


def level(name: str, doses: int = 1, **changes: Any) -> Level:
    """A level with so many rising doses; every other day, 21 days at least."""
    steps = tuple(Dose(3, 10 + 2 * step, DoseUnit.REPETITIONS) for step in range(doses))
    plain = Level(name, "raise", "slow", steps, days_min=21, spacing_hours=48)
    return replace(plain, **changes)


LADDER = Protocol(
    name="ladder",
    title="Ladder for tests",
    version="1",
    tendon=None,
    settings=SETTINGS,
    levels=(
        level("two legs", doses=2),
        level("one leg", doses=3, heel_raises_min=10),
        level("one leg on a step", doses=2, deficit=True),
        level("hops on two legs", spacing_hours=72, hops=True),
        level("hops on one leg", doses=2, spacing_hours=72, hops=True),
    ),
)


def with_settings(protocol: Protocol = LADDER, **changes: Any) -> Protocol:
    """A protocol with other settings."""
    return replace(protocol, settings=replace(protocol.settings, **changes))


def morning(number: int, pain: int | None = 2, stiffness: int | None = 10) -> Morning:
    """One morning's answers."""
    return Morning(
        day(number),
        None if pain is None else Pain(pain),
        None if stiffness is None else Minutes(stiffness),
    )


PRESENT = Position(2, 3)


def session(number: int, position: Position = PRESENT, **changes: Any) -> Session:
    """A session that went well and was followed up."""
    plain = Session(
        day(number),
        position,
        sets_done=Count(3),
        sets_prescribed=Count(3),
        pain_during=Pain(2),
        pain_after=Pain(1),
        pain_24h=Pain(2),
        pain_48h=Pain(2),
        effort=Effort(3),
        painkiller=False,
    )
    return replace(plain, **changes)


def moves(*stays: tuple[int, Position]) -> tuple[Move, ...]:
    """Moves by the rules, each (day, position); the first is the enrolment."""
    first, *later = (Move(day(number), position, MovedBy.RULES) for number, position in stays)
    return (replace(first, by=MovedBy.ENROLMENT), *later)


USUAL_MOVES = moves(
    (-40, Position(1, 1)),
    (-20, Position(1, 2)),
    (0, Position(2, 1)),
    (8, Position(2, 2)),
    (16, Position(2, 3)),
)


def position_on(number: int, made: tuple[Move, ...] = USUAL_MOVES) -> Position:
    """Where the moves put the patient on a day."""
    return [move.position for move in made if move.on <= day(number)][-1]


def ready_history(**changes: Any) -> History:
    """A history that is ready for level 3 on day 30, with what is to be different."""
    plain = History(
        tendon=Tendon.MID_PORTION,
        enrolled_on=day(-40),
        usual_pain=Pain(2),
        usual_stiffness=Minutes(10),
        moves=USUAL_MOVES,
        mornings=tuple(morning(number) for number in range(-40, 31)),
        sessions=tuple(session(number, position_on(number)) for number in range(0, 30, 2)),
        activities=tuple(Activity(day(number), Minutes(100)) for number in (5, 10, 15, 20)),
        heel_raises=(HeelRaises(day(25), Count(12)),),
    )
    return replace(plain, **changes)


def with_mornings(history: History, *changed: Morning) -> History:
    """The history with some mornings answered otherwise."""
    held = {one.on: one for one in (*history.mornings, *changed)}
    return replace(history, mornings=tuple(held[on] for on in sorted(held)))


def with_sessions(history: History, *changed: Session) -> History:
    """The history with some sessions replaced or added."""
    held = {one.on: one for one in (*history.sessions, *changed)}
    return replace(history, sessions=tuple(held[on] for on in sorted(held)))


def with_last(history: History, **changes: Any) -> History:
    """The history with answers about the last session changed."""
    return replace(
        history, sessions=(*history.sessions[:-1], replace(history.sessions[-1], **changes))
    )


def sessions_until(last: int, every: int = 2) -> tuple[Session, ...]:
    """Sessions that went well, every so many days from day 0 to `last` at most."""
    return tuple(session(number, position_on(number)) for number in range(0, last + 1, every))
