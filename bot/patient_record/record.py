"""One patient's case, put together from rows: the history for the rules, the situation for the
dialog, the schedule for the prompts. Reads only."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import Any
from zoneinfo import ZoneInfo

from bot.clinic import Clinic
from bot.ports import kind_of
from bot.store import answers, conversations, decisions, escalations, people, plans
from bot.store.answers import Kept, SessionRow
from bot.store.database import Store
from bot.store.people import Person
from bot.store.plans import Episode
from dialogs.questions import VISA_A
from dialogs.turn import Answer, Prescription, Question, Situation, State
from rules.advice import advise
from rules.history import Activity, HeelRaises, History, Morning, Session
from rules.lexicon import Lexicon
from rules.outcomes import VisaA
from rules.prompt_times import Schedule, SessionEnd
from rules.protocol import Protocol
from rules.quantities import Count, Effort, Minutes, Pain
from rules.reasons import Advice

# How far back the dialog knows what was answered [days]. Convention: corrections go back three.
ANSWERED_DAYS = 7


class Case:
    """A patient at one instant. What is read once stands: `again` reads anew after a change."""

    def __init__(self, store: Store, clinic: Clinic, patient: Person, now: datetime) -> None:
        self.store, self.clinic, self.patient, self.now = store, clinic, patient, now
        self.episode: Episode = plans.of_patient(store, patient.id)
        self.protocol: Protocol = clinic.protocol(self.episode.protocol)
        self._situations: dict[bool, Situation] = {}

    def again(self) -> Case:
        """The same patient at the same instant, read anew after something was written."""
        fresh = people.person(self.store, self.patient.id)
        return Case(self.store, self.clinic, fresh, self.now)

    @property
    def local_now(self) -> datetime:
        """The instant on the patient's own wall clock."""
        return self.now.astimezone(ZoneInfo(self.patient.zone))

    @property
    def today(self) -> date:
        """The patient's local date."""
        return self.local_now.date()

    @property
    def lexicon(self) -> Lexicon:
        """The warning signs in the patient's language."""
        return self.clinic.lexicon_in(self.patient.language)

    @property
    def state(self) -> State:
        """Where the conversation stands."""
        return conversations.state(self.store, self.patient.id)

    @cached_property
    def sessions(self) -> list[SessionRow]:
        """All sessions reported, oldest first."""
        return answers.sessions(self.store, self.episode.id)

    @cached_property
    def kept(self) -> list[Kept]:
        """All answers that stand. Most of what a message leads to is read off them."""
        return answers.standing(self.store, self.episode.id)

    @cached_property
    def answered(self) -> tuple[Answer, ...]:
        """The answers of the last days that stand, as the dialog takes them."""
        first = self.today - timedelta(days=ANSWERED_DAYS)
        return tuple(
            Answer(Question(one.question), one.about, one.value)
            for one in self.kept
            if one.about >= first
        )

    @cached_property
    def history(self) -> History:
        """All that the rules may know of the patient."""
        return history_of(self.store, self.episode, self.kept, self.sessions)

    @cached_property
    def sheets(self) -> tuple[tuple[date, int], ...]:
        """The total of each whole VISA-A sheet [points], by date; those before enrolment too."""
        return _visa_a(self.kept)

    @cached_property
    def advice(self) -> Advice | None:
        """What the rules would say at this moment; None before enrolment. Keeps nothing."""
        if self.episode.enrolled_on is None:
            return None
        return advise(self.history, self.protocol, self.today)

    @cached_property
    def session_offered(self) -> bool:
        """Whether a session is on for today and not reported yet: by today's decision where there
        is one, else by what the rules say before the morning's answers."""
        if self.episode.enrolled_on is None:
            return False
        if any(row.on == self.today for row in self.sessions):
            return False
        decided = decisions.latest(self.store, self.episode.id, self.today)
        advice = self.advice if decided is None else decided.advice
        return advice is not None and advice.session_today

    def schedule(self) -> Schedule:
        """When this patient may be asked. Who wants to be asked before quiet hours end, may."""
        return Schedule(
            zone=self.patient.zone,
            morning_time=self.episode.morning_time,
            evening_time=self.episode.evening_time,
            quiet_from=self.clinic.quiet_from,
            quiet_until=min(self.clinic.quiet_until, self.episode.morning_time),
            weekly_on=self.clinic.weekly_on,
        )

    def session_ends(self) -> tuple[SessionEnd, ...]:
        """The sessions of the last three days with the wall-clock time they were reported at."""
        zone = ZoneInfo(self.patient.zone)
        return tuple(
            SessionEnd(row.on, _ended_time(row, zone))
            for row in self.sessions
            if row.on >= self.today - timedelta(days=3)
        )

    def paused_until(self) -> date | None:
        """Last day of a pause that covers today; `date.max` for one without an end."""
        for pause in plans.pauses(self.store, self.episode.id):
            until = pause.until or date.max
            if pause.on <= self.today <= until:
                return until
        return None

    def situation(self, *, prescribe: bool = True) -> Situation:
        """What the dialog may know. `prescribe`: say today's session where one is offered."""
        if prescribe not in self._situations:
            self._situations[prescribe] = self._situation(prescribe)
        return self._situations[prescribe]

    def _situation(self, prescribe: bool) -> Situation:
        offered = prescribe and self.session_offered
        return Situation(
            now=self.local_now,
            language=self.patient.language,
            patient_name=self.patient.name,
            clinic=self.clinic.name,
            clinician_name=self._clinician_name(),
            clinic_phone=self.clinic.phone,
            emergency_number=self.clinic.emergency_number,
            crisis_line=self.clinic.crisis_line,
            side=self.episode.side,
            tendon=self.episode.tendon,
            prescription=self.prescription() if offered else None,
            last_session_on=self.sessions[-1].on if self.sessions else None,
            paused_until=self.paused_until(),
            enrolled=self.episode.enrolled_on is not None,
            opted_out=self.patient.opted_out_at is not None,
            answered=self.answered,
            ways=self._ways(),
            away=self.patient.home_zone is not None,
            wording=self.clinic.wording_in(self.patient.language),
        )

    def _ways(self) -> tuple[str, ...]:
        """The kinds of channel the patient can be reached on, the first choice first."""
        channels = (contact.channel for contact in people.contacts(self.store, self.patient.id))
        return tuple(dict.fromkeys(kind_of(channel) for channel in channels))

    def _clinician_name(self) -> str:
        """Who looks after the patient now: whoever has their open matter, else the first of the
        rota; empty where the clinic has nobody yet."""
        waiting = escalations.not_closed(self.store, self.patient.id)
        holders = [e.acknowledged_by for e in waiting if e.acknowledged_by is not None]
        if holders:
            return people.person(self.store, holders[0]).name
        clinicians = people.by_role(self.store, *people.CLINICAL)
        return next((one.name for one in clinicians if one.opted_out_at is None), "")

    def prescription(self) -> Prescription | None:
        """The session of the present place on the ladder."""
        moves = plans.moves(self.store, self.episode.id)
        if not moves:
            return None
        position = moves[-1].position
        return Prescription(self.protocol.level(position), self.protocol.dose(position))


