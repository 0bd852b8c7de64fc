"""Asks the rules and keeps their answer: the decision with its inputs, and the move it makes."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from typing import Any

from bot.patient_record.record import PatientRecord
from bot.store import decisions, plans
from rules.advice import advise, move_made
from rules.history import History
from rules.reasons import Advice


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
    made = move_made(advice, record.history.sessions)
    if made is not None:
        plans.move(record.store, record.episode.id, made, record.now)
    return advice, record.with_decision(decided, moved=made is not None)


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
