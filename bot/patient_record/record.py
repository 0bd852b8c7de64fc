"""One patient's record at one instant: the history for the rules, the situation for the dialog, the
what prompts are planned by. Reads only, each table once."""

from __future__ import annotations

from copy import copy
from dataclasses import replace
from datetime import date, datetime, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

from bot.clinic import Clinic
from bot.patient_record.readings import (
    Days,
    ability_of,
    activities_of,
    by_date,
    heel_raises_of,
    mornings_of,
    sessions_of,
    visa_a_totals,
)
from bot.ports import kind_of
from bot.store import (
    answers,
    conversations,
    decisions,
    escalations,
    inbox,
    people,
    plans,
    sign_questions,
)
from bot.store.answers import Kept, SessionRow
from bot.store.database import Store
from bot.store.decisions import Decision
from bot.store.escalations import Escalation
from bot.store.people import Contact, Person
from bot.store.plans import Episode
from bot.store.sign_questions import SignQuestion
from dialogs.rendering import render
from dialogs.turn import Answer, Asked, Prescription, Question, Said, Situation, State
from dialogs.waiting import signs_of
from rules.advice import advise
from rules.first_level import asks_ability
from rules.history import (
    DayWord,
    History,
    LoadingStop,
    Move,
    Pause,
)
from rules.hold import spike_over
from rules.lexicon import Lexicon
from rules.protocol import Protocol
from rules.quantities import Minutes, Pain
from rules.reasons import Advice
from rules.stop import covers

# How far back the dialog knows what was answered [days]. Convention: corrections go back three.
ANSWERED_DAYS = 7

# How far back the words go of a patient who says that it is urgent: those that were not understood,
# and any others [hours]. Convention.
UNREAD_WORDS_HOURS, WORDS_HOURS = 24, 1

# How long a closed question that is settled is not put again about the same words [hours].
# Convention: what is written again on another day may be new.
SETTLED_HOURS = 24


