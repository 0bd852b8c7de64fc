"""Carries out what a clinician orders about one patient's plan: asked about first where it matters,
done, told to the patient in the same transaction, and kept in the audit.

A patient who sent STOP is told nothing, and the clinician is told so. Read next: `change_plan`.
"""

from __future__ import annotations

from bot.clinicians.confirmation import as_asked, ask_first, check_unchanged, preview
from bot.clinicians.discharge import discharge, take_back
from bot.clinicians.patient_summary import patient_lines
from bot.clinicians.plan import (
    allow_hops,
    limit_pain,
    pause,
    resume,
    say_of_today,
    set_level,
    set_pace,
)
from bot.clinicians.refusal import NotDoneError
from bot.clinicians.request import Reply, Request
from bot.clinicians.roles import Right, demand
from bot.clinicians.what_follows import lift
from bot.patient_record.record import PatientRecord
from bot.store import people
from bot.store.confirmations import Confirmation
from bot.store.people import Person
from dialogs.clinician_commands import (
    AllowHops,
    DischargePatient,
    GoOnToday,
    LiftStop,
    LimitPain,
    PausePatient,
    RestToday,
    ResumePatient,
    SetLevel,
    SetPace,
    TakeBack,
    TellPatient,
    WhyNot,
)
from dialogs.turn import Said, Value
from rules.history import Says

Today = RestToday | GoOnToday
Change = SetLevel | PausePatient | ResumePatient | AllowHops | Today | LimitPain | SetPace
Order = Change | LiftStop | TellPatient | DischargePatient | TakeBack

# The longest words that are passed on to a patient [characters]: about seven parts of an SMS, and
# within one message of a chat. Convention.
WORDS_MOST = 1000


def order_change(
    request: Request, command: Order, text: str, confirmed: Confirmation | None = None
) -> Reply:
    """Do what is ordered, or ask for a YES first; gives the reply to the clinician.

    text: the command as it was written. confirmed: what the clinician has said YES to just now.
    Raises RefusedError where it cannot be done, or not by this person.
    """
    demand(request.person, Right.CHANGE_PLAN)
    case = request.case(command.patient)
    check_unchanged(confirmed, case)
    asked = preview(case, command, text, by_text=request.by_text)
    if isinstance(command, LiftStop):
        asked = {**(asked or {}), "told": request.patient_words(case, _lifted(request))}
    if asked is not None and not as_asked(confirmed, case, asked):
        return ask_first(request, case, asked, text)
    match command:
        case TellPatient():
            return _tell(request, case, command.words)
        case DischargePatient():
            return _discharge(request, case)
        case TakeBack():
            return _changed(request, case, take_back(case, request.person.id))
        case LiftStop():
            lift(case, request.person.id)
            request.audit("LiftStop", patient=case.patient.id)
            return _changed(request, case, request.tell_case(case.read_again(), _lifted(request)))
        case _:
            return _change(request, case, command)


def _change(request: Request, case: PatientRecord, command: Change) -> Reply:
    """Do it, tell the patient, and show the clinician what stands now."""
    told = _done(case, command, request.person)
    request.audit(type(command).__name__, patient=case.patient.id, **_details(command))
    if told is None:
        return _changed(request, case, None)
    words = _say(request, case, told)
    if isinstance(command, LimitPain):
        values: dict[str, Value] = {"patient": case.patient.name, "limit": command.limit}
        return Reply(Said("clinician/limit-set", {**values, "told": words}))
    return _changed(request, case, words)


def _lifted(request: Request) -> Said:
    return Said("told/lifted", {"by": request.person.name})


def _done(case: PatientRecord, command: Change, by: Person) -> Said | None:
    """Do it; gives what the patient is told. None: they hear of it with the advice it changes."""
    match command:
        case SetLevel():
            return set_level(case, command.level, command.dose, by.id)
        case PausePatient():
            return pause(case, command.until, by.id)
        case ResumePatient():
            return resume(case)
        case RestToday():
            return say_of_today(case, Says.REST, by.id)
        case GoOnToday():
            return say_of_today(case, Says.GO_ON, by.id)
        case LimitPain():
            return limit_pain(case, command.limit, by.name)
        case SetPace():
            return set_pace(case, by.name, slower=command.slower)
        case AllowHops():
            allow_hops(case, allowed=command.allowed)
            return None


def _details(command: Change) -> dict[str, object]:
    """What the audit keeps of a command, beside who, when and about whom."""
    match command:
        case SetLevel():
            return {"level": command.level, "dose": command.dose}
        case LimitPain():
            return {"limit": command.limit}
        case SetPace():
            return {"slower": command.slower}
        case AllowHops():
            return {"allowed": command.allowed}
        case PausePatient():
            return {"until": command.until}
    return {}


def _tell(request: Request, case: PatientRecord, words: str) -> Reply:
    """Pass the clinician's own words on, marked as theirs. Raises NotDoneError where they cannot
    arrive."""
    name = case.patient.name
    if case.patient.opted_out_at is not None:
        raise NotDoneError(WhyNot.OPTED_OUT, patient=name)
    if not people.contacts(request.store, case.patient.id):
        raise NotDoneError(WhyNot.UNREACHABLE, patient=name)
    if len(words) > WORDS_MOST:
        raise NotDoneError(WhyNot.TOO_LONG, most=WORDS_MOST)
    _say(request, case, Said("told/words", {"by": request.person.name, "words": words}))
    request.audit("told a patient", patient=case.patient.id)
    return Reply(Said("clinician/sent", {"patient": name}))


def _discharge(request: Request, case: PatientRecord) -> Reply:
    summary = discharge(case, request.person.id)
    told = case.patient.opted_out_at is None
    values: dict[str, Value] = {"patient": case.patient.name, "told": told, "summary": summary}
    return Reply(Said("clinician/discharged", values))


def _say(request: Request, case: PatientRecord, said: Said) -> str:
    """Say it to the patient, as this clinician's; gives the words, empty where they cannot be
    told."""
    return request.tell_case(case.read_again(), said)


def _changed(request: Request, case: PatientRecord, told: str | None) -> Reply:
    """What the plan is now, and what the patient was told. None: they hear with their advice."""
    lines = "\n".join(patient_lines(case.read_again(), request.person.language))
    values: dict[str, Value] = {"patient": case.patient.name, "told": told, "lines": lines}
    return Reply(Said("clinician/plan-changed", values))
