"""The rows that do less: one dose down; from a level's lowest dose, the highest of the one below.

Each asks for two things that agree, since one answer is too little to step on. A row that steps
back a whole level stands above all of these, or a dose would hide a level.
Read next: `rest_day`.
"""

from __future__ import annotations

from datetime import date

from rules.history import History, Session
from rules.protocol import PAIN_CEILING, Protocol
from rules.reading import is_above, reading, usuals_at, worst_session_pain
from rules.reasons import Evidence, Reason
from rules.step_back import REVIEWED, sessions_since_step
from rules.usual import (
    ONE_DAY,
    WEEK_DAYS,
    Week,
    pain_limit,
    session_to_answer_for,
    weeks_sum,
)

_FOR_WEEKS = (Reason.WEEKS_WORSE_THAN_BEFORE, Reason.WEEK_WORSE_THAN_LAST)

WEEKS_MIN = 3
"""Whole weeks since enrolment before weeks are compared [weeks]. Source: own-simulation, trend."""


def not_settled_by_two_days(history: History, protocol: Protocol, today: date) -> Evidence | None:
    """The reading is well above usual on the first and on the second day after the last session.

    Each by at least `above_usual_margin` [points]. None if either day has no answer.
    Source: silbernagel-crossley-2015, symptoms followed up to 48 hours; smith-2019, rises of more
    than two points over baseline are to be avoided; own-simulation for asking both days.
    """
    session = session_to_answer_for(history, told_after_days=2)
    if session is None or session.on + 2 * ONE_DAY > today:
        return None
    usuals = usuals_at(history, protocol, session)
    next_day = reading(history, usuals, session.on + ONE_DAY)
    two_day = reading(history, usuals, session.on + 2 * ONE_DAY)
    margin = protocol.settings.above_usual_margin
    if next_day is None or two_day is None or min(next_day.above, two_day.above) < margin:
        return None
    return {
        "next_day_pain": next_day.answer,
        "two_day_pain": two_day.answer,
        "usual": two_day.usual,
        "margin": margin,
        "session_on": session.on.isoformat(),
    }


def pain_over_ceiling(history: History, protocol: Protocol, today: date) -> Evidence | None:
    """The last session hurt over the ceiling and something agrees; or the next day did both.

    Something agrees: during and after are both over it; or the next day reads at least the echo
    margin above usual, or is not known by the second day; or another of the last three sessions
    since the last step down was over it as well. The next day: over the ceiling and at least
    `above_usual_margin` above usual. A single one that settles holds; see `hold.sore_but_settled`.
    Echo margin: `echo_margin`; where the limit stands at the ceiling, `echo_margin_at_ceiling`, and
    then it is asked of "both" as well, since the clinician has chosen to let it hurt so much.
    Source: silbernagel-2007 for the ceiling; own-simulation, table near the limit.
    """
    session = session_to_answer_for(history, told_after_days=0)
    told_next_day = session_to_answer_for(history, told_after_days=1)
    agrees = None
    if session is not None and _over_ceiling(session):
        agrees = _what_agrees(history, protocol, session, today, next_day=told_next_day is not None)
    if session is not None and agrees is not None:
        agrees = {"worst_pain": worst_session_pain(session), **agrees}
    if agrees is None and told_next_day is not None:
        agrees = _next_day_over_ceiling(history, protocol, told_next_day)
    if agrees is None:
        return None
    on = history.sessions[-1].on
    return {"ceiling": PAIN_CEILING, **agrees, "session_on": on.isoformat()}


def over_limit_three_times(history: History, protocol: Protocol, _today: date) -> Evidence | None:
    """Worst pain of each of the last `over_limit_sessions` sessions was over the limit.

    Sessions since the last step down. Limit: `usual.pain_limit`, equal is allowed [points].
    Source: common practice for the limit; own-simulation for three running.
    """
    session = session_to_answer_for(history, told_after_days=0)
    needed = protocol.settings.over_limit_sessions
    recent = sessions_since_step(history)[-needed:]
    limit = pain_limit(history, protocol)
    worst = [worst_session_pain(one) for one in recent]
    if session is None or len(recent) < needed or any(p is None or p <= limit for p in worst):
        return None
    return {"sessions_over": needed, "limit": limit, "session_on": session.on.isoformat()}


