"""Short lines and a picture for a clinician: how one patient is doing."""

from __future__ import annotations

from datetime import date, timedelta

from bot.charts.course import course_words
from bot.charts.course_data import recent_course, recent_pain, variation_by
from bot.charts.course_picture import Heading, course_svg
from bot.charts.message_images import has_letters
from bot.clinicians.need import RATE_DAYS, response
from bot.patient_record.record import PatientRecord
from bot.store import decisions, escalations, pictures, plans
from bot.store.escalations import Escalation
from dialogs.advising import dose_line
from dialogs.lines import chart_day, chart_line, line, word_for
from dialogs.turn import Value
from dialogs.verdict import verdict_lines, verdict_sentence
from rules.fortnight import Fortnight, fortnight
from rules.history import History
from rules.outcomes import heel_raise_symmetry, visa_a_change
from rules.reasons import Advice
from rules.stay import days_between_raises
from rules.usual import WEEK_DAYS, usual_pain
from rules.variation import trend


def patient_lines(case: PatientRecord, language: str = "en") -> list[str]:
    """The plan, the verdict of the last 14 days, the last advice, the last answers, what is open;
    no verdict while nothing was answered or done."""
    found = verdict_of(case)
    is_known = found is not None and (found.place is not None or found.this.pain.count)
    return [
        f"{case.patient.name}: {_plan_line(case, language)}",
        *([verdict_sentence(found, language)] if found is not None and is_known else []),
        _advice_line(case, language),
        _answers_line(case, language),
        _open_line(case, language),
    ]


def verdict_of(case: PatientRecord) -> Fortnight | None:
    """The last 14 days against the 14 before and against enrolment; None before enrolment."""
    if case.episode.enrolled_on is None:
        return None
    return fortnight(case.history, case.protocol, case.today)


def patient_svg(case: PatientRecord, language: str = "en") -> str | None:
    """The last eight weeks as a picture for a phone, in a clinician's language; None before
    enrolment."""
    course = recent_course(case)
    return None if course is None else course_svg(course, heading(case, language), language)


def patient_picture(case: PatientRecord, language: str = "en") -> int | None:
    """The same kept, by its number; None before enrolment, or where it cannot be drawn.
    It belongs to the patient, and goes when the patient's data goes."""
    svg = patient_svg(case, language) if has_letters() else None
    if svg is None:
        return None
    return pictures.keep(case.store, "course", svg.encode(), case.now, person=case.patient.id)


def patient_words(case: PatientRecord, language: str = "en") -> str:
    """The picture in words; empty before enrolment."""
    course = recent_course(case)
    return "" if course is None else course_words(course, language)


def heading(case: PatientRecord, language: str) -> Heading:
    """What stands over a picture of a patient: whose it is, and the verdict."""
    side = case.episode.side
    told = chart_line(
        "title",
        language,
        patient=case.patient.name,
        side=chart_line(f"side-{side}", language) if side else "",
        on=chart_day(case.today, language, with_year=True),
    )
    found = verdict_of(case)
    return Heading(told, () if found is None else verdict_lines(found, language))


def _plan_line(case: PatientRecord, language: str) -> str:
    moves = plans.moves(case.store, case.episode.id)
    if case.episode.enrolled_on is None and not moves:
        return line("not-enrolled", language)
    at = moves[-1].position
    if case.episode.enrolled_on is None:
        return line("begins-at", language, level=at.level, dose=at.dose)
    days = days_between_raises(case.history, case.protocol)
    return line(
        "plan",
        language,
        level=at.level,
        dose=at.dose,
        what=dose_line(case.protocol.level(at), case.protocol.dose(at), language),
        since=moves[-1].on,
        slower=line("plan-slower", language, days=days) if case.episode.slower else "",
        paused=_paused(case, language),
    ) + (line("goal", language, words=case.goal) if case.goal else "")


def _paused(case: PatientRecord, language: str) -> str:
    until = case.paused_until()
    if until is None:
        return ""
    ends = "" if until == date.max else line("paused-until", language, until=until)
    return line("plan-paused", language, until=ends)


def _advice_line(case: PatientRecord, language: str) -> str:
    latest = decisions.latest(case.store, case.episode.id)
    if latest is None:
        return line("no-advice", language)
    advice = latest.advice
    action = word_for("action", advice.action, language)
    return line("advice", language, on=advice.on, action=action, reason=_reason(advice, language))


