"""Short lines for a clinician: who needs somebody, and how one patient is doing."""

from __future__ import annotations

from bot.case import Case
from bot.clinic import Clinic
from bot.store import answers, decisions, escalations, people, plans
from bot.store.database import Store
from dialogs.advising import dose_line
from dialogs.turn import Question

# Lines of "who needs me?" [count, at most].
LINES_MAX = 10


def needs(store: Store, clinic: Clinic) -> list[str]:
    """Who needs somebody, most urgent first, with the reason; nobody has closed these."""
    lines = []
    for escalation in escalations.not_closed(store)[:LINES_MAX]:
        patient = people.person(store, escalation.patient)
        since = escalation.raised_at.astimezone(clinic.zone_info)
        holder = escalation.acknowledged_by
        held = "nobody has it" if holder is None else f"{people.person(store, holder).name} has it"
        what = escalation.sign.replace("-", " ")
        lines.append(
            f"{escalation.id} {escalation.tier}: {patient.name}, {what},"
            f" since {since:%a %d %b %H:%M}, {held}"
        )
    return lines or ["Nobody is waiting."]


def patient_lines(case: Case) -> list[str]:
    """Four lines: the plan, the last advice, the last answers, what is open."""
    return [
        f"{case.patient.name}: {_plan_line(case)}",
        _advice_line(case),
        _answers_line(case),
        _open_line(case),
    ]


def _plan_line(case: Case) -> str:
    moves = plans.moves(case.store, case.episode.id)
    if not moves:
        return "not enrolled yet"
    at = moves[-1].position
    what = dose_line(case.protocol.level(at), case.protocol.dose(at))
    until = case.paused_until()
    paused = "" if until is None else ", paused"
    return f"level {at.level}, dose {at.dose}: {what}, since {moves[-1].on:%d %b}{paused}"


def _advice_line(case: Case) -> str:
    latest = decisions.latest(case.store, case.episode.id)
    if latest is None:
        return "No advice yet."
    advice = latest.advice
    return f"Last advice {advice.on:%a %d %b}: {advice.action} ({advice.reason})"


def _answers_line(case: Case) -> str:
    kept = answers.standing(case.store, case.episode.id)
    mornings = [a for a in kept if a.question == Question.FIRST_STEP_PAIN][-7:]
    shown = " ".join(str(a.value) for a in mornings) or "none"
    return f"First-step pain, last {len(mornings)} answers: {shown}"


def _open_line(case: Case) -> str:
    waiting = escalations.not_closed(case.store, case.patient.id)
    listed = ", ".join(f"{e.id} {e.tier} ({e.sign})" for e in waiting)
    return f"Open: {listed}" if listed else "Nothing open."
