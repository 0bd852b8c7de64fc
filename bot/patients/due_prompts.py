"""Due prompts -> outbox. Run every few seconds; a second run at the same instant adds nothing.

What is too late is dropped with the reason, never sent: a restart after a day off sends what still
escalations. Read next: `send`.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, timedelta

from bot.clinic import Clinic
from bot.patient_record.prompt_schedule import plan_prompts, todays_items, todays_prompts
from bot.patient_record.record import PatientRecord, record_of
from bot.patient_record.say import Say, say
from bot.patients.preferences import end_stays
from bot.patients.week import show_week, why_no_week
from bot.store import conversations, plans, prompts
from bot.store.database import Store
from bot.store.outbox import Urgency
from bot.store.prompts import Prompt
from dialogs.patient import open_prompt
from dialogs.questions import SESSION
from dialogs.turn import Question
from rules.prompt_times import REMINDER_OF, PlannedPrompt, PromptKind, reminder
from rules.prompt_times import Question as Asks

# Prompts written in one pass [prompts]: a message that comes meanwhile waits for them. Convention.
PROMPTS_A_PASS = 10

REMINDED = {reminder_kind: kind for kind, reminder_kind in REMINDER_OF.items()}


def tick(store: Store, clinic: Clinic, now: datetime) -> int:
    """Write what is due; gives how many prompts were dealt with [0 to PROMPTS_A_PASS]."""
    end_stays(store, clinic, now)
    due = prompts.due(store, now, PROMPTS_A_PASS)
    for prompt in due:
        record = record_of(store, clinic, prompt.patient, now)
        why_not = _why_not(record, prompt)
        if why_not is not None:
            prompts.drop(store, prompt.id, why_not, now)
        elif prompt.kind == PromptKind.WEEK:
            show_week(record, prompt)
        elif asks := _asks(record, prompt):
            _write(record, prompt, asks)
        else:
            prompts.drop(store, prompt.id, "nothing left to ask", now)
        if prompt.kind == PromptKind.MORNING:
            plan_prompts(record)
    return len(due)


def plan_ahead(store: Store, clinic: Clinic, patient: int, now: datetime) -> None:
    """Make sure that a patient under treatment has prompts planned. Run at start-up and every hour,
    so that a day off, or a change of zone, leaves no gap."""
    if plans.is_treated(store, patient):
        plan_prompts(record_of(store, clinic, patient, now))


def _why_not(record: PatientRecord, prompt: Prompt) -> str | None:
    """Why a due prompt is not sent, or None."""
    if prompt.expires_at <= record.now:
        return "too late"
    if record.patient.opted_out_at is not None or record.episode.discharged:
        return "no longer asked"
    if record.asks_nothing:
        return "paused"
    return why_no_week(record) if prompt.kind == PromptKind.WEEK else None


def _write(record: PatientRecord, prompt: Prompt, asks: tuple[Question, ...]) -> None:
    """Open the questions, put the message in line, and plan its one reminder."""
    situation = record.situation(prescribe=True)
    about = _about(asks, prompt.on)
    turn = open_prompt(
        prompt.kind, record.state, situation, asks, about, closes_at=prompt.expires_at
    )
    conversations.keep(record.store, record.patient.id, turn.state, record.now)
    for number, said in enumerate(turn.said):
        message = Say(
            said,
            Urgency.PROMPT,
            once_key=f"prompt {prompt.id} {number}",
            prompt=prompt.id,
            expires_at=prompt.expires_at,
        )
        say(record, message)
    prompts.written(record.store, prompt.id, record.now)
    _plan_reminder(record, prompt)


def _plan_reminder(record: PatientRecord, prompt: Prompt) -> None:
    if prompt.kind in REMINDED:
        return
    kind = PromptKind(prompt.kind)
    sent = PlannedPrompt(kind, prompt.on, max(prompt.due_at, record.now), prompt.expires_at, ())
    planned = reminder(sent)
    if planned is not None:
        times = (planned.due_at, planned.expires_at)
        prompts.plan(record.store, record.patient.id, planned.kind, planned.on, *times)


def _asks(record: PatientRecord, prompt: Prompt) -> tuple[Question, ...]:
    """The questions of a prompt that are still without an answer, by what is known now."""
    kind = REMINDED.get(PromptKind(prompt.kind), prompt.kind)
    asked = [planned.asks for planned in todays_prompts(record) if planned.kind == kind]
    questions = [question for asks in asked for ask in asks for question in _questions(record, ask)]
    about = _about(tuple(questions), prompt.on)
    answered = {(answer.question, answer.about) for answer in record.kept}
    return tuple(one for one in questions if (one, about[one]) not in answered)


def _questions(record: PatientRecord, ask: str) -> tuple[Question, ...]:
    """What the dialog asks for one thing that a prompt asks: of a session several questions, of a
    sheet an item or two."""
    if ask == Asks.VISA_A:
        return todays_items(record)
    return SESSION if ask == Asks.SESSION_REPORT else (Question(ask),)


def _about(asks: tuple[Question, ...], on: date) -> Mapping[Question, date]:
    """The local date each question of a prompt is about."""
    return {ask: on - timedelta(days=ask.row.days_after) for ask in asks}
