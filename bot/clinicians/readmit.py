"""A clinician says that a number is still that of the patient who left: READMIT Ana.

The patient is heard again. They are only written to where they asked for it: a START that was held
counts now, otherwise the next one does. Read next: `recycled_number`, which held it.
"""

from __future__ import annotations

from bot.clinicians.request import Reply, Request
from bot.clinicians.roles import Right, demand
from bot.patient_record.leaving import settle_opt_out, welcome_back
from bot.patient_record.prompt_schedule import plan_prompts
from bot.patient_record.record import PatientRecord
from bot.patient_record.say import Say, say
from bot.store import inbox, people
from dialogs.clinician_commands import Readmit
from dialogs.reading import command
from dialogs.turn import Said
from dialogs.words import shipped_words


def readmit(request: Request, wanted: Readmit) -> Reply:
    """Hear the patient again; back at once where they sent START since they left. Raises
    RefusedError where no one patient is meant."""
    demand(request.person, Right.ENROL)
    case = request.case(wanted.patient)
    left_at = case.patient.opted_out_at
    if left_at is None:
        return Reply(Said("clinician/readmitted", {"patient": case.patient.name, "state": "here"}))
    people.confirm_number(request.store, case.patient.id, request.now)
    asked = any(
        _starts(case, text) for text in inbox.texts_since(request.store, case.patient.id, left_at)
    )
    if asked:
        _welcome(case)
    request.audit("readmitted", patient=case.patient.id, back=asked)
    state = "back" if asked else "heard"
    return Reply(Said("clinician/readmitted", {"patient": case.patient.name, "state": state}))


def _starts(case: PatientRecord, text: str) -> bool:
    return command(text, shipped_words(case.patient.language)) == "start"


def _welcome(case: PatientRecord) -> None:
    people.opt_in(case.store, case.patient.id)
    settle_opt_out(case)
    fresh = case.read_again()
    plan_prompts(fresh)
    say(fresh, Say(welcome_back(fresh)))