class PatientRecord:
    """A patient at one instant. What was read once stands; see `read_again`."""

    def __init__(self, store: Store, clinic: Clinic, patient: Person, now: datetime) -> None:
        self.store, self.clinic, self.patient, self.now = store, clinic, patient, now
        self.episode: Episode = plans.of_patient(store, patient.id)
        self.protocol: Protocol = clinic.protocol(self.episode.protocol)

    def read_again(self) -> PatientRecord:
        """The same patient at the same instant, once something was written."""
        return record_of(self.store, self.clinic, self.patient.id, self.now)

    def after_message(self) -> PatientRecord:
        """The same, once a message of theirs was written down. What a patient cannot change by
        writing stands: a clinician's words about a day, and who looks after them."""
        after = self.read_again()
        for name in ("day_words", "clinician_name"):
            if name in self.__dict__:
                after.__dict__[name] = self.__dict__[name]
        return after

    def told_by(self, clinician: str) -> PatientRecord:
        """The same record, where the patient is written to by a clinician of this name."""
        after = copy(self)
        after._situation = replace(self._situation, clinician_name=clinician)
        return after

    def with_decision(self, decision: Decision, *, moved: bool) -> PatientRecord:
        """The same record after a decision: what hangs on it is read or worked out anew."""
        after = copy(self)
        for name in ("rest_days", "history", "advice", "session_offered"):
            after.__dict__.pop(name, None)
        if moved:
            after.__dict__.pop("moves", None)
        after.decided_today = decision
        return after

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

    @cached_property
    def state(self) -> State:
        """Where the conversation stands. A closed question that was not answered in time waits on
        until a clinician has closed what it led to."""
        state = conversations.state(self.store, self.patient.id)
        if not signs_of(state.waiting):
            return state
        asked = {one.sign for one in self.asked_signs}
        waiting = tuple(
            one
            for one in state.waiting
            if not one.sign or one.sign in asked or self._is_open(one.sign)
        )
        return replace(state, waiting=waiting)

    def _is_open(self, sign: str) -> bool:
        """Whether what the latest closed question about a sign led to is not closed yet."""
        return bool(self.not_closed) and any(one.closed_at is None for one in self.led_to(sign))

    @cached_property
    def sessions(self) -> list[SessionRow]:
        """All sessions reported, oldest first."""
        return answers.sessions(self.store, self.episode.id)

    @cached_property
    def kept(self) -> list[Kept]:
        """All answers that stand. Most of what a message leads to is read off them."""
        return answers.standing(self.store, self.episode.id)

    @cached_property
    def days(self) -> Days:
        """The numbers among them, by date."""
        return by_date(self.kept)

    @property
    def goal(self) -> str:
        """What the patient wants to be able to do again, in their own words; empty: not told."""
        told = [one for one in self.kept if one.question == Question.GOAL]
        return str(max(told, key=lambda one: one.about).value) if told else ""

    @cached_property
    def moves(self) -> tuple[Move, ...]:
        """All moves on the ladder that stand, oldest first."""
        return plans.moves(self.store, self.episode.id)

    @cached_property
    def pauses(self) -> tuple[Pause, ...]:
        """All pauses."""
        return plans.pauses(self.store, self.episode.id)

    @cached_property
    def day_words(self) -> tuple[DayWord, ...]:
        """What clinicians said about single days, in that order."""
        return plans.day_words(self.store, self.episode.id)

    @cached_property
    def rest_days(self) -> tuple[date, ...]:
        """Local dates on which the patient was told not to load, and did not."""
        return decisions.rest_days(self.store, self.episode.id)

    @cached_property
    def decided_today(self) -> Decision | None:
        """Today's latest decision."""
        return decisions.latest(self.store, self.episode.id, self.today)

    @cached_property
    def contacts(self) -> list[Contact]:
        """The ways to reach the patient that work, the first choice first."""
        return people.contacts(self.store, self.patient.id)

    @cached_property
    def not_closed(self) -> list[Escalation]:
        """The patient's escalations that nobody has closed, the most urgent first."""
        return escalations.not_closed(self.store, self.patient.id)

    @cached_property
    def loading_stops(self) -> tuple[LoadingStop, ...]:
        """The escalations that stop the patient's loading, or have stopped it."""
        return escalations.loading_stops(self.store, self.patient.id)

    @cached_property
    def asked_signs(self) -> list[SignQuestion]:
        """The closed questions about warning signs that wait for an answer, the oldest first."""
        return sign_questions.waiting(self.store, self.patient.id)

    def last_asked(self, sign: str) -> SignQuestion | None:
        """The latest closed question about a sign, whatever became of it."""
        return sign_questions.last(self.store, self.patient.id, sign)

    @property
    def unanswered_sign(self) -> SignQuestion | None:
        """The closed question about a warning sign that ran out last, where within a day."""
        since = self.now - timedelta(hours=SETTLED_HOURS)
        asked = sign_questions.unanswered(self.store, self.patient.id, since)
        return asked if asked is not None and asked.sign in self.lexicon.signs else None

    def led_to(self, sign: str) -> list[Escalation]:
        """What the latest closed question about a sign led to, by itself or with what its message
        raised: all that is open, else the last that was closed."""
        asked = self.last_asked(sign)
        message = None if asked is None else asked.message
        raised = [
            one
            for one in escalations.of_patient(self.store, self.patient.id)
            if one.sign == sign or (message is not None and one.message == message)
        ]
        return [one for one in raised if one.closed_at is None] or raised[-1:]

    def settled_about(self, words: str) -> set[str]:
        """The signs that these very words need not be asked about again today."""
        since = self.now - timedelta(hours=SETTLED_HOURS)
        return sign_questions.settled_about(self.store, self.patient.id, words, since)

    @cached_property
    def typed_lately(self) -> list[str]:
        """What the patient typed in the last hour, and in the last day what nothing was made of."""
        since = self.now - timedelta(hours=WORDS_HOURS)
        unread_since = self.now - timedelta(hours=UNREAD_WORDS_HOURS)
        return inbox.typed_since(self.store, self.patient.id, since, unread_since)

    def answered_by(self, channel: str, message: str) -> tuple[Asked, ...]:
        """The questions that one earlier message of a channel answered."""
        kept = answers.by_message(self.store, channel, message)
        return tuple(Asked(Question(answer.question), answer.about) for answer in kept)

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
        on = self.episode.enrolled_on or date.min
        limit = self.episode.pain_limit
        return History(
            tendon=self.episode.tendon,
            enrolled_on=on,
            usual_pain=Pain(self.episode.usual_pain),
            usual_stiffness=Minutes(self.episode.usual_stiffness),
            moves=self.moves,
            mornings=mornings_of(self.days),
            sessions=sessions_of(self.days, self.sessions, for_both=self.clinic.ask_less),
            activities=activities_of(self.days),
            heel_raises=heel_raises_of(self.days),
            rest_days=self.rest_days,
            pauses=self.pauses,
            day_words=self.day_words,
            loading_stops=self.loading_stops,
            visa_a=self.sheets,
            hops_allowed=self.episode.hops_allowed,
            pain_limit=None if limit is None else Pain(limit),
            slower=self.episode.slower,
            ability=ability_of(self.days),
        )

    @cached_property
    def sheets(self) -> tuple[tuple[date, int], ...]:
        """The total of each whole VISA-A sheet [points], by date; those before enrolment too."""
        return visa_a_totals(self.days)

    @cached_property
    def advice(self) -> Advice | None:
        """What the rules would say at this moment; None before enrolment. Keeps nothing."""
        if self.episode.enrolled_on is None:
            return None
        return advise(self.history, self.protocol, self.today)

    @property
    def advised(self) -> Advice | None:
        """Today's advice as it was decided last, else what the rules would say now."""
        return self.advice if self.decided_today is None else self.decided_today.advice

    @property
    def held(self) -> str:
        """Why no session may be named now, whatever was decided before: as `Advice.held`, or
        "asked" while a closed question about a warning sign waits; "" where one may."""
        held = "" if self.advice is None else self.advice.held
        return "asked" if held != "stopped" and self.asked_signs else held

    @cached_property
    def session_offered(self) -> bool:
        """Whether a session is on for today and not reported yet: by today's decision where there
        is one, else by what the rules say before the morning's answers."""
        if self.advised is None or not self.advised.session_today or self.held:
            return False
        return all(row.on != self.today for row in self.sessions)

    def paused_until(self) -> date | None:
        """Last day of a pause that covers today; `date.max` for one without an end."""
        for pause in self.pauses:
            until = pause.until or date.max
            if pause.on <= self.today <= until:
                return until
        return None

    @property
    def asks_nothing(self) -> bool:
        """Whether a pause covers today in which the patient is not asked anything."""
        return any(covers(pause, self.today) and not pause.asks for pause in self.pauses)

    def situation(self, *, prescribe: bool = False) -> Situation:
        """What the dialog may know. `prescribe`: today's session too, where one is offered."""
        offered = prescribe and self.session_offered
        return replace(self._situation, prescription=self.prescription() if offered else None)

    @cached_property
    def _situation(self) -> Situation:
        last_session_on = self.sessions[-1].on if self.sessions else None
        return Situation(
            now=self.local_now,
            language=self.patient.language,
            patient_name=self.patient.name,
            clinic=self.clinic.name,
            clinician_name=self.clinician_name,
            clinic_phone=self.clinic.phone,
            emergency_number=self.clinic.emergency_number,
            crisis_line=self.clinic.crisis_line,
            side=self.episode.side,
            tendon=self.episode.tendon,
            last_session_on=last_session_on,
            paused_until=self.paused_until(),
            spike_over=spike_over(
                activities_of(self.days), last_session_on, self.protocol, self.today
            ),
            enrolled=self.episode.enrolled_on is not None,
            asks_ability=self._asks_ability(),
            usual=(
                (self.episode.usual_pain, self.episode.usual_stiffness)
                if self.episode.usual_known
                else None
            ),
            opted_out=self.patient.opted_out_at is not None,
            answered=self.answered,
            ways=tuple(dict.fromkeys(kind_of(contact.channel) for contact in self.contacts)),
            away=self.patient.home_zone is not None,
            wording=self.clinic.wording_in(self.patient.language),
        )

    def _asks_ability(self) -> bool:
        """Whether it is open where the ladder begins: before enrolment, where nobody has said."""
        return self.episode.enrolled_on is None and asks_ability(self.protocol) and not self.moves

    def words(self, said: Said) -> str:
        """What is said to the patient, as text; in the clinic's own wording where it has one."""
        return render(said, self.situation())

    @cached_property
    def clinician_name(self) -> str:
        """Who looks after the patient now: whoever has their open escalation, else the first of the
        rota; empty where the clinic has nobody yet."""
        holders = (one.acknowledged_by for one in self.not_closed)
        holder = next((one for one in holders if one is not None), None)
        if holder is not None:
            return people.person(self.store, holder).name
        clinicians = people.by_role(self.store, *people.CLINICAL)
        reached = (one for one in clinicians if people.contacts(self.store, one.id))
        return next((one.name for one in reached if one.opted_out_at is None), "")

    def prescription(self) -> Prescription | None:
        """The session of the present place on the ladder."""
        if not self.moves:
            return None
        position = self.moves[-1].position
        return Prescription(self.protocol.level(position), self.protocol.dose(position))


def record_of(store: Store, clinic: Clinic, patient: int, now: datetime) -> PatientRecord:
    """The record of the patient with this number."""
    return PatientRecord(store, clinic, people.person(store, patient), now)
