"""The bounded model: what a patient may answer on each day, and what the bot then keeps.

A day has two moments at which the rules are asked: in the morning, with the answers about the last
session that fall due (24 and 48 hours), and after a session. The advice is followed as the bot
follows it: a move is kept, a rest day is noted, an unanswered morning changes nothing. Answers are
coarse and stand at the limits: 3 is the most that is comfortable and the most that is settled with
a usual pain of 2; 4 is over comfortable, well above usual and still within the limit; 6 is over the
ceiling and 7 far over it.
Not in the model: answers that come late, corrections, pauses, other activity, a clinician's moves.
Read next: `statements`, for what is checked; `search`, for how all histories are gone through.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from rules.advice import move_made
from rules.history import HeelRaises, History, Morning, Move, MovedBy, Session
from rules.protocol import Position, Protocol, Tendon
from rules.protocol_reader import shipped_protocol
from rules.quantities import Count, Effort, Minutes, Pain
from rules.reasons import Advice

DAY_0 = date(2026, 3, 2)
"""The first day that is gone through. Any date would do: the rules count days."""

USUAL, COMFORTABLE, SORE, OVER, HARM = Pain(2), Pain(3), Pain(4), Pain(6), Pain(7)
LIGHT, EASY, HARD = Effort(3), Effort(5), Effort(6)
RESTING_DAYS_MAX = 9
"""A history ends after so many days since the last session [days]: nothing new would come."""

_CALM_DAYS = 30
_STIFFNESS = Minutes(10)

Judge = Callable[[History, date], Advice]
"""Asks the rules about a history, checks what they say, and gives it."""


@dataclass(frozen=True)
class Told:
    """A morning's first-step pain and the follow-up of that day. None: not answered."""

    morning: Pain | None
    follow_up: Pain | None


@dataclass(frozen=True)
class Felt:
    """What is told about a session on its day."""

    during: Pain | None
    after: Pain | None
    effort: Effort = LIGHT
    painkiller: bool = False


@dataclass(frozen=True)
class Run:
    """One exhaustion. `told`: on the two days after a session; `between`: on later days.

    `gates`: how the clinician's gate may stand from the second day after a session on; empty: as it
    was. `against`: whether the patient also trains on rest days and stays away on others.
    """

    name: str
    about: str
    protocol: Protocol
    start: History
    felt: tuple[Felt, ...]
    told: tuple[Told, ...]
    sessions: int
    between: tuple[Told, ...] = (Told(USUAL, None),)
    gates: tuple[bool, ...] = ()
    against: bool = False


def live_day(run: Run, history: History, today: date, judge: Judge, *, ended: bool) -> Iterator:
    """Every way in which a day may go: the histories as they stand in the evening.

    `ended`: the last session of the bound has been done; the morning is judged and that is all.
    """
    for woken in _wakings(run, history, today):
        advice = judge(woken, today)
        answered = bool(woken.mornings) and woken.mornings[-1].on == today
        # A morning without an answer is no message: the bot decides on nothing and keeps nothing.
        kept = followed(woken, advice) if answered else woken
        offered = advice.session_today and not ended
        if offered or (run.against and not ended):
            for felt in run.felt:
                trained = _trained(kept, felt, today)
                yield followed(trained, judge(trained, today))
        if not offered or run.against:
            rested = answered and not advice.session_today
            yield replace(kept, rest_days=(*kept.rest_days, today)) if rested else kept


def followed(history: History, advice: Advice) -> History:
    """The move that the advice leads to, as the bot keeps it."""
    move = move_made(advice, history.sessions)
    return history if move is None else replace(history, moves=(*history.moves, move))


def days_since_session(history: History, today: date) -> int:
    """Days since the last session; since the start where there is none."""
    last = history.sessions[-1].on if history.sessions else DAY_0
    return (today - last).days


def _wakings(run: Run, history: History, today: date) -> Iterator[History]:
    """Every way in which a morning may begin."""
    days = days_since_session(history, today) if history.sessions else 0
    gates = run.gates if run.gates and days >= 2 else (history.hops_allowed,)
    for told in run.told if days in (1, 2) else run.between:
        woken = _woken(history, told, days, today)
        for gate in gates:
            yield woken if gate is woken.hops_allowed else replace(woken, hops_allowed=gate)


def _woken(history: History, told: Told, days: int, today: date) -> History:
    if told.morning is not None:
        morning = Morning(today, told.morning, _STIFFNESS)
        history = replace(history, mornings=(*history.mornings, morning))
    if days not in (1, 2) or told.follow_up is None:
        return history
    last = history.sessions[-1]
    if days == 1:
        last = replace(last, pain_24h=told.follow_up)
    else:
        last = replace(last, pain_48h=told.follow_up)
    return replace(history, sessions=(*history.sessions[:-1], last))