def _ended_time(row: SessionRow, zone: ZoneInfo) -> Any:
    """The wall-clock time of the report; None where it came on another date than the session."""
    reported = row.reported_at.astimezone(zone)
    return reported.time().replace(microsecond=0) if reported.date() == row.on else None


def history_of(
    store: Store, episode: Episode, kept: list[Kept], sessions: list[SessionRow]
) -> History:
    """The history the rules read, from the answers that stand and the sessions reported."""
    on = episode.enrolled_on or date.min
    return History(
        tendon=episode.tendon,
        enrolled_on=on,
        usual_pain=Pain(episode.usual_pain),
        usual_stiffness=Minutes(episode.usual_stiffness),
        moves=plans.moves(store, episode.id),
        mornings=_mornings(kept),
        sessions=_sessions(kept, sessions),
        activities=_activities(kept),
        heel_raises=_heel_raises(kept),
        rest_days=decisions.rest_days(store, episode.id),
        pauses=plans.pauses(store, episode.id),
        day_words=plans.day_words(store, episode.id),
        concerns=escalations.concerns(store, episode.patient),
        visa_a=_visa_a(kept),
        hops_allowed=episode.hops_allowed,
        pain_limit=None if episode.pain_limit is None else Pain(episode.pain_limit),
    )


def inputs_of(history: History) -> dict[str, Any]:
    """The history as plain values, to be kept with a decision; dates as ISO text."""
    plain: dict[str, Any] = _plain(asdict(history))
    return plain


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(held) for key, held in value.items() if held not in (None, ())}
    if isinstance(value, list | tuple):
        return [_plain(held) for held in value]
    return value.isoformat() if isinstance(value, date) else value


