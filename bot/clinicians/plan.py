"""The clinician's word: a level, a pause, a pain limit, a pace, the gate to hops, today's session.
It wins over the rules at once.

Each `check_` says whether it can be done, and changes nothing. Who may, and whether it is asked
about first, is decided in `order_change` and `ask_first`.
"""

from __future__ import annotations

from datetime import date

from bot.clinicians.refusal import NotDoneError
from bot.patient_record.decide import decide
from bot.patient_record.prompt_schedule import plan_prompts
from bot.patient_record.record import PatientRecord
from bot.store import escalations, plans
from dialogs.advising import say_advice, say_plan_changed
from dialogs.clinician_commands import WhyNot
from dialogs.turn import Said
from rules.alerts import AlertKey
from rules.history import History, Move, MovedBy, Says
from rules.ladder import is_barred
from rules.prompt_times import DAY
from rules.protocol import PAIN_CEILING, Position, Protocol, Tendon
from rules.quantities import Minutes, Pain
from rules.sources import SOURCES
from rules.stay import days_between_raises
from rules.usual import pain_limit

# Where the ceiling of a pain limit comes from.
CEILING_SOURCE = "silbernagel-2007"


def set_level(case: PatientRecord, level: int, dose: int, clinician: int) -> Said | None:
    """Put the patient on a place of the ladder; gives what the patient is told. Before enrolment
    the ladder is to begin there, and nobody is told.

    Raises NotDoneError where there is no such place, or it is barred for this patient.
    """
    position = check_level(case, level, dose)
    if case.episode.enrolled_on is None:
        begins = Move(case.today, position, MovedBy.ENROLMENT)
        plans.begin_at(case.store, case.episode.id, begins, case.now, clinician)
        return None
    made = Move(case.today, position, MovedBy.CLINICIAN)
    plans.move(case.store, case.episode.id, made, case.now, clinician)
    _settle_first_level(case, clinician)
    return _plan_changed(case.read_again())


def _settle_first_level(case: PatientRecord, clinician: int) -> None:
    """Whoever sets a level has answered where the ladder may begin."""
    for one in case.not_closed:
        if one.sign == AlertKey.FIRST_LEVEL:
            escalations.close(
                case.store,
                one.id,
                clinician,
                outcome="seen",
                words="",
                on=case.today,
                loads_from=case.today,
                now=case.now,
            )


def _plan_changed(case: PatientRecord) -> Said:
    """What the patient is told of it: the session, unless loading is held."""
    prescription = None if case.held else case.prescription()
    return say_plan_changed(
        prescription, case.situation(), session_today=case.session_offered, held=case.held
    )


def check_level(case: PatientRecord, level: int, dose: int) -> Position:
    """The place, where there is such a one and it is open to this patient; else NotDoneError."""
    if case.episode.discharged:
        check_treated(case)
    position = Position(level, dose)
    history = case.history if case.moves else to_begin(case.episode.tendon, position, case.today)
    check_place(history, case.protocol, case.patient.name, position)
    return position


def to_begin(tendon: Tendon, begins: Position, on: date) -> History:
    """What is known of somebody who is still to enrol: where they begin."""
    return History(tendon, on, Pain(0), Minutes(0), (Move(on, begins, MovedBy.ENROLMENT),))


def check_place(history: History, protocol: Protocol, name: str, position: Position) -> None:
    """Raise NotDoneError where the ladder has no such place, or it is barred for this history."""
    levels, level, dose = protocol.levels, position.level, position.dose
    if not 1 <= level <= len(levels):
        title, most = protocol.title, len(levels)
        raise NotDoneError(WhyNot.NO_LEVEL, title=title, most=most, found=level)
    doses = levels[level - 1].doses
    if not 1 <= dose <= len(doses):
        raise NotDoneError(WhyNot.NO_DOSE, number=level, most=len(doses), found=dose)
    if is_barred(history, protocol, position):
        raise NotDoneError(WhyNot.BARRED, patient=name, number=level)


def pause(case: PatientRecord, until: date | None, clinician: int) -> Said:
    """No loading until a day (included), or until somebody says otherwise. It takes the place of
    what pauses there are: the last word holds."""
    check_treated(case)
    if until is not None and until < case.today:
        raise NotDoneError(WhyNot.PAST_DAY, on=until)
    plans.end_pauses(case.store, case.episode.id, case.today, case.now)
    plans.pause(case.store, case.episode.id, case.today, until, clinician, case.now)
    fresh = case.read_again()
    return say_plan_changed(
        None,
        fresh.situation(prescribe=False),
        paused_on=case.today,
        paused_until=until,
        session_today=False,
    )