def weeks_worse_than_before(history: History, protocol: Protocol, today: date) -> Evidence | None:
    """Pain and stiffness of the last week are both up on weeks well before it: a slow drift.

    The week: seven mornings to today, with `week_answers_min` answers of each. Before: the
    `weeks_reference_days` days that ended `weeks_reference_ends_days_ago` days ago, or the first
    ones since enrolment where that is later, with `weeks_reference_answers_min` answers; days up to
    the last step down for weeks do not count, so that one drift is answered once. Up: by at least
    `weeks_pain_rise` points and `weeks_stiffness_rise_minutes` minutes. Asked on one day of each
    week since enrolment, from the fourth on.
    Source: silbernagel-2007, no increase of pain and stiffness over weeks; own-simulation for both
    measures, the gap and the day. A rolling usual follows a slow drift and never sees it.
    """
    settings = protocol.settings
    days = (today - history.enrolled_on).days
    if days < WEEKS_MIN * WEEK_DAYS or days % WEEK_DAYS != WEEK_DAYS - 1:
        return None
    ended = days - settings.weeks_reference_ends_days_ago
    ends = max(settings.weeks_reference_days - 1, ended)
    if ends > days - WEEK_DAYS:
        return None
    begins = max(0, ended - settings.weeks_reference_days + 1)
    first = history.enrolled_on + begins * ONE_DAY
    fired = [move.on for move in history.moves if move.reason in _FOR_WEEKS]
    if fired:
        first = max(first, fired[-1] + ONE_DAY)
    before = weeks_sum(history, first, history.enrolled_on + ends * ONE_DAY)
    this = weeks_sum(history, today - (WEEK_DAYS - 1) * ONE_DAY, today)
    return _both_up(protocol, this, before)


def _both_up(protocol: Protocol, this: Week, before: Week) -> Evidence | None:
    settings = protocol.settings
    if min(this.pain.count, this.stiffness.count) < settings.week_answers_min:
        return None
    if min(before.pain.count, before.stiffness.count) < settings.weeks_reference_answers_min:
        return None
    pain_up = this.pain.rise_over(before.pain)
    stiffness_up = this.stiffness.rise_over(before.stiffness)
    if pain_up < settings.weeks_pain_rise or stiffness_up < settings.weeks_stiffness_rise_minutes:
        return None
    return {
        "pain_mean": round(this.pain.value, 2),
        "pain_mean_before": round(before.pain.value, 2),
        "stiffness_mean": round(this.stiffness.value, 2),
        "stiffness_mean_before": round(before.stiffness.value, 2),
    }


def _over_ceiling(session: Session) -> bool:
    worst = worst_session_pain(session)
    return worst is not None and worst > PAIN_CEILING


def _what_agrees(
    history: History, protocol: Protocol, session: Session, today: date, *, next_day: bool
) -> Evidence | None:
    """What agrees with a session that hurt over the ceiling; None where nothing does yet.

    `next_day`: whether what was told on the next day still is to be answered for.
    """
    settings = protocol.settings
    at_ceiling = pain_limit(history, protocol) >= PAIN_CEILING
    margin = settings.echo_margin_at_ceiling if at_ceiling else settings.echo_margin
    both = [p for p in (session.pain_during, session.pain_after) if p is not None]
    if len(both) == 2 and min(both) > PAIN_CEILING and not at_ceiling:
        return {"pain_during": int(both[0]), "pain_after": int(both[1])}
    over = sum(_over_ceiling(one) for one in sessions_since_step(history))
    if over > 1:
        return {"sessions_over": over, "of_sessions": REVIEWED}
    usuals = usuals_at(history, protocol, session)
    echo = reading(history, usuals, session.on + ONE_DAY)
    if echo is None:
        return {"missing": "next_day_pain"} if today - session.on >= 2 * ONE_DAY else None
    if not next_day or not is_above(echo, margin):
        return None
    return {"next_day_pain": echo.answer, "usual": echo.usual, "margin": margin}


def _next_day_over_ceiling(
    history: History, protocol: Protocol, session: Session
) -> Evidence | None:
    usuals = usuals_at(history, protocol, session)
    margin = protocol.settings.above_usual_margin
    found = reading(history, usuals, session.on + ONE_DAY)
    if found is None or found.value <= PAIN_CEILING or not is_above(found, margin):
        return None
    return {"next_day_pain": found.answer, "usual": found.usual, "margin": margin}
