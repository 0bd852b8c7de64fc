"""Plans a patient's prompts for today and tomorrow. Planning twice changes nothing."""

from __future__ import annotations

from datetime import date, time, timedelta
from zoneinfo import ZoneInfo

from bot.patient_record.record import PatientRecord
from bot.store import audit, prompts
from bot.store.answers import SessionRow
from dialogs.questions import VISA_A, Question
from rules.asking_less import morning_is_skipped
from rules.follow_up import next_day_decides
from rules.prompt_times import (
    PlannedPrompt,
    PromptKind,
    Schedule,
    SessionEnd,
    prompts_for_day,
    sheet_items,
    sheet_morning,
    still_to_plan,
    week_prompt,
)
from rules.reasons import Action
from rules.usual import first_step_pain

DAY = timedelta(days=1)

# How long a sheet stands, so that the patient is not asked for another [days]. Convention.
SHEET_STANDS_DAYS = 14


def plan_prompts(record: PatientRecord) -> None:
    """Plan what is left of today, and tomorrow's morning.

    Tomorrow's other prompts depend on what happens until then; they are planned tomorrow, when its
    morning prompt is written.
    """
    if (
        record.episode.enrolled_on is None
        or record.episode.discharged
        or record.patient.opted_out_at
    ):
        return
    tomorrow = prompts_for_day(record.today + DAY, _schedule(record))
    mornings = [planned for planned in tomorrow if planned.kind is PromptKind.MORNING]
    week = week_prompt(record.today, _schedule(record))
    today = (*todays_prompts(record), *([week] if week else []))
    # What was planned before is known to the store: its key keeps a second one out.
    for planned in still_to_plan((*today, *mornings), frozenset(), record.now):
        _plan(record, planned)


def todays_prompts(record: PatientRecord) -> tuple[PlannedPrompt, ...]:
    """The prompts of the patient's local day, by what is known now; none on a skipped one."""
    if is_left_alone(record, record.today):
        return ()
    return prompts_for_day(
        record.today,
        _schedule(record),
        _session_ends(record),
        session_offered=record.session_offered,
        stopped=record.advised is not None and record.advised.action is Action.STOP,
        follow_up=record.clinic.follow_up_always
        or next_day_decides(record.history, record.protocol, record.today),
        morning_answered=first_step_pain(record.history, record.today) is not None,
        enrolled_on=record.episode.enrolled_on,
        sheet=_sheet_is_asked(record),
    )


def is_left_alone(record: PatientRecord, day: date) -> bool:
    """Whether the clinic asks less and this morning can be skipped: one of no sheet, and with
    nothing open."""
    enrolled_on = record.episode.enrolled_on
    if not record.clinic.ask_less or record.clinic.follow_up_always or enrolled_on is None:
        return False
    if record.clinic.visa_a and sheet_morning(enrolled_on, day) is not None:
        return False
    return not (record.asked_signs or record.not_closed) and morning_is_skipped(
        record.history, record.protocol, day
    )


def todays_items(record: PatientRecord) -> tuple[Question, ...]:
    """The items of the VISA-A sheet that this morning asks; none of one that was skipped."""
    enrolled_on = record.episode.enrolled_on
    morning = None if enrolled_on is None else sheet_morning(enrolled_on, record.today)
    if morning is None:
        return ()
    began = record.today - morning * DAY
    answered = {
        Question(one.question).row.item for one in record.kept if began <= one.about < record.today
    } - {0}
    if not answered and audit.noted_since(record.store, record.patient.id, "Skipped", began):
        return ()
    return tuple(VISA_A[item - 1] for item in sheet_items(morning, answered))


def _sheet_is_asked(record: PatientRecord) -> bool:
    """Whether the clinic asks for the VISA-A sheet, and none of the last days is there already:
    one that a clinician entered, say. Today's does not count, its prompt may still be corrected."""
    if not record.clinic.visa_a or record.episode.enrolled_on is None:
        return False
    first = record.today - SHEET_STANDS_DAYS * DAY
    return not any(first <= on < record.today for on, _total in record.sheets)


def _plan(record: PatientRecord, planned: PlannedPrompt) -> None:
    prompts.plan(
        record.store,
        record.patient.id,
        planned.kind,
        planned.on,
        planned.due_at,
        planned.expires_at,
    )


def _schedule(record: PatientRecord) -> Schedule:
    """When this patient may be asked. Who wants to be asked before quiet hours end, may."""
    return Schedule(
        zone=record.patient.zone,
        morning_time=record.episode.morning_time,
        evening_time=record.episode.evening_time,
        quiet_from=record.clinic.quiet_from,
        quiet_until=min(record.clinic.quiet_until, record.episode.morning_time),
        weekly_on=record.clinic.weekly_on,
    )


def _session_ends(record: PatientRecord) -> tuple[SessionEnd, ...]:
    """The sessions of the last three days with the wall-clock time they were reported at."""
    zone = ZoneInfo(record.patient.zone)
    return tuple(
        SessionEnd(row.on, _ended_time(row, zone))
        for row in record.sessions
        if row.on >= record.today - timedelta(days=3)
    )


def _ended_time(row: SessionRow, zone: ZoneInfo) -> time | None:
    """The wall-clock time of the report; None where it came on another date than the session."""
    reported = row.reported_at.astimezone(zone)
    return reported.time().replace(microsecond=0) if reported.date() == row.on else None