def resume(case: PatientRecord) -> Said:
    """End a pause."""
    check_treated(case)
    plans.end_pauses(case.store, case.episode.id, case.today, case.now)
    fresh = case.read_again()
    plan_prompts(fresh)
    return _plan_changed(fresh)


def allow_hops(case: PatientRecord, *, allowed: bool) -> None:
    """Open or close the gate to hops."""
    check_treated(case)
    plans.allow_hops(case.store, case.episode.id, allowed, case.now)


def limit_pain(case: PatientRecord, limit: int, by: str) -> Said:
    """Set the patient's own pain limit [points, 0 to PAIN_CEILING]; gives what they are told."""
    check_limit(case, limit)
    plans.limit_pain(case.store, case.episode.id, limit)
    return Said("limit-changed", {"by": by, "limit": limit})


def set_pace(case: PatientRecord, by: str, *, slower: bool) -> Said:
    """More days between raises, or the usual ones again; gives what the patient is told."""
    check_treated(case)
    plans.set_pace(case.store, case.episode.id, slower=slower)
    fresh = case.read_again()
    days = days_between_raises(fresh.history, fresh.protocol)
    return Said("pace-changed", {"by": by, "slower": slower, "days": days})


def check_limit(case: PatientRecord, limit: int) -> int:
    """The limit that is in force now; NotDoneError where the new one is over the ceiling."""
    check_treated(case)
    if limit > PAIN_CEILING:
        source = SOURCES[CEILING_SOURCE]
        named = f"{source.authors.split(',')[0]} {source.year}, {source.place}"
        raise NotDoneError(WhyNot.OVER_CEILING, most=PAIN_CEILING, source=named, found=limit)
    return pain_limit(case.history, case.protocol)


def say_of_today(case: PatientRecord, says: Says, clinician: int) -> Said:
    """Rest today, or do today's session at the present dose, whatever the rules say; gives the
    advice as the patient is told it. Tomorrow is for the rules again.

    It is kept as a decision. Raises NotDoneError where a session of today is on record, and for
    "go on" while something worrying is open or the plan is on pause.
    """
    _check_today(case, says)
    if says is Says.GO_ON:
        escalations.lift(case.store, case.patient.id, clinician, case.today, case.now)
    plans.say_of_day(case.store, case.episode.id, case.today, says, clinician, case.now)
    advice, fresh = decide(case.read_again(), None)
    plan_prompts(fresh)
    return say_advice(advice, case.protocol, fresh.situation())


def _check_today(case: PatientRecord, says: Says) -> None:
    check_treated(case)
    name = case.patient.name
    if case.patient.opted_out_at is not None:
        raise NotDoneError(WhyNot.OPTED_OUT, patient=name)
    if any(session.on == case.today for session in case.sessions):
        raise NotDoneError(WhyNot.DONE_TODAY, patient=name)
    if says is Says.REST:
        return
    check_not_stopped(case)
    if case.paused_until() is not None:
        raise NotDoneError(WhyNot.PAUSED, patient=name)


def check_not_stopped(case: PatientRecord) -> None:
    """Raise NotDoneError while something that stops loading is open, or was closed and still stops
    it after today, or a closed question about a warning sign waits for its answer."""
    name = case.patient.name
    stopping = [
        one for one in escalations.of_patient(case.store, case.patient.id) if one.stops_loading
    ]
    still = [str(one.id) for one in stopping if one.closed_at is None]
    if still:
        raise NotDoneError(WhyNot.STILL_OPEN, patient=name, numbers=", ".join(still))
    tomorrow = case.today + DAY
    kept = [one for one in stopping if one.loads_from is None or one.loads_from > tomorrow]
    if kept:
        numbers = ", ".join(str(one.id) for one in kept)
        raise NotDoneError(WhyNot.STOPPED, patient=name, numbers=numbers)
    if case.asked_signs:
        raise NotDoneError(WhyNot.SIGN_ASKED, patient=case.patient.name)


def check_treated(case: PatientRecord) -> None:
    """Raise NotDoneError before enrolment and after discharge."""
    if case.episode.enrolled_on is None:
        raise NotDoneError(WhyNot.NOT_ENROLLED, patient=case.patient.name)
    if case.episode.discharged:
        raise NotDoneError(WhyNot.ENDED, patient=case.patient.name)
