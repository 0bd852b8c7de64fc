"""Plays a patient's months through the rules day by day, as the bot would keep them.

A patient is given as bytes, eight a day, so that a property test can invent one. Each day the
morning is answered, the rules are asked, a move or a rest day is kept, and a session is done or
not, with or against the advice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date

from decides.building import day

from rules.advice import advise, move_made
from rules.history import Activity, HeelRaises, History, Morning, Move, MovedBy, Session
from rules.protocol import Position, Protocol, Tendon
from rules.quantities import Count, Effort, Minutes, Pain
from rules.reasons import Advice

BYTES_A_DAY = 8


@dataclass(frozen=True)
class Patient:
    """How a patient answers. `wildness` 0: calm and obedient; 3: anything goes."""

    days: bytes
    wildness: int
    tendon: Tendon = Tendon.MID_PORTION
    hops_allowed: bool = True

    def pain(self, byte: int) -> Pain | None:
        """A pain read off a byte; the wilder, the higher and the more often missing."""
        if byte >= 256 - 20 * self.wildness:
            return None
        return Pain(byte % (3, 4, 6, 11)[self.wildness])

    def trains(self, byte: int, advised: bool) -> bool:
        """Whether a session is done today."""
        against = byte % 32 < 2 * self.wildness
        return advised != against


@dataclass(frozen=True)
class Lived:
    """One day: what was known when the rules were asked, and what they said."""

    history: History
    today: date
    advice: Advice


def enrolled(patient: Patient, protocol: Protocol) -> History:
    """The history on the day of enrolment."""
    return History(
        tendon=patient.tendon,
        enrolled_on=day(0),
        usual_pain=Pain(2),
        usual_stiffness=Minutes(10),
        moves=(Move(day(0), Position(1, 1), MovedBy.ENROLMENT),),
        hops_allowed=patient.hops_allowed,
        heel_raises=(HeelRaises(day(0), Count(20)),),
    )


def live(patient: Patient, protocol: Protocol) -> Iterator[Lived]:
    """Each day of a life, with the advice given in the morning."""
    history = enrolled(patient, protocol)
    for number in range(len(patient.days) // BYTES_A_DAY):
        today = day(number)
        read = patient.days[number * BYTES_A_DAY : (number + 1) * BYTES_A_DAY]
        history = woken(history, patient, read, today)
        advice = advise(history, protocol, today)
        yield Lived(history, today, advice)
        history = followed(history, advice)
        if patient.trains(read[3], advice.session_today):
            history = trained(history, patient, read, today)


def woken(history: History, patient: Patient, read: bytes, today: date) -> History:
    """The morning's answers, and the late answers about the last session."""
    stiffness = None if read[1] >= 240 else Minutes(read[1] % (10 + 20 * patient.wildness))
    morning = Morning(today, patient.pain(read[0]), stiffness)
    known = replace(history, mornings=(*history.mornings, morning))
    if not history.sessions:
        return known
    last = history.sessions[-1]
    days = (today - last.on).days
    if days == 1:
        last = replace(last, pain_24h=patient.pain(read[2]))
    if days == 2:
        last = replace(last, pain_48h=patient.pain(read[2]))
    return replace(known, sessions=(*history.sessions[:-1], last))


def followed(history: History, advice: Advice) -> History:
    """The move or the rest day that the advice leads to."""
    move = move_made(advice, history.sessions)
    if move is not None:
        history = replace(history, moves=(*history.moves, move))
    if not advice.session_today:
        history = replace(history, rest_days=(*history.rest_days, advice.on))
    return history


def trained(history: History, patient: Patient, read: bytes, today: date) -> History:
    """A session at the present place, and sometimes another activity."""
    session = Session(
        today,
        history.position,
        sets_done=Count(3),
        sets_prescribed=Count(3),
        pain_during=patient.pain(read[4]),
        pain_after=patient.pain(read[5]),
        effort=None if read[6] >= 240 else Effort(read[6] % (4 + 2 * patient.wildness)),
        painkiller=read[7] % 32 < patient.wildness,
    )
    history = replace(history, sessions=(*history.sessions, session))
    if read[7] < 64:
        walk = Activity(today, Minutes(40 + read[7] * patient.wildness))
        history = replace(history, activities=(*history.activities, walk))
    return history
