"""What follows for a patient when an escalation is closed or a stop is lifted: the day from which
loading goes on, and the sentence that they get. Loading never goes on by default.

The first session after any stop is at the lowest dose of the level; LEVEL says otherwise. Writes
the day and the place, and tells nobody. Read next: `close_escalation`.
"""

from __future__ import annotations

from datetime import date

from bot.clinicians.plan import check_treated
from bot.clinicians.refusal import NotDoneError
from bot.patient_record.prompt_schedule import plan_prompts
from bot.patient_record.record import PatientRecord
from bot.store import escalations, plans
from bot.store.escalations import Escalation
from dialogs.clinician_commands import LOADS, CloseEscalation, Outcome, WhyNot
from dialogs.turn import Said, Value
from rules.history import Move, MovedBy
from rules.prompt_times import DAY
from rules.protocol import Position


def stops(escalation: Escalation, outcome: Outcome | None) -> bool:
    """Whether loading stood still for it, or is to from now on."""
    return escalation.stops_loading or not (outcome is None or outcome in LOADS)


def loads_from(
    case: PatientRecord, escalation: Escalation, command: CloseEscalation
) -> date | None:
    """The first day on which this escalation stops no loading; None: until a clinician lifts it.

    Raises NotDoneError where a day of rest was expected and none was read, or a past one.
    """
    if command.outcome is Outcome.REST:
        if command.until is None or command.until < case.today:
            raise NotDoneError(WhyNot.NO_DAY, number=escalation.id)
        return command.until + DAY
    if command.outcome in (Outcome.SENT_ON, Outcome.STAYS_STOPPED):
        return None
    return case.today + DAY if escalation.stops_loading else case.today


def said_of_closing(
    case: PatientRecord, escalation: Escalation, command: CloseEscalation, by: str
) -> Said:
    """What the patient is told: what holds for their loading, all that stops it taken together."""
    if case.episode.discharged or case.episode.enrolled_on is None:
        return Said("told/looked-at", {"by": by})
    values: dict[str, Value] = {"by": by, "until": None, "questions": command.questions}
    if not stops(escalation, command.outcome):
        return Said("told/closed", {**values, "follows": "nothing"})
    if command.outcome is Outcome.SENT_ON:
        return Said("told/closed", {**values, "follows": "sent-on"})
    from_day = loads_from(case, escalation, command)
    others = [
        one
        for one in escalations.of_patient(case.store, case.patient.id)
        if one.stops_loading and one.id != escalation.id
    ]
    if from_day is not None and any(one.closed_at is None for one in others):
        return Said("told/closed", {**values, "follows": "wait"})
    days = [from_day, *(one.loads_from for one in others if one.closed_at is not None)]
    known = [day for day in days if day is not None]
    if len(known) < len(days):
        return Said("told/closed", {**values, "follows": "stopped"})
    return Said("told/closed", {**values, **_rest_or_on(case, max(known))})


def _rest_or_on(case: PatientRecord, from_day: date) -> dict[str, Value]:
    tomorrow, paused = case.today + DAY, case.paused_until()
    if paused is not None and paused >= from_day:
        return {"follows": "paused"}
    if from_day > tomorrow:
        return {"follows": "rest", "until": from_day - DAY}
    return {"follows": "go-on"}


def stop_questions(case: PatientRecord, clinician: int) -> None:
    """No daily questions while loading stays stopped: a pause without an end, until LIFT."""
    if case.paused_until() is None:
        plans.pause(case.store, case.episode.id, case.today, None, clinician, case.now)


def begin_low(case: PatientRecord, from_day: date, clinician: int) -> None:
    """From this day on the patient stands at the lowest dose of their level, for a first session
    there at least."""
    if case.episode.discharged or case.episode.enrolled_on is None:
        return
    stood = plans.moves(case.store, case.episode.id)[-1].position
    made = Move(from_day, Position(stood.level, 1), MovedBy.CLINICIAN)
    plans.move(case.store, case.episode.id, made, case.now, clinician)


def check_lift(case: PatientRecord) -> None:
    """Raise NotDoneError while something that stops loading is open, and where nothing is to be
    lifted."""
    check_treated(case)
    raised = escalations.of_patient(case.store, case.patient.id)
    still = [str(one.id) for one in raised if one.stops_loading and one.closed_at is None]
    if still:
        numbers = ", ".join(still)
        raise NotDoneError(WhyNot.STILL_OPEN, patient=case.patient.name, numbers=numbers)
    if not escalations.still_stopping(case.store, case.patient.id, case.today):
        raise NotDoneError(WhyNot.NOT_STOPPED, patient=case.patient.name)


def lift(case: PatientRecord, clinician: int) -> None:
    """Loading may go on from tomorrow, at the lowest dose, and the daily questions with it."""
    tomorrow = case.today + DAY
    escalations.lift(case.store, case.patient.id, clinician, tomorrow, case.now)
    if case.paused_until() == date.max:
        plans.end_pauses(case.store, case.episode.id, case.today, case.now)
    begin_low(case, tomorrow, clinician)
    plan_prompts(case.read_again())
