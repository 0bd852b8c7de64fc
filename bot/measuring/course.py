"""Plays an invented patient's days through the real rules, with the moves that the bot would keep.

A patient follows the advice. A clinician who is told of something lets the patient go on, but for
`Slower.WHEN_TOLD`.
Read next: `trials`, which counts; `rules.advice`, which decides.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum

from bot.measuring.answering import STIFFNESS_MINUTES_PER_POINT, Patient
from rules.advice import advise, move_made
from rules.alerts import Alert, AlertKey, alerts, first_told
from rules.follow_up import next_day_decides
from rules.history import HeelRaises, History, Morning, Move, MovedBy, Session
from rules.notices import too_much_often
from rules.protocol import Position, Protocol, Tendon
from rules.quantities import Count, Effort, Minutes, Pain
from rules.reasons import Action, Advice, Reason

FIRST_DAY = date(2026, 3, 2)
"""Any date would do: the rules count days."""

HEEL_RAISES = Count(25)
"""Enough for every gate, so that a ladder is climbed."""

NOT_FOR_PAIN = frozenset({Reason.STILL_RECOVERING, Reason.PAUSED, Reason.CLINICIAN_SAYS_REST})
"""Rest days that do not answer to pain."""


class Slower(StrEnum):
    """When a clinician lengthens the days between raises, and what such a patient is called."""

    NEVER = ""
    FROM_START = "slowed"
    WHEN_TOLD = "slowed late"


@dataclass(frozen=True)
class Start:
    """The level begun at, at its lowest dose.

    `slower`: when the clinician lengthens the days between raises. `limit`: the clinician's own
    pain limit for the patient [points]; None: the protocol's.
    """

    level: int = 1
    slower: Slower = Slower.NEVER
    limit: int | None = None


@dataclass(frozen=True)
class PlayedDay:
    """One morning: what was advised, and what a clinician is told for the first time."""

    number: int
    advice: Advice
    raised: tuple[Alert, ...]

    @property
    def rests_for_pain(self) -> bool:
        """Whether it is a rest day that answers to pain."""
        return self.advice.action is Action.REST_DAY and self.advice.reason not in NOT_FOR_PAIN

    @property
    def costs_a_session(self) -> bool:
        """Whether it is one on which a session was due."""
        return self.rests_for_pain and not any(
            finding.reason is Reason.STILL_RECOVERING for finding in self.advice.also
        )

    @property
    def answers_to_pain(self) -> bool:
        """Whether the rules do anything about pain on this day."""
        return self.rests_for_pain or self.advice.steps_down


def play(
    patient: Patient, protocol: Protocol, days: int, start: Start = Start(), *, notices: bool = True
) -> Iterator[PlayedDay]:
    """The days of a patient. Hops are allowed.

    `notices` False: what goes to a clinician is not looked for, which is quicker.
    """
    record = _Record(patient, protocol, start)
    told: dict[tuple[AlertKey, date], date] = {}
    for number in range(days):
        today = FIRST_DAY + timedelta(days=number)
        patient.wake(number)
        history = record.woken(patient, today)
        if start.slower is Slower.WHEN_TOLD and too_much_often(history, protocol, today):
            history = record.slowed()
        advice = advise(history, protocol, today)
        found = alerts(history, protocol, today) if notices else ()
        new = first_told(found, told, protocol, today)
        told |= {(alert.key, alert.since): today for alert in new}
        yield PlayedDay(number, advice, new)
        record.follow(advice)
        answers = patient.train(record.position) if advice.session_today else None
        if answers is not None:
            record.trained(today, *answers)


class _Record:
    """What is known of the patient, added to day by day."""

    def __init__(self, patient: Patient, protocol: Protocol, start: Start) -> None:
        self._protocol = protocol
        self._moves = [Move(FIRST_DAY, Position(start.level, 1), MovedBy.ENROLMENT)]
        self._mornings: list[Morning] = []
        self._sessions: list[Session] = []
        self._rest_days: list[date] = []
        self._at_first = History(
            tendon=protocol.tendon or Tendon.MID_PORTION,
            enrolled_on=FIRST_DAY,
            usual_pain=Pain(patient.usual),
            usual_stiffness=Minutes(patient.usual * STIFFNESS_MINUTES_PER_POINT),
            moves=tuple(self._moves),
            heel_raises=(HeelRaises(FIRST_DAY, HEEL_RAISES),),
            hops_allowed=True,
            slower=start.slower is Slower.FROM_START,
            pain_limit=None if start.limit is None else Pain(start.limit),
        )

    @property
    def position(self) -> Position:
        """Where the patient stands."""
        return self._moves[-1].position

    def woken(self, patient: Patient, today: date) -> History:
        """All that is known once the morning and the follow-up that is asked are answered."""
        self._mornings.append(Morning(today, *patient.morning()))
        last = self._sessions[-1] if self._sessions else None
        days = None if last is None else (today - last.on).days
        if last is not None and days == 1 and self._next_day_asked(today):
            self._sessions[-1] = replace(last, pain_24h=patient.follow_up())
        if last is not None and days == 2:
            self._sessions[-1] = replace(last, pain_48h=patient.follow_up())
        return self._known()

    def _next_day_asked(self, today: date) -> bool:
        """Whether the 24-hour question is asked: as `prompt_schedule.todays_prompts` does it."""
        missed = self._mornings[-1].first_step_pain is None
        return missed or next_day_decides(self._known(), self._protocol, today)

    def _known(self) -> History:
        return replace(
            self._at_first,
            moves=tuple(self._moves),
            mornings=tuple(self._mornings),
            sessions=tuple(self._sessions),
            rest_days=tuple(self._rest_days),
        )

    def slowed(self) -> History:
        """All that is known, the clinician having lengthened the days between raises."""
        self._at_first = replace(self._at_first, slower=True)
        return self._known()

    def follow(self, advice: Advice) -> None:
        """The move that the advice leads to, as the bot keeps it; a day of rest is noted."""
        move = move_made(advice, self._sessions)
        if move is not None:
            self._moves.append(move)
        if not advice.session_today:
            self._rest_days.append(advice.on)

    def trained(self, today: date, during: Pain | None, after: Pain | None) -> None:
        """Today's session, whole and easy."""
        session = Session(
            today,
            self.position,
            sets_done=Count(3),
            sets_prescribed=Count(3),
            pain_during=during,
            pain_after=after,
            effort=Effort(3),
            painkiller=False,
        )
        self._sessions.append(session)
