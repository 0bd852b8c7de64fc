"""Makes the exercise sheet of one patient: one page to print, in the patient's language, of where
their plan stands. No script, no font, nothing fetched.

Read next: `bot.report.page`.
"""

from __future__ import annotations

from dataclasses import dataclass

from bot.errors import RefusedError
from bot.patient_record.record import PatientRecord
from bot.patient_record.say import words_of
from bot.report.page import filled
from dialogs.advising import dose_line
from dialogs.asking import session_values
from dialogs.pictures import exercise_svg, mind_of, picture_of
from dialogs.rendering import first_up
from dialogs.turn import Prescription, Said, Situation, Value
from rules.reasons import Action
from rules.usual import pain_limit


@dataclass(frozen=True)
class ExerciseSheet:
    """All that the page shows, in the patient's words. `drawing`: SVG, empty where the level has
    none; `mind`: two things to mind, empty where there are none."""

    language: str
    title: str
    name: str
    dose: str
    session: str
    when: str
    drawing: str
    drawing_words: str
    mind_title: str
    mind: str
    limit_title: str
    limit: str
    call_title: str
    call: tuple[str, ...]
    printed: str


def exercise_page(case: PatientRecord) -> str:
    """The sheet as HTML. Raises RefusedError before enrolment, and while exercises are stopped or
    paused: on paper nobody can take a session back."""
    return filled("exercises.html", sheet=exercise_sheet(case))


def exercise_sheet(case: PatientRecord) -> ExerciseSheet:
    """What stands on the sheet; raises as `exercise_page` does."""
    prescription = _prescription(case)
    situation = case.situation()
    level = prescription.level
    drawn, mind = picture_of(level), mind_of(level)
    return ExerciseSheet(
        language=situation.language,
        title=_say(case, situation, "title"),
        name=case.patient.name,
        dose=first_up(dose_line(level, prescription.dose, situation.language)),
        session=words_of(case.clinic, Said("session", session_values(prescription)), situation),
        when=_say(case, situation, "when", spacing_days=level.spacing_days),
        drawing=exercise_svg(drawn) if drawn else "",
        drawing_words=words_of(case.clinic, Said(f"picture/{drawn}"), situation) if drawn else "",
        mind_title=_say(case, situation, "mind-title"),
        mind=words_of(case.clinic, Said(f"mind/{mind}"), situation) if mind else "",
        limit_title=_say(case, situation, "limit-title"),
        limit=_say(case, situation, "limit", limit=pain_limit(case.history, case.protocol)),
        call_title=_say(case, situation, "call-title"),
        call=tuple(_say(case, situation, name) for name in ("now", "today", "else")),
        printed=_say(case, situation, "printed", on=case.today),
    )


def has_sheet(case: PatientRecord) -> bool:
    """Whether there is an exercise to print: under treatment, neither stopped nor paused."""
    return _is_treated(case) and not _is_held(case)


def _prescription(case: PatientRecord) -> Prescription:
    found = case.prescription() if _is_treated(case) else None
    if found is None:
        raise RefusedError(f"{case.patient.name} is not under treatment: there is no exercise")
    if _is_held(case):
        raise RefusedError(
            f"{case.patient.name}'s exercises are stopped or paused: a sheet would say to do them"
        )
    return found


def _is_treated(case: PatientRecord) -> bool:
    return case.episode.enrolled_on is not None and not case.episode.discharged


def _is_held(case: PatientRecord) -> bool:
    """By a pause, by what the rules say now, and by what was decided today."""
    said = (case.advice, case.advised)
    stopped = any(one is not None and one.action is Action.STOP for one in said)
    return stopped or case.paused_until() is not None


def _say(case: PatientRecord, situation: Situation, name: str, **values: Value) -> str:
    return words_of(case.clinic, Said(f"exercises/{name}", values), situation)
