"""Plans a patient's prompts for today and tomorrow. Planning twice changes nothing."""

from __future__ import annotations

from datetime import timedelta

from bot.case import Case
from bot.store import prompts
from rules.prompt_times import PlannedPrompt, PromptKind, prompts_for_day

DAY = timedelta(days=1)


def plan_prompts(case: Case) -> None:
    """Plan what is left of today, and tomorrow's morning.

    Tomorrow's other prompts depend on what happens until then; they are planned tomorrow, when its
    morning prompt is written.
    """
    if case.episode.enrolled_on is None or case.episode.discharged or case.patient.opted_out_at:
        return
    tomorrow = prompts_for_day(case.today + DAY, case.schedule())
    mornings = [planned for planned in tomorrow if planned.kind is PromptKind.MORNING]
    for planned in (*todays_prompts(case), *mornings):
        if planned.expires_at > case.now:
            _plan(case, planned)


def todays_prompts(case: Case) -> tuple[PlannedPrompt, ...]:
    """The prompts of the patient's local day, by what is known now."""
    return prompts_for_day(
        case.today,
        case.schedule(),
        case.session_ends(),
        session_offered=case.session_offered,
    )


def _plan(case: Case, planned: PlannedPrompt) -> None:
    prompts.plan(
        case.store,
        case.patient.id,
        planned.kind,
        planned.on,
        planned.due_at,
        planned.expires_at,
    )
