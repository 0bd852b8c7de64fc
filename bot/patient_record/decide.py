"""Asks the rules and keeps their answer: the decision with its inputs, and the move it makes."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from typing import Any

from bot.patient_record.record import PatientRecord
from bot.store import decisions, plans
from rules.advice import advise
from rules.history import History, Move, MovedBy
from rules.reasons import Action, Advice


def decide(record: PatientRecord, message: int | None) -> tuple[Advice, PatientRecord]:
    """Decide on today with all that is known, keep the decision, and move the patient by it; gives
    the record as it stands then."""
    advice = advise(record.history, record.protocol, record.today)
    text = record.clinic.protocol_texts[record.protocol.name]
    decisions.keep_protocol(record.store, record.protocol, text, record.now)
    decided = decisions.keep(
        record.store,
        record.episode.id,
        advice,
        record.protocol,
        _inputs_of(record.history),
        record.now,
        message,
    )
    step_back = advice.action is Action.STEP_BACK
    moved = advice.position != advice.stood or step_back
    if moved:
        last = record.sessions[-1].on if record.sessions else None
        made = Move(
            on=record.today,
            position=advice.position,
            by=MovedBy.RULES,
            step_back=step_back,
            session_on=last if step_back else None,
        )
        plans.move(record.store, record.episode.id, made, record.now)
    return advice, record.with_decision(decided, moved=moved)


def _inputs_of(history: History) -> dict[str, Any]:
    """The history as plain values, to be kept with a decision; dates as ISO text."""
    plain: dict[str, Any] = _plain(asdict(history))
    return plain


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(held) for key, held in value.items() if held not in (None, ())}
    if isinstance(value, list | tuple):
        return [_plain(held) for held in value]
    return value.isoformat() if isinstance(value, date) else value
