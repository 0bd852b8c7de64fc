"""Asks the rules and keeps their answer: the decision with what it was made from, and the move it
makes."""

from __future__ import annotations

from bot.patient_record.record import PatientRecord
from bot.patient_record.remake import packed
from bot.store import decisions, plans
from rules.advice import advise, move_made
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
        packed(record.history, record.today),
        record.now,
        message,
    )
    made = move_made(advice, record.history.sessions)
    if made is not None:
        plans.move(record.store, record.episode.id, made, record.now)
    return advice, record.with_decision(decided, moved=made is not None)
