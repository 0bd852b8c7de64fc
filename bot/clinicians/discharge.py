"""Ends a treatment: no more prompts, and a summary in plain words that the patient can keep.

Nothing is erased, and what the patient writes later is still screened and seen. A treatment can be
taken up again. Read next: `dialogs.leaving`, and `discharged_message` for what is written later.
"""

from __future__ import annotations

from bot.clinicians.refusal import NotDoneError
from bot.patient_record.prompt_schedule import plan_prompts
from bot.patient_record.record import PatientRecord
from bot.patient_record.say import Say, say
from bot.store import audit, conversations, escalations, people, plans
from dialogs.clinician_commands import WhyNot
from dialogs.leaving import say_discharge
from dialogs.turn import Said, State


def discharge(case: PatientRecord, clinician: int) -> str:
    """End the treatment, tell the patient, and give the summary as it was told.

    It is kept with who and when. A patient who has opted out is told nothing. Raises NotDoneError
    as `check_discharge`.
    """
    check_discharge(case)
    name = people.person(case.store, clinician).name
    case = case.told_by(name)
    said = say_discharge(case.history, case.protocol, case.situation(), name, case.goal)
    summary = case.words(said)
    plans.discharge(case.store, case.episode.id, clinician, summary, case.now)
    # Prompts that are planned drop themselves when they fall due, unless the treatment goes on.
    conversations.keep(case.store, case.patient.id, State(), case.now)
    if case.patient.opted_out_at is None:
        say(case, Say(said))
    audit.note(case.store, clinician, "patient discharged", case.now, patient=case.patient.id)
    return summary


def check_discharge(case: PatientRecord) -> None:
    """Raise NotDoneError before enrolment, after a discharge, and while something worrying is open
    or a closed question about a warning sign waits."""
    name = case.patient.name
    if case.episode.enrolled_on is None:
        raise NotDoneError(WhyNot.NOT_ENROLLED, patient=name)
    if case.episode.discharged:
        raise NotDoneError(WhyNot.ENDED_BEFORE, patient=name)
    still = [
        str(escalation.id) for escalation in escalations.not_closed(case.store, case.patient.id)
    ]
    if still:
        raise NotDoneError(WhyNot.STILL_OPEN, patient=name, numbers=", ".join(still))
    if case.asked_signs:
        raise NotDoneError(WhyNot.SIGN_ASKED, patient=name)


def take_back(case: PatientRecord, clinician: int) -> str:
    """Go on with a treatment that was ended: the patient is told, and prompts are planned again,
    from the place where the patient stood. Gives the words, empty where they have opted out.
    Raises NotDoneError unless the patient was discharged.
    """
    if not case.episode.discharged:
        raise NotDoneError(WhyNot.NOT_ENDED, patient=case.patient.name)
    plans.undo_discharge(case.store, case.episode.id)
    fresh = case.read_again()
    plan_prompts(fresh)
    audit.note(case.store, clinician, "patient taken back", case.now, patient=case.patient.id)
    if case.patient.opted_out_at is not None:
        return ""
    name = people.person(case.store, clinician).name
    said = Said("taken-back", {"by": name})
    say(fresh, Say(said))
    return fresh.words(said)
