"""Ends a treatment: no more prompts, and a summary in plain words that the patient can keep.

Nothing is erased, and what the patient writes later is still screened and seen. A treatment can be
taken up again. Read next: `dialogs.leaving`.
"""

from __future__ import annotations

from dataclasses import replace

from bot.case import Case
from bot.errors import RefusedError
from bot.plan_prompts import plan_prompts
from bot.say import say, words_of
from bot.store import audit, conversations, escalations, people, plans
from bot.store.outbox import Urgency
from dialogs.leaving import say_discharge
from dialogs.turn import State


def discharge(case: Case, clinician: int) -> str:
    """End the treatment, tell the patient, and give the summary as it was told.

    It is kept with who and when. A patient who has opted out is told nothing. Raises RefusedError
    before enrolment, after a discharge, and while something worrying is open.
    """
    _may_be_discharged(case)
    name = people.person(case.store, clinician).name
    situation = replace(case.situation(prescribe=False), clinician_name=name)
    said = say_discharge(case.history, case.protocol, situation, name)
    summary = words_of(case.clinic, said, situation)
    plans.discharge(case.store, case.episode.id, clinician, summary, case.now)
    # Prompts that are planned drop themselves when they fall due, unless the treatment goes on.
    conversations.keep(case.store, case.patient.id, State(), case.now)
    if case.patient.opted_out_at is None:
        say(case.store, case.clinic, case.patient.id, said, situation, Urgency.REPLY, case.now)
    audit.note(case.store, clinician, "patient discharged", case.now, patient=case.patient.id)
    return summary


def take_back(case: Case, clinician: int) -> None:
    """Go on with a treatment that was ended: prompts are planned again, from the place where the
    patient stood. Raises RefusedError unless the patient was discharged."""
    if not case.episode.discharged:
        raise RefusedError(f"{case.patient.name} has not been discharged")
    plans.undo_discharge(case.store, case.episode.id)
    plan_prompts(case.again())
    audit.note(case.store, clinician, "patient taken back", case.now, patient=case.patient.id)


def _may_be_discharged(case: Case) -> None:
    name = case.patient.name
    if case.episode.enrolled_on is None:
        raise RefusedError(f"{name} has not answered the first questions yet")
    if case.episode.discharged:
        raise RefusedError(f"{name} has been discharged already")
    still = [str(matter.id) for matter in escalations.not_closed(case.store, case.patient.id)]
    if still:
        raise RefusedError(f"close what is open about {name} first: {', '.join(still)}")
