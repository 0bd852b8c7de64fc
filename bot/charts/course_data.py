"""Puts the course of a patient together from the case, for the charts. Reads only, decides nothing.

Read next: `bot.charts.course_picture`, which draws it.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from bot.charts.course import Course, CourseDay
from bot.patient_record.record import PatientRecord
from bot.store import decisions, escalations
from rules.history import History, Morning, Session
from rules.protocol import Position
from rules.reasons import Action
from rules.usual import pain_limit, usual_pain, usual_stiffness
from rules.variation import READINGS_MIN, Reading, usual_variation

# How far back a picture goes, and the shortest axis it has [days]. Convention: eight weeks, four.
COURSE_DAYS, AXIS_DAYS_MIN = 56, 28


TOLD_AFTER = frozenset({Action.DO_LESS, Action.STEP_BACK, Action.STOP})
"""Words of advice that are news even after the day's session."""


def recent_course(case: PatientRecord) -> Course | None:
    """The last eight weeks up to today; None before enrolment."""
    enrolled_on = case.episode.enrolled_on
    if enrolled_on is None:
        return None
    earliest = case.today - timedelta(days=COURSE_DAYS - 1)
    shortest = case.today - timedelta(days=AXIS_DAYS_MIN - 1)
    return course_between(case, max(earliest, min(enrolled_on, shortest)), case.today)


def course_between(case: PatientRecord, first: date, last: date) -> Course:
    """The course from a local date to another, both included. Ask only after enrolment."""
    history = case.history
    mornings = {morning.on: morning for morning in history.mornings}
    sessions = {session.on: session for session in history.sessions}
    advised = _advised(case)
    dates = [first + timedelta(days=number) for number in range((last - first).days + 1)]
    answered = pain_readings(history, date.min, last)
    varies_from = answered[READINGS_MIN - 1].on if len(answered) >= READINGS_MIN else date.max
    varies = usual_variation(answered)
    days = tuple(
        _day(
            case,
            mornings.get(on, Morning(on)),
            sessions.get(on),
            advised.get(on, frozenset()),
            varies if on >= varies_from else None,
        )
        for on in dates
    )
    doses = tuple(len(level.doses) for level in case.protocol.levels)
    return Course(days, pain_limit(history, case.protocol), doses, _raised(case, first, last))


def _day(
    case: PatientRecord,
    morning: Morning,
    session: Session | None,
    advised: frozenset[Action],
    varies: float | None,
) -> CourseDay:
    """Usual stands beside an answer alone: where nothing was answered there is nothing to hold
    against it."""
    history, on, pain = case.history, morning.on, morning.first_step_pain
    treated = history.enrolled_on <= on
    return CourseDay(
        on=on,
        first_step_pain=pain,
        stiffness=morning.stiffness,
        pain_during=None if session is None else session.pain_during,
        usual=None if pain is None or not treated else usual_pain(history, case.protocol, on),
        variation=None if pain is None or not treated else varies,
        usual_stiffness=None
        if morning.stiffness is None or not treated
        else usual_stiffness(history, case.protocol, on),
        place=_place(history, on),
        done=None if session is None else session.position,
        whole=session is None or not _is_short(session),
        advised=advised,
    )


def _is_short(session: Session) -> bool:
    done, asked = session.sets_done, session.sets_prescribed
    return done is not None and asked is not None and done < asked


def _advised(case: PatientRecord) -> dict[date, frozenset[Action]]:
    """What held on each date: the last word before the day's session, and a step down or a stop
    that followed it. The rest that follows every session is not told."""
    reported = {row.on: row.reported_at for row in case.sessions}
    before: dict[date, Action] = {}
    after: dict[date, set[Action]] = {}
    for kept in decisions.every(case.store, case.episode.id):
        on, action = kept.advice.on, kept.advice.action
        if on not in reported or kept.decided_at < reported[on]:
            before[on] = action
        elif action in TOLD_AFTER:
            after.setdefault(on, set()).add(action)
    return {
        on: frozenset(after.get(on, set()) | ({before[on]} if on in before else set()))
        for on in before.keys() | after.keys()
    }


def variation_by(history: History, on: date) -> float | None:
    """The usual variation of first-step pain by what was answered up to a date [points]."""
    return usual_variation(pain_readings(history, date.min, on))


def pain_readings(history: History, first: date, last: date) -> list[Reading]:
    """The answered first-step pain from a date to another, both included."""
    return [
        Reading(morning.on, float(morning.first_step_pain))
        for morning in history.mornings
        if morning.first_step_pain is not None and first <= morning.on <= last
    ]


def recent_pain(history: History, today: date) -> list[Reading]:
    """The answered first-step pain of the weeks that a picture shows."""
    return pain_readings(history, today - timedelta(days=COURSE_DAYS - 1), today)


def _place(history: History, on: date) -> Position | None:
    return next((m.position for m in reversed(history.moves) if m.on <= on), None)


def _raised(case: PatientRecord, first: date, last: date) -> tuple[tuple[date, int], ...]:
    zone = ZoneInfo(case.patient.zone)
    found = escalations.of_patient(case.store, case.patient.id)
    listed = [(_local(one.raised_at, zone), one.id) for one in found]
    return tuple((on, number) for on, number in listed if first <= on <= last)


def _local(at: datetime, zone: ZoneInfo) -> date:
    return at.astimezone(zone).date()
