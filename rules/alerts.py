"""What goes to a clinician without a word from the patient: silence, and numbers that say enough.

Never a diagnosis, never a text. Warning signs in a patient's words: `screening`.
Read next: `notices`, which are never urgent; `usual`, for the numbers compared here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from rules.first_level import first_level
from rules.history import History, Morning, Session, Tier
from rules.notices import (
    Found,
    always_hard,
    not_exercising,
    painkiller_mostly,
    stiffness_creeps,
    stuck,
    too_much_often,
    usual_at_limit,
    weeks_worse,
)
from rules.protocol import Protocol
from rules.reasons import Evidence
from rules.rest_day import FOLLOW_UP_DAYS, settling_after_step_back
from rules.stop import covers
from rules.usual import (
    ONE_DAY,
    WEEK_DAYS,
    last_session,
    last_step_down,
    mornings_between,
    usual_at_step_down,
    week_to,
)

LATE_DAYS = 1
"""How late an answer may come and still be noticed here [days, included]. Convention."""


class AlertKey(StrEnum):
    """What the alert is about. Its value names it in database, template and test id."""

    PAIN_VERY_HIGH = "pain-very-high"
    SILENCE = "silence"
    STEPPED_BACK_TWICE = "stepped-back-twice"
    NOT_SETTLING = "not-settling"
    NO_RESPONSE = "no-response"
    WEEKS_WORSE_THAN_BEFORE = "weeks-worse-than-before"
    NEEDS_CLINICIAN_AFTER_THREE = "needs-clinician-after-three"
    USUAL_AT_LIMIT = "usual-at-limit"
    STUCK = "stuck"
    NOT_EXERCISING = "not-exercising"
    PAINKILLER_MOSTLY = "painkiller-mostly"
    ALWAYS_HARD = "always-hard"
    STIFFNESS_CREEPS = "stiffness-creeps"
    FIRST_LEVEL = "first-level"


NOTICES: Mapping[AlertKey, Callable[[History, Protocol, date], Found]] = {
    AlertKey.WEEKS_WORSE_THAN_BEFORE: weeks_worse,
    AlertKey.NEEDS_CLINICIAN_AFTER_THREE: too_much_often,
    AlertKey.USUAL_AT_LIMIT: usual_at_limit,
    AlertKey.STUCK: stuck,
    AlertKey.NOT_EXERCISING: not_exercising,
    AlertKey.PAINKILLER_MOSTLY: painkiller_mostly,
    AlertKey.ALWAYS_HARD: always_hard,
    AlertKey.STIFFNESS_CREEPS: stiffness_creeps,
    AlertKey.FIRST_LEVEL: first_level,
}
"""What is told on the next working day, and again only after `notice_again_days`."""


@dataclass(frozen=True)
class Alert:
    """One thing for a clinician, with the numbers compared.

    `since`: the local date it is counted from. Key and date together name the occurrence: on the
    next day the same alert comes again with the same date, and is to be raised only once.
    """

    tier: Tier
    key: AlertKey
    since: date
    evidence: Evidence


def alerts(history: History, protocol: Protocol, today: date) -> tuple[Alert, ...]:
    """All that a clinician is to know today, most urgent first. Empty if there is nothing."""
    found = [
        *pain_very_high(history, protocol, today),
        silence(history, protocol, today),
        stepped_back_twice(history, protocol, today),
        not_settling(history, protocol, today),
        no_response(history, protocol, today),
        *notices(history, protocol, today),
    ]
    return tuple(alert for alert in found if alert is not None)


def notices(history: History, protocol: Protocol, today: date) -> Iterator[Alert]:
    """Each notice that applies. None in a pause, nor of who is silent: that is told already."""
    paused = any(covers(pause, today) for pause in history.pauses)
    if paused or silence(history, protocol, today) is not None:
        return
    for key, applies in NOTICES.items():
        found = applies(history, protocol, today)
        if found is not None:
            yield Alert(Tier.NEXT_WORKING_DAY, key, *found)


def is_due(alert: Alert, told_on: date | None, protocol: Protocol, today: date) -> bool:
    """Whether an alert may be told. `told_on`: when its key was last told of this patient.

    A notice comes once in `notice_again_days` [days, at least]; any other alert at each occurrence.
    """
    if told_on is None or alert.key not in NOTICES:
        return True
    return (today - told_on).days >= protocol.settings.notice_again_days


def first_told(
    found: tuple[Alert, ...],
    told: Mapping[tuple[AlertKey, date], date],
    protocol: Protocol,
    today: date,
) -> tuple[Alert, ...]:
    """Those to be told today. `told`: key and date of an occurrence, and the day it was told."""
    last = {key: on for (key, _since), on in sorted(told.items(), key=lambda one: one[1])}
    return tuple(
        alert
        for alert in found
        if (alert.key, alert.since) not in told
        and is_due(alert, last.get(alert.key), protocol, today)
    )


def pain_very_high(history: History, protocol: Protocol, today: date) -> Iterator[Alert]:
    """Pain of at least `pain_same_day` in any answer about the last days; one alert a date.

    Looks back far enough for a two-day answer that comes a day late. Tier: same day.
    Source: convention.
    """
    least = protocol.settings.pain_same_day
    first = today - (FOLLOW_UP_DAYS + LATE_DAYS) * ONE_DAY
    seen: set[date] = set()
    for on, name, pain in _pains(history, first, today):
        if pain < least or on in seen or not first <= on <= today:
            continue
        seen.add(on)
        yield Alert(
            Tier.SAME_DAY, AlertKey.PAIN_VERY_HIGH, on, {name: pain, "pain_same_day": least}
        )


def silence(history: History, protocol: Protocol, today: date) -> Alert | None:
    """No answer at all for at least `silence_days` days. Tier: next working day.

    Counted from the latest of: the last date an answer is about, enrolment, the last day of a
    pause. None during a pause. Source: convention.
    """
    if any(covers(pause, today) for pause in history.pauses):
        return None
    ended = [pause.until for pause in history.pauses if pause.until and pause.until < today]
    last = max([history.enrolled_on, *_answer_dates(history), *ended])
    days = (today - last).days
    if days < protocol.settings.silence_days:
        return None
    evidence: Evidence = {"days_silent": days, "silence_days": protocol.settings.silence_days}
    return Alert(Tier.NEXT_WORKING_DAY, AlertKey.SILENCE, last, evidence)


def stepped_back_twice(history: History, protocol: Protocol, today: date) -> Alert | None:
    """`step_backs_alarm` whole levels down within `step_backs_window_days` days, and still worse.

    The window ends today, which is included. Still worse: mean first-step pain of the last seven
    mornings is above what was usual before the first of these step backs; with fewer than
    `week_answers_min` answers that cannot be ruled out, and the alert is given.
    Tier: next working day. Source: convention.
    """
    settings = protocol.settings
    first_day = today - (settings.step_backs_window_days - 1) * ONE_DAY
    recent = [move for move in history.moves if move.step_back and first_day <= move.on <= today]
    if len(recent) < settings.step_backs_alarm:
        return None
    usual = usual_at_step_down(history, protocol, recent[0])
    week = week_to(history, today, None).pain
    if week.count >= settings.week_answers_min and week.value <= usual:
        return None
    evidence: Evidence = {
        "step_backs": len(recent),
        "window_days": settings.step_backs_window_days,
        "pain_mean": round(week.value, 2) if week.count else None,
        "usual": usual,
    }
    return Alert(Tier.NEXT_WORKING_DAY, AlertKey.STEPPED_BACK_TWICE, recent[-1].on, evidence)


def not_settling(history: History, protocol: Protocol, today: date) -> Alert | None:
    """Resting since a step down for at least two weeks: without a word the rest would go on.

    The row `rest_day.settling_after_step_back` still applies `step_backs_window_days` days after
    the step down [days, at least], because pain stays up or no morning is answered.
    Tier: next working day. Source: convention.
    """
    step = last_step_down(history)
    evidence = settling_after_step_back(history, protocol, today)
    if step is None or evidence is None:
        return None
    if (today - step.on).days < protocol.settings.step_backs_window_days:
        return None
    return Alert(Tier.NEXT_WORKING_DAY, AlertKey.NOT_SETTLING, step.on, evidence)


def no_response(history: History, protocol: Protocol, today: date) -> Alert | None:
    """At least `response_weeks` weeks since enrolment, and VISA-A has risen too little.

    Too little: the latest score is under `response_points_min` points above the first [points,
    at least]. None with fewer than two scores. For a week the score of those weeks is waited for
    (convention: it is asked once a week at the most); then the latest before it has to do.
    Tier: next working day. Source: lagas-2021, 14 points at 12 weeks.
    """
    settings = protocol.settings
    scores = [(on, score) for on, score in history.visa_a if on <= today]
    weeks = (today - history.enrolled_on).days // WEEK_DAYS
    if len(scores) < 2 or weeks < settings.response_weeks:
        return None
    weeks_scored = (scores[-1][0] - history.enrolled_on).days // WEEK_DAYS
    if weeks == settings.response_weeks and weeks_scored < weeks:
        return None
    rise = scores[-1][1] - scores[0][1]
    if rise >= settings.response_points_min:
        return None
    evidence: Evidence = {
        "weeks": weeks,
        "visa_a_rise": rise,
        "points_min": settings.response_points_min,
    }
    return Alert(Tier.NEXT_WORKING_DAY, AlertKey.NO_RESPONSE, scores[-1][0], evidence)


def _pains(history: History, first: date, today: date) -> Iterator[tuple[date, str, int]]:
    """Each answered pain: the date it is about, its name, its value."""
    for morning in mornings_between(history, first, today):
        if morning.first_step_pain is not None:
            yield morning.on, "first_step_pain", int(morning.first_step_pain)
    # One session a day: of any earlier one even the two-day answer is about a day before `first`.
    days = (today - first).days + 1 + FOLLOW_UP_DAYS
    for session in history.sessions[-days:]:
        for later, name, pain in (
            (0, "pain_during", session.pain_during),
            (0, "pain_after", session.pain_after),
            (1, "pain_24h", session.pain_24h),
            (FOLLOW_UP_DAYS, "pain_48h", session.pain_48h),
        ):
            if pain is not None:
                yield session.on + later * ONE_DAY, name, int(pain)


def _answer_dates(history: History) -> Iterator[date]:
    """Dates of the latest answers of each kind."""
    for morning in reversed(history.mornings):
        if _says_something(morning):
            yield morning.on
            break
    session = last_session(history)
    if session is not None:
        yield _last_answered(session)
    yield from (entry.on for entry in history.activities[-1:])
    yield from (entry.on for entry in history.heel_raises[-1:])
    yield from (on for on, _score in history.visa_a[-1:])


def _says_something(morning: Morning) -> bool:
    return morning.first_step_pain is not None or morning.stiffness is not None


def _last_answered(session: Session) -> date:
    """The date of the last thing said about a session."""
    if session.pain_48h is not None:
        return session.on + FOLLOW_UP_DAYS * ONE_DAY
    return session.on if session.pain_24h is None else session.on + ONE_DAY