def _by_date(kept: list[Kept]) -> dict[date, dict[str, int]]:
    days: dict[date, dict[str, int]] = {}
    for answer in kept:
        if isinstance(answer.value, int):
            days.setdefault(answer.about, {})[answer.question] = answer.value
    return days


def _mornings(kept: list[Kept]) -> tuple[Morning, ...]:
    asked = (Question.FIRST_STEP_PAIN, Question.STIFFNESS)
    return tuple(
        Morning(
            on=on,
            first_step_pain=_read(Pain, day.get(Question.FIRST_STEP_PAIN)),
            stiffness=_read(Minutes, day.get(Question.STIFFNESS)),
        )
        for on, day in _by_date(kept).items()
        if any(question in day for question in asked)
    )


def _sessions(kept: list[Kept], rows: list[SessionRow]) -> tuple[Session, ...]:
    days = _by_date(kept)
    return tuple(_session(row, days.get(row.on, {})) for row in rows)


def _session(row: SessionRow, day: dict[str, int]) -> Session:
    painkiller = day.get(Question.PAINKILLER)
    return Session(
        on=row.on,
        position=row.position,
        sets_done=_read(Count, day.get(Question.SETS_DONE)),
        sets_prescribed=Count(row.sets_prescribed),
        pain_during=_read(Pain, day.get(Question.PAIN_DURING)),
        pain_after=_read(Pain, day.get(Question.PAIN_AFTER)),
        pain_24h=_read(Pain, day.get(Question.NEXT_DAY_PAIN)),
        pain_48h=_read(Pain, day.get(Question.TWO_DAY_PAIN)),
        effort=_read(Effort, day.get(Question.EFFORT)),
        painkiller=None if painkiller is None else bool(painkiller),
    )


def _activities(kept: list[Kept]) -> tuple[Activity, ...]:
    return tuple(
        Activity(on, Minutes(minutes), _read(Effort, day.get(Question.ACTIVITY_EFFORT)))
        for on, day in _by_date(kept).items()
        if (minutes := day.get(Question.ACTIVITY_MINUTES))
    )


def _heel_raises(kept: list[Kept]) -> tuple[HeelRaises, ...]:
    return tuple(
        HeelRaises(
            on=on,
            count=Count(day[Question.HEEL_RAISES]),
            other=_read(Count, day.get(Question.OTHER_HEEL_RAISES)),
        )
        for on, day in _by_date(kept).items()
        if Question.HEEL_RAISES in day
    )


def _visa_a(kept: list[Kept]) -> tuple[tuple[date, int], ...]:
    """The total of each sheet of which every item is answered."""
    sheets = [(on, [day.get(item) for item in VISA_A]) for on, day in _by_date(kept).items()]
    return tuple(
        (on, VisaA(tuple(points)).total)
        for on, found in sheets
        if len(points := [one for one in found if one is not None]) == len(VISA_A)
    )


def _read(quantity: Any, value: int | None) -> Any:
    return None if value is None else quantity(value)
