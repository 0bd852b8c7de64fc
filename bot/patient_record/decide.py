"""Asks the rules and keeps their answer: the decision with its inputs, and the move it makes."""

from __future__ import annotations

from bot.patient_record.record import Case, inputs_of
from bot.store import decisions, plans
from rules.advice import advise
from rules.history import Move, MovedBy
from rules.reasons import Action, Advice


def decide(case: Case, message: int | None) -> Advice:
    """Decide on today with all that is known, keep the decision, and move the patient by it."""
    history = case.history
    advice = advise(history, case.protocol, case.today)
    text = case.clinic.protocol_texts[case.protocol.name]
    decisions.keep_protocol(case.store, case.protocol, text, case.now)
    decisions.keep(
        case.store,
        case.episode.id,
        advice,
        case.protocol,
        inputs_of(history),
        case.now,
        message,
    )
    step_back = advice.action is Action.STEP_BACK
    if advice.position != advice.stood or step_back:
        last = history.sessions[-1].on if history.sessions else None
        made = Move(
            on=case.today,
            position=advice.position,
            by=MovedBy.RULES,
            step_back=step_back,
            session_on=last if step_back else None,
        )
        plans.move(case.store, case.episode.id, made, case.now)
    return advice
