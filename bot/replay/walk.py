"""Walks a diary day by day and asks the rules each morning, as the bot would have.

What is known: the advice on a row is the advice of that morning. It knows the row's morning
answers, heel raises and message, and everything of earlier rows. The session and the activity of
the same row come after it, so they count from the next row on. Pain at 24 and at 48 hours stands on
the row of its session and counts from one and from two days later.

What changes the level: the advice itself. It is taken at once, and the row's session is done at the
new place. Where the row has a `level`, that is what really was:
- the level the advice leads to: the advice was taken;
- the level from before: it was not taken, and is given again as long as its reason stands;
- any other level: somebody moved the patient there before, which is kept as a clinician's move to
  the lowest dose, and the advice is for that level.

A day without a row: nothing was answered or done; it is a session missed where one was due. Days
before the first row count neither as done nor as missed. A warning sign stops its own row only,
because a diary does not tell what the clinician said. It never writes and never asks the time.
Read next: `rules.advice`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date

from bot.errors import RefusedError
from bot.replay.diary import DiaryDay
from rules.advice import advise, move_made
from rules.alerts import AlertKey, alerts, first_told
from rules.history import (
    Activity,
    HeelRaises,
    History,
    LoadingStop,
    Morning,
    Move,
    MovedBy,
    Session,
    Tier,
)
from rules.lexicon import shipped_lexicon
from rules.protocol import Dose, Level, Position, Protocol, Tendon
from rules.quantities import Minutes, Pain
from rules.reasons import Advice, Finding
from rules.screening import SEVERE_PAIN, screen
from rules.usual import ONE_DAY, pain_limit, usual_pain


@dataclass(frozen=True)
class Options:
    """What a diary does not tell.

    `start_level`: number from 1; None: the first row's, else 1. `level_since`: the date the patient
    came to it; None: the first row's. Where it lies within the diary, the rows before it begin one
    level lower, or at the level that the first row tells. `usual_pain`, `usual_stiffness`: as told
    at enrolment; None: the first that is answered. `pain_limit`: the patient's own [points, 0-5];
    None: the protocol's. `slower`: a clinician has lengthened the days between raises.
    """

    protocol: Protocol
    tendon: Tendon = Tendon.MID_PORTION
    start_level: int | None = None
    level_since: date | None = None
    usual_pain: Pain | None = None
    usual_stiffness: Minutes | None = None
    hops_allowed: bool = False
    pain_limit: Pain | None = None
    slower: bool = False


@dataclass(frozen=True)
class DayAdvice:
    """What the rules say on one row.

    `tier`, `sign`: of the most urgent warning sign; None where there is none. `asked`: signs that
    the bot would settle by a closed question. `usual`: usual first-step pain that morning [points].
    `pain_limit`: the limit compared with [points]. `stands`: where the row's session, if any, was
    done. `notices`: what a clinician would be told of, beside the signs.
    """

    day: DiaryDay
    advice: Advice
    level: Level
    dose: Dose
    usual: float
    pain_limit: int
    stands: Position
    tier: Tier | None = None
    sign: str | None = None
    asked: tuple[str, ...] = ()
    notices: tuple[AlertKey, ...] = ()

    @property
    def findings(self) -> tuple[Finding, ...]:
        """The deciding reason first, then the others that apply."""
        return (self.advice.because, *self.advice.also)


def replay(diary: Sequence[DiaryDay], options: Options) -> tuple[DayAdvice, ...]:
    """The advice of each row. The same diary and options always give the same.

    Raises RefusedError where the level begins after the diary ends, and HistoryError where the
    protocol does not fit the tendon.
    """
    if not diary:
        return ()
    since, last = options.level_since, diary[-1].on
    if since is not None and since > last:
        raise RefusedError(
            f"a level that begins by the last day of the diary, {last.isoformat()}, was expected;"
            f" found {since.isoformat()}"
        )
    walk = _Walk(diary[0], options)
    return tuple(walk.morning_of(day) for day in diary)


class _Walk:
    """What is known so far. Grows by one row at a time."""

    def __init__(self, first: DiaryDay, options: Options) -> None:
        self._options, self._protocol = options, options.protocol
        self._since = options.level_since or first.on
        level = options.start_level or first.level or 1
        self._comes_to: Position | None = None
        if self._since > first.on:
            self._comes_to = Position(level, 1)
            level = first.level or max(1, level - 1)
        self._enrolled_on = min(self._since, first.on)
        self._moves = [Move(self._enrolled_on, Position(level, 1), MovedBy.ENROLMENT)]
        self._mornings: list[Morning] = []
        self._sessions: list[Session] = []
        self._activities: list[Activity] = []
        self._heel_raises: list[HeelRaises] = []
        self._visa_a: list[tuple[date, int]] = []
        # Of the days before the first row nothing is known: they are not missed sessions.
        self._rest_days = [
            self._enrolled_on + index * ONE_DAY
            for index in range((first.on - self._enrolled_on).days)
        ]
        self._before: DiaryDay | None = None
        self._told: dict[tuple[AlertKey, date], date] = {}

    def morning_of(self, day: DiaryDay) -> DayAdvice:
        """The advice of a row; then the row's session and activity are taken note of."""
        self._come_to_level(day)
        self._hear_morning(day)
        loading_stop, asked = self._screened(day)
        history = self._history(day.on, () if loading_stop is None else (loading_stop,))
        advice = self._advised(day, history)
        if day.level is None or day.level == advice.position.level:
            self._take(advice)
        if not advice.session_today:
            self._rest_days.append(day.on)
        stands = self._moves[-1].position
        self._hear_rest(day, stands)
        return DayAdvice(
            day=day,
            advice=advice,
            level=self._protocol.level(advice.position),
            dose=self._protocol.dose(advice.position),
            usual=usual_pain(history, self._protocol, day.on),
            pain_limit=pain_limit(history, self._protocol),
            stands=stands,
            tier=None if loading_stop is None else loading_stop.tier,
            sign=None if loading_stop is None else loading_stop.sign,
            asked=asked,
            notices=self._new_notices(history, day.on),
        )

    def _new_notices(self, history: History, today: date) -> tuple[AlertKey, ...]:
        """What a clinician would be told today and was not before; see `rules.alerts`."""
        found = first_told(
            alerts(history, self._protocol, today), self._told, self._protocol, today
        )
        self._told |= {(alert.key, alert.since): today for alert in found}
        return tuple(alert.key for alert in found if alert.key is not AlertKey.PAIN_VERY_HIGH)

    def _come_to_level(self, day: DiaryDay) -> None:
        """Where the level is told to begin within the diary: the move to it, on its date."""
        if self._comes_to is not None and day.on >= self._since:
            self._moves.append(Move(self._since, self._comes_to, MovedBy.CLINICIAN))
            self._comes_to = None

    def _advised(self, day: DiaryDay, history: History) -> Advice:
        """What the rules say, for the level the diary shows where that is not of their making."""
        advice = advise(history, self._protocol, day.on)
        if day.level in (None, advice.position.level, advice.stood.level):
            return advice
        moved = Position(day.level or 1, 1)
        self._moves.append(Move(day.on, moved, MovedBy.CLINICIAN))
        return advise(replace(history, moves=tuple(self._moves)), self._protocol, day.on)

    def _take(self, advice: Advice) -> None:
        """Move as advised."""
        move = move_made(advice, self._sessions)
        if move is not None:
            self._moves.append(move)

    def _hear_morning(self, day: DiaryDay) -> None:
        if day.morning_pain is not None or day.morning_stiffness_min is not None:
            self._mornings.append(Morning(day.on, day.morning_pain, day.morning_stiffness_min))
        if day.heel_raises is not None:
            counted = HeelRaises(day.on, day.heel_raises, day.other_heel_raises)
            self._heel_raises.append(counted)
        if day.visa_a is not None:
            self._visa_a.append((day.on, day.visa_a))

    def _hear_rest(self, day: DiaryDay, position: Position) -> None:
        self._before = day
        if day.activity_min:
            self._activities.append(Activity(day.on, day.activity_min, day.activity_effort))
        if not day.session:
            return
        self._sessions.append(
            Session(
                on=day.on,
                position=position,
                sets_done=day.sets_done,
                sets_prescribed=day.sets_prescribed,
                pain_during=day.pain_during,
                pain_after=day.pain_after,
                pain_24h=day.pain_24h,
                pain_48h=day.pain_48h,
                effort=day.effort,
                painkiller=day.painkiller,
            )
        )

    def _screened(self, day: DiaryDay) -> tuple[LoadingStop | None, tuple[str, ...]]:
        """The most urgent sign of the message or of a very high pain, and what would be asked."""
        found: list[tuple[Tier, str]] = []
        asked: tuple[str, ...] = ()
        if day.message:
            screening = screen(day.message, shipped_lexicon())
            found = [(match.tier, match.sign.key) for match in screening.found]
            asked = tuple(sign.key for sign in screening.ask)
        if max(self._new_pains(day), default=0) >= self._protocol.settings.pain_same_day:
            found.append((Tier.SAME_DAY, SEVERE_PAIN))
        if not found:
            return None, asked
        tier, sign = min(found, key=lambda one: one[0].urgency)
        return LoadingStop(sign, tier, raised_on=day.on), asked

    def _new_pains(self, day: DiaryDay) -> Iterator[int]:
        """Each pain that this row is the first to know."""
        if day.morning_pain is not None:
            yield day.morning_pain
        before = self._before
        if before is None:
            return
        for session in self._sessions[-3:]:
            for days, pain in (
                (0, session.pain_during),
                (0, session.pain_after),
                (1, session.pain_24h),
                (2, session.pain_48h),
            ):
                told_on = session.on + days * ONE_DAY
                # What was told on the day of the row before, in its evening, is new as well.
                is_new = told_on > before.on or (days == 0 and told_on == before.on)
                if pain is not None and is_new and told_on <= day.on:
                    yield pain

    def _history(self, today: date, loading_stops: tuple[LoadingStop, ...]) -> History:
        options = self._options
        return History(
            tendon=options.tendon,
            enrolled_on=self._enrolled_on,
            usual_pain=self._usual_pain_told(),
            usual_stiffness=self._usual_stiffness_told(),
            moves=tuple(self._moves),
            mornings=tuple(self._mornings),
            sessions=(
                *self._sessions[:-1],
                *(_as_known(session, today) for session in self._sessions[-1:]),
            ),
            activities=tuple(self._activities),
            heel_raises=tuple(self._heel_raises),
            visa_a=tuple(self._visa_a),
            rest_days=tuple(self._rest_days),
            loading_stops=loading_stops,
            hops_allowed=options.hops_allowed,
            pain_limit=options.pain_limit,
            slower=options.slower,
        )

    def _usual_pain_told(self) -> Pain:
        """As told, else the first answered; 0, the careful end, before there is one."""
        if self._options.usual_pain is not None:
            return self._options.usual_pain
        pains = (one.first_step_pain for one in self._mornings if one.first_step_pain is not None)
        return next(pains, Pain(0))

    def _usual_stiffness_told(self) -> Minutes:
        if self._options.usual_stiffness is not None:
            return self._options.usual_stiffness
        minutes = (one.stiffness for one in self._mornings if one.stiffness is not None)
        return next(minutes, Minutes(0))


def _as_known(session: Session, today: date) -> Session:
    """The session without the follow-up at 48 hours where that could not have been given yet.

    Any session known in the morning is of an earlier day, so its follow-up at 24 hours counts.
    """
    if today - session.on >= 2 * ONE_DAY:
        return session
    return replace(session, pain_48h=None)