def _trained(history: History, felt: Felt, today: date) -> History:
    session = Session(
        today,
        history.position,
        sets_done=Count(3),
        sets_prescribed=Count(3),
        pain_during=felt.during,
        pain_after=felt.after,
        effort=felt.effort,
        painkiller=felt.painkiller,
    )
    return replace(history, sessions=(*history.sessions, session))


def fresh(tendon: Tendon = Tendon.MID_PORTION) -> History:
    """A patient on the day of enrolment, at the foot of the ladder."""
    return History(
        tendon=tendon,
        enrolled_on=DAY_0,
        usual_pain=USUAL,
        usual_stiffness=_STIFFNESS,
        moves=(Move(DAY_0, Position(1, 1), MovedBy.ENROLMENT),),
        heel_raises=(HeelRaises(DAY_0, Count(20)),),
    )


def calm(position: Position, tendon: Tendon = Tendon.MID_PORTION, *, gate: bool) -> History:
    """A patient with a calm month at a place on the ladder behind them, ready to go on."""
    began = DAY_0 - timedelta(days=_CALM_DAYS)
    days = [began + timedelta(days=number) for number in range(_CALM_DAYS)]
    calm_session = Session(
        began, position, Count(3), Count(3), USUAL, USUAL, USUAL, USUAL, Effort(3), False
    )
    return replace(
        fresh(tendon),
        enrolled_on=began,
        moves=(Move(began, position, MovedBy.ENROLMENT),),
        mornings=tuple(Morning(day, USUAL, _STIFFNESS) for day in days),
        sessions=tuple(replace(calm_session, on=day) for day in days[::2]),
        hops_allowed=gate,
    )


_EVERY_FELT = tuple(
    Felt(during, after)
    for during in (COMFORTABLE, OVER, HARM, None)
    for after in (COMFORTABLE, SORE, OVER, None)
)
_THREE_FELT = (
    Felt(COMFORTABLE, COMFORTABLE),
    Felt(COMFORTABLE, SORE),
    Felt(OVER, COMFORTABLE),
)
_LONG_FELT = (Felt(COMFORTABLE, COMFORTABLE), Felt(OVER, SORE), Felt(HARM, OVER))
_SILENT = Told(None, None)
_FOLLOWED_UP = (*(Told(pain, pain) for pain in (COMFORTABLE, SORE, OVER)), _SILENT)
_MORNINGS = (*(Told(pain, None) for pain in (COMFORTABLE, SORE, OVER)), _SILENT)
_MID = shipped_protocol("mid-portion-ladder")


def runs() -> tuple[Run, ...]:
    """All that is gone through, each with its own alphabet and bound."""
    ours = replace(_MID, name="a clinic's own ladder for either tendon", tendon=None)
    insertional = Tendon.INSERTIONAL
    toggles = tuple(
        Felt(pain, pain, effort, painkiller)
        for pain in (COMFORTABLE, SORE)
        for effort in (EASY, HARD)
        for painkiller in (False, True)
    )
    before_hops = calm(Position(7, 4), gate=False)
    floor = calm(Position(5, 5), insertional, gate=True)
    return (
        Run(
            "long", "from enrolment, few answers, many sessions", _MID, fresh(), _LONG_FELT,
            (_FOLLOWED_UP[0], _FOLLOWED_UP[2], _SILENT), 2,
        ),
        Run("wide", "from enrolment, more answers", _MID, fresh(), _THREE_FELT, _FOLLOWED_UP, 2),
        Run("pairs", "during and after in all pairs", _MID, fresh(), _EVERY_FELT, _FOLLOWED_UP, 1),
        Run(
            "mornings", "the mornings themselves hurt, so usual moves", _MID, fresh(), _THREE_FELT,
            _MORNINGS, 1, between=(Told(USUAL, None), Told(OVER, None)),
        ),
        Run(
            "toggles", "effort and painkiller", _MID, calm(Position(2, 1), gate=False), toggles,
            _FOLLOWED_UP[:2], 1,
        ),
        Run(
            "gate", "the gate to hops opened and closed", _MID, before_hops, _THREE_FELT,
            (_FOLLOWED_UP[0], _FOLLOWED_UP[1], _SILENT), 1, gates=(False, True),
        ),
        Run(
            "insertional", "the shipped ladder", shipped_protocol("insertional-ladder"), floor,
            _THREE_FELT, _FOLLOWED_UP, 1,
        ),
        Run(
            "insertional-deficit", "a ladder that goes on to deficit raises", ours,
            calm(Position(5, 3), insertional, gate=True), _THREE_FELT, _FOLLOWED_UP, 1,
        ),
        Run(
            "against", "trains or not, whatever is advised", _MID, fresh(), _THREE_FELT,
            (_FOLLOWED_UP[0], _FOLLOWED_UP[2], _SILENT), 1, against=True,
        ),
    )  # fmt: skip
