"""Short lines and a picture for a clinician: who needs somebody, and how one patient is doing."""

from __future__ import annotations

from datetime import datetime, timedelta

from bot.case import Case
from bot.charts.course import course_svg, course_words, day_text
from bot.clinic import Clinic
from bot.draw import has_letters, png_of
from bot.rank_needs import RATE_DAYS, Need, NeedKind, needs_of, response
from bot.read_course import recent_course, variation_by
from bot.store import decisions, escalations, inbox, pictures, plans
from bot.store.database import Store
from dialogs.advising import dose_line
from rules.usual import usual_pain

# Lines of "who needs me?" [count, at most].
LINES_MAX = 10

# How far back messages from unknown senders are counted [days]. Convention.
STRANGERS_DAYS = 7


def needs(store: Store, clinic: Clinic, now: datetime) -> list[str]:
    """Who needs somebody, most urgent first, with the reason; at most ten lines."""
    lines = need_lines(needs_of(store, clinic, now))
    unknown = inbox.strangers(store, now - timedelta(days=STRANGERS_DAYS))
    if unknown:
        lines.append(f"{unknown} messages from unknown senders in {STRANGERS_DAYS} days.")
    if len(lines) > LINES_MAX:
        more = len(lines) - LINES_MAX + 1
        lines = [*lines[: LINES_MAX - 1], f"And {more} more: nextmorning caseload lists all."]
    return lines or ["Nobody is waiting."]


def need_lines(found: list[Need]) -> list[str]:
    """A line for each open matter, and one for each other patient with all that was found."""
    lines = []
    listed: dict[int, list[Need]] = {}
    for need in found:
        if need.kind is NeedKind.ESCALATION:
            lines.append(f"{need.escalation} {need.tier}: {need.patient}, {need.why}")
        else:
            listed.setdefault(need.person, []).append(need)
    lines += [
        f"{reasons[0].patient}: {'; '.join(need.why for need in reasons)}"
        for reasons in listed.values()
    ]
    return lines


def patient_lines(case: Case) -> list[str]:
    """Four lines: the plan, the last advice, the last answers, what is open."""
    return [
        f"{case.patient.name}: {_plan_line(case)}",
        _advice_line(case),
        _answers_line(case),
        _open_line(case),
    ]


def patient_svg(case: Case) -> str | None:
    """The last eight weeks as a picture for a phone; None before enrolment."""
    course = recent_course(case)
    return None if course is None else course_svg(course, _title(case))


def patient_picture(case: Case) -> int | None:
    """The same as a kept PNG, by its number; None before enrolment, or where it cannot be drawn.
    It belongs to the patient, and goes when the patient's data goes."""
    svg = patient_svg(case) if has_letters() else None
    png = None if svg is None else png_of(svg)
    if png is None:
        return None
    return pictures.keep(case.store, "course", png, case.now, person=case.patient.id)


def patient_words(case: Case) -> str:
    """The picture in words; empty before enrolment."""
    course = recent_course(case)
    return "" if course is None else course_words(course)


def _title(case: Case) -> str:
    side = f", {case.episode.side}" if case.episode.side else ""
    return f"{case.patient.name}{side}, to {day_text(case.today)} {case.today.year}"


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
    if case.episode.enrolled_on is None:
        return "No answers yet."
    history = case.history
    mornings = [m.first_step_pain for m in history.mornings if m.first_step_pain is not None][-7:]
    shown = " ".join(str(int(pain)) for pain in mornings) or "none"
    usual = usual_pain(history, case.protocol, case.today)
    varies = variation_by(history, case.today)
    variation = "" if varies is None else f", varies by {varies:.1f}"
    rate = response(case.store, case.episode, case.today)
    told = f"; answered {rate.answered} of {rate.asked} mornings in {RATE_DAYS} days"
    return (
        f"First-step pain, last {len(mornings)} answers: {shown}"
        f" (usual {usual:g}{variation}){told if rate.asked else ''}"
    )


def _open_line(case: Case) -> str:
    waiting = escalations.not_closed(case.store, case.patient.id)
    listed = ", ".join(f"{e.id} {e.tier} ({e.sign})" for e in waiting)
    return f"Open: {listed}" if listed else "Nothing open."
