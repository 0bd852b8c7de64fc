"""The points of a patient's VISA-A sheet, entered by a clinician: all of them, or none.

The patient is not told: they filled it in. Read next: `plan_prompts`, which then asks for none.
"""

from __future__ import annotations

from bot.clinicians.request import Reply, Request
from bot.clinicians.roles import Right, demand
from bot.patient_record.record import PatientRecord
from bot.store import answers
from dialogs.clinician_commands import EnterSheet
from dialogs.questions import VISA_A
from dialogs.sheet import say_sheet_kept, say_sheet_wrong
from dialogs.turn import Said


def enter_sheet(request: Request, command: EnterSheet) -> Reply:
    """Keep the points under the patient's local date, in place of those there are; the reply sets
    the change since the first sheet beside the published figure."""
    demand(request.person, Right.CHANGE_PLAN)
    case = request.case(command.patient)
    wrong = say_sheet_wrong(case.patient.name, command.points)
    if wrong is not None:
        return Reply(wrong)
    for question, points in zip(VISA_A, command.points, strict=True):
        about = case.today
        answers.keep(case.store, case.episode.id, question, about, points, case.now, message=None)
    request.audit(type(command).__name__, patient=case.patient.id)
    return Reply(_kept(case.read_again()))


def _kept(case: PatientRecord) -> Said:
    return say_sheet_kept(case.patient.name, case.sheets)