def _reason(advice: Advice, language: str) -> str:
    """As it is called in plain words; in English by its code, which the documents explain."""
    return advice.reason if language == "en" else word_for("reason", advice.reason, language)


def _answers_line(case: PatientRecord, language: str) -> str:
    if case.episode.enrolled_on is None:
        return line("no-answers", language)
    history = case.history
    mornings = [m.first_step_pain for m in history.mornings if m.first_step_pain is not None][-7:]
    shown = " ".join(str(int(pain)) for pain in mornings)
    varies = variation_by(history, case.today)
    rate = response(case)
    counts = {"answered": rate.answered, "asked": rate.asked, "days": RATE_DAYS}
    told = line(
        "answers",
        language,
        count=len(mornings),
        shown=shown or line("no-pains", language),
        usual=float(usual_pain(history, case.protocol, case.today)),
        varies="" if varies is None else line("varies", language, by=float(varies)),
        rate=line("rate", language, **counts) if rate.asked else "",
    )
    measures = _raises(history, language) + _sheet(history, language)
    return told + _trend(history, case.today, language) + measures


def _trend(history: History, today: date, language: str) -> str:
    """Where first-step pain is heading, for a clinician alone; nothing with too few answers.

    By the week: a day's share of a slow change is lost in the rounding.
    """
    readings = recent_pain(history, today)
    found = trend(readings)
    if found is None:
        return ""
    # Adding 0 makes of a rounded -0 a 0.
    low, high = (round(WEEK_DAYS * end, 1) + 0.0 for end in (found.lowest, found.highest))
    values = {"by": abs(WEEK_DAYS * found.per_day), "answers": len(readings)}
    if found.per_day < 0 and found.highest <= 0:
        return line("trend-falling", language, low=abs(high), high=abs(low), **values)
    if found.per_day > 0 and found.lowest >= 0:
        return line("trend-rising", language, low=low, high=high, **values)
    return line("trend-none", language, low=low, high=high, answers=len(readings))


def _raises(history: History, language: str) -> str:
    """The latest heel raises of both sides as a share; nothing where the last week lacks one."""
    latest = history.heel_raises[-1] if history.heel_raises else None
    if latest is None or latest.other is None:
        return ""
    percent = heel_raise_symmetry(latest.count, latest.other)
    if percent is None:
        return ""
    counts = {"sore": int(latest.count), "other": int(latest.other), "percent": round(percent)}
    return line("heel-raises", language, **counts)


def _sheet(history: History, language: str) -> str:
    """The latest VISA-A total, and its change since the first beside the published figure."""
    totals = history.visa_a
    if not totals:
        return ""
    told = line("sheet", language, total=totals[-1][1], on=totals[-1][0])
    if len(totals) == 1:
        return told
    change = visa_a_change(totals[0], totals[-1])
    against = change.against
    values = {"days": change.days, "points": against.points, "weeks": against.at_weeks}
    ends = {"low": against.lowest, "high": against.highest}
    return told + line("sheet-change", language, rise=f"{change.points:+d}", **values, **ends)


def _open_line(case: PatientRecord, language: str) -> str:
    waiting = escalations.not_closed(case.store, case.patient.id)
    listed = ", ".join(_escalation(one, language) for one in waiting)
    stopped = " ".join(_stop_line(case, one, language) for one in _stopping(case))
    told = line("open", language, listed=listed) if listed else ""
    if told or stopped:
        return ". ".join(part for part in (told, stopped) if part)
    return line("nothing-open", language)


def _stopping(case: PatientRecord) -> list[Escalation]:
    """What is closed and still stops loading; nothing after the treatment has ended."""
    if case.episode.discharged:
        return []
    return escalations.still_stopping(case.store, case.patient.id, case.today)


def _stop_line(case: PatientRecord, stop: Escalation, language: str) -> str:
    """What still stops loading though it is closed, since when, and how that ends."""
    values: dict[str, Value] = {
        "number": stop.id,
        "outcome": word_for("outcome", stop.outcome, language),
        "since": stop.raised_at.astimezone(case.clinic.zone_info).date(),
        "patient": case.patient.name,
    }
    if stop.loads_from is None:
        return line("stopped-by", language, **values)
    return line("rests-by", language, until=stop.loads_from - timedelta(days=1), **values)


def _escalation(escalation: Escalation, language: str) -> str:
    tier, sign = (
        word_for("tier", escalation.tier, language),
        word_for("sign", escalation.sign, language),
    )
    return f"{escalation.id} {tier} ({sign})"
