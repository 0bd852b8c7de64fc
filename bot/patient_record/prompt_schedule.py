"""Plans a patient's prompts for today and tomorrow. Planning twice changes nothing."""

from __future__ import annotations

from datetime import timedelta

from bot.patient_record.record import Case
from bot.store import prompts
from rules.prompt_times import PlannedPrompt, PromptKind, prompts_for_day, still_to_plan

DAY = timedelta(days=1)

# How long a sheet stands, so that the patient is not asked for another [days]. Convention.
SHEET_STANDS_DAYS = 14


def plan_prompts(case: Case) -> None:
    """Plan what is left of today, and tomorrow's morning.

    Tomorrow's other prompts depend on what happens until then; they are planned tomorrow, when its
    morning prompt is written.
    """
    if case.episode.enrolled_on is None or case.episode.discharged or case.patient.opted_out_at:
        return
    tomorrow = prompts_for_day(case.today + DAY, case.schedule())
    mornings = [planned for planned in tomorrow if planned.kind is PromptKind.MORNING]
    # What was planned before is known to the store: its key keeps a second one out.
    for planned in still_to_plan((*todays_prompts(case), *mornings), frozenset(), case.now):
        _plan(case, planned)


def todays_prompts(case: Case) -> tuple[PlannedPrompt, ...]:
    """The prompts of the patient's local day, by what is known now."""
    return prompts_for_day(
        case.today,
        case.schedule(),
        case.session_ends(),
        session_offered=case.session_offered,
        enrolled_on=case.episode.enrolled_on if _sheet_is_asked(case) else None,
    )


def _sheet_is_asked(case: Case) -> bool:
    """Whether the clinic asks for the VISA-A sheet, and none of the last days is there already:
    one that a clinician entered, say. Today's does not count, its prompt may still be corrected."""
    if not case.clinic.visa_a or case.episode.enrolled_on is None:
        return False
    first = case.today - SHEET_STANDS_DAYS * DAY
    return not any(first <= on < case.today for on, _total in case.sheets)


def _plan(case: Case, planned: PlannedPrompt) -> None:
    prompts.plan(
        case.store,
        case.patient.id,
        planned.kind,
        planned.on,
        planned.due_at,
        planned.expires_at,
    )
