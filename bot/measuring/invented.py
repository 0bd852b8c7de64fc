"""Invents patients and plays their days through the rules, with the moves that the bot would keep.

A patient answers around a mean. The mean is that of the first-step pain, and pain during, after, 24
and 48 hours after a session lie around the same. Nothing here is measured on people: no published
figure for the daily variation of Achilles pain was found, so all of it is convention. A clinician
who is told of something lets the patient go on.
Read next: `shares`, which counts; `rules.advice`, which decides.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from random import Random

from rules.advice import advise
from rules.alerts import Alert, alerts
from rules.history import HeelRaises, History, Morning, Move, MovedBy, Session
from rules.protocol import Position, Protocol, Tendon
from rules.quantities import Count, Effort, Minutes, Pain
from rules.reasons import Action, Advice

FIRST_DAY = date(2026, 3, 2)
"""Any date would do: the rules count days."""

STIFFNESS_MINUTES_PER_POINT = 5
"""Morning stiffness that goes with a point of pain [minutes]. Convention."""

DAY_SHARE = 0.75
"""Share of the variance that all answers of a day have together [0-1]. Convention."""

HEEL_RAISES = Count(25)
"""Enough for every gate, so that a ladder is climbed."""


@dataclass(frozen=True)
class Flare:
    """A rise of all pain: `points` on the `day` it begins, halved every `half_life_days`."""

    day: int
    points: float
    half_life_days: float


@dataclass(frozen=True)
class Tendency:
    """How one invented patient answers.

    `mean`: [points]. `deviation`: standard deviation of one answer [points]. `carry`: correlation
    of a day with the day before [0-1]. `answer_rate`: of each question [0-1].
    """

    mean: float
    deviation: float
    carry: float
    answer_rate: float
    flare: Flare | None = None


@dataclass(frozen=True)
class PlayedDay:
    """One morning: what was advised, and what a clinician would be told for the first time."""

    number: int
    advice: Advice
    raised: tuple[Alert, ...]


def play(tendency: Tendency, protocol: Protocol, days: int, dice: Random) -> Iterator[PlayedDay]:
    """The days of a patient who follows the advice, and skips a session as often as an answer."""
    history = _enrolled(tendency, protocol)
    told: set[tuple[str, date]] = set()
    for number, level in enumerate(levels(tendency, days, dice)):
        today = FIRST_DAY + timedelta(days=number)
        answers = Answers(tendency, level, dice)
        history = _woken(history, answers, today)
        advice = advise(history, protocol, today)
        new = [one for one in alerts(history, protocol, today) if (one.key, one.since) not in told]
        told.update((one.key, one.since) for one in new)
        yield PlayedDay(number, advice, tuple(new))
        history = _followed(history, advice)
        if advice.session_today and dice.random() < tendency.answer_rate:
            history = _trained(history, answers, today)


class Answers:
    """What is answered on one day: around the day's own level, or not at all."""

    def __init__(self, tendency: Tendency, level: float, dice: Random) -> None:
        self._level, self._dice, self._rate = level, dice, tendency.answer_rate
        self._deviation = tendency.deviation * (1 - DAY_SHARE) ** 0.5

    def pain(self) -> Pain | None:
        """One answered pain [points]; None: not answered."""
        value = self._dice.gauss(self._level, self._deviation)
        if self._dice.random() >= self._rate:
            return None
        return Pain(min(10, max(0, round(value))))

    def stiffness(self) -> Minutes | None:
        """Morning stiffness, told in fives [minutes]; None: not answered."""
        value = self._dice.gauss(self._level, self._deviation)
        if self._dice.random() >= self._rate:
            return None
        return Minutes(max(0, round(value)) * STIFFNESS_MINUTES_PER_POINT)


def levels(tendency: Tendency, days: int, dice: Random) -> Iterator[float]:
    """The level of each day [points]: the mean, a day's noise that carries over, and the flare."""
    spread = tendency.deviation * DAY_SHARE**0.5
    noise = dice.gauss(0, spread)
    for number in range(days):
        yield tendency.mean + noise + _flared(tendency.flare, number)
        fresh = dice.gauss(0, spread * (1 - tendency.carry**2) ** 0.5)
        noise = tendency.carry * noise + fresh


def _flared(flare: Flare | None, number: int) -> float:
    if flare is None or number < flare.day:
        return 0.0
    return float(flare.points * 0.5 ** ((number - flare.day) / flare.half_life_days))


def _enrolled(tendency: Tendency, protocol: Protocol) -> History:
    usual = round(tendency.mean)
    return History(
        tendon=protocol.tendon or Tendon.MID_PORTION,
        enrolled_on=FIRST_DAY,
        usual_pain=Pain(usual),
        usual_stiffness=Minutes(usual * STIFFNESS_MINUTES_PER_POINT),
        moves=(Move(FIRST_DAY, Position(1, 1), MovedBy.ENROLMENT),),
        heel_raises=(HeelRaises(FIRST_DAY, HEEL_RAISES),),
    )


def _woken(history: History, answers: Answers, today: date) -> History:
    """The morning's answers, and the follow-up of the last session that falls due."""
    morning = Morning(today, answers.pain(), answers.stiffness())
    known = replace(history, mornings=(*history.mornings, morning))
    if not history.sessions:
        return known
    last = history.sessions[-1]
    days = (today - last.on).days
    if days == 1:
        last = replace(last, pain_24h=answers.pain())
    if days == 2:
        last = replace(last, pain_48h=answers.pain())
    return replace(known, sessions=(*history.sessions[:-1], last))


def _followed(history: History, advice: Advice) -> History:
    """The move that the advice leads to, as the bot keeps it; a day of rest is noted."""
    stepped = advice.action is Action.STEP_BACK
    if stepped or advice.position != advice.stood:
        about = history.sessions[-1].on if stepped and history.sessions else None
        move = Move(advice.on, advice.position, MovedBy.RULES, stepped, about)
        history = replace(history, moves=(*history.moves, move))
    if not advice.session_today:
        history = replace(history, rest_days=(*history.rest_days, advice.on))
    return history


def _trained(history: History, answers: Answers, today: date) -> History:
    """Today's session, whole and easy, with the pain of the day."""
    session = Session(
        today,
        history.position,
        sets_done=Count(3),
        sets_prescribed=Count(3),
        pain_during=answers.pain(),
        pain_after=answers.pain(),
        effort=Effort(3),
        painkiller=False,
    )
    return replace(history, sessions=(*history.sessions, session))
