"""The rows that hold: the session is done today, at the same place on the ladder.

They are asked only once no row of `step_back` or `rest_day` applies.
Read next: `brake`.
"""

from __future__ import annotations

from datetime import date

from rules.history import Activity, History, Session
from rules.ladder import is_barred, next_position
from rules.protocol import Level, Protocol
from rules.reading import answers_of, usuals_at
from rules.reasons import Evidence
from rules.stay import (
    days_between_raises,
    last_raise_on,
    level_began_on,
    position_began_on,
    sessions_missed,
    sessions_since,
    was_left_upwards,
)
from rules.usual import (
    ONE_DAY,
    WEEK_DAYS,
    last_session,
    next_day_pain,
    pain_limit,
    two_day_pain,
)


def after_a_break(history: History, protocol: Protocol, today: date) -> Evidence | None:
    """At least `break_days` since the last session: the level's lowest dose comes first.

    None before the first session. Source: convention.
    """
    session = last_session(history)
    if session is None:
        return None
    days = (today - session.on).days
    if days < protocol.settings.break_days:
        return None
    return {
        "days_since_session": days,
        "break_days": protocol.settings.break_days,
        "session_on": session.on.isoformat(),
    }


def too_few_days(history: History, protocol: Protocol, today: date) -> Evidence | None:
    """Fewer than the level's `days_min` since it began, and the next step is another level.

    Days at the level: `stay.level_began_on` [days, at least]. A level that was left upwards before
    asks `return_days_min`, if that is less (own-simulation). None where a higher dose of the same
    level comes next, or nothing does. Source: the protocol, for each level.
    """
    level = _level_to_leave(history, protocol)
    if level is None:
        return None
    began = level_began_on(history, protocol)
    days, days_min = (today - began).days, level.days_min
    if was_left_upwards(history):
        days_min = min(days_min, protocol.settings.return_days_min)
    if days >= days_min:
        return None
    return {"days_at_level": days, "days_min": days_min, "level_began_on": began.isoformat()}


def too_few_sessions(history: History, protocol: Protocol, today: date) -> Evidence | None:
    """No session yet at the present position, or too few of those prescribed at the level.

    Too few: under `sessions_done_min_percent` of done and missed ones together since
    `stay.level_began_on` [percent]. A session of which no set was done is not one done.
    Missed ones: `stay.sessions_missed`. Source: convention; trials report 78 to 92 percent of
    sessions done (beyer-2015).
    """
    began = level_began_on(history, protocol)
    level = history.position.level
    done = sum(_is_done(session, level) for session in sessions_since(history, began))
    here = sum(
        session.position == history.position and _is_done(session, level)
        for session in sessions_since(history, position_began_on(history))
    )
    missed = sessions_missed(history, protocol, began, today)
    percent = protocol.settings.sessions_done_min_percent
    if here and 100 * done >= percent * (done + missed):
        return None
    return {
        "sessions_here": here,
        "sessions_done": done,
        "sessions_prescribed": done + missed,
        "percent_min": percent,
        "level_began_on": began.isoformat(),
    }


def follow_up_missing(history: History, _protocol: Protocol, _today: date) -> Evidence | None:
    """An answer about the last session that an advance rests on is missing.

    Next-day or two-day pain (either of the two answers makes each known), pain during or after. The
    48 hour answer tells the worst since the session, so it makes next-day pain known as well.
    None before the first session; see `too_few_sessions`. What older sessions lack holds nobody:
    with one answer in seven missing, it would hold two days in five (own-simulation).
    Source: silbernagel-crossley-2015 for following up to 48 hours.
    """
    session = last_session(history)
    if session is None:
        return None
    next_day = next_day_pain(history, session)
    for name, pain in (
        ("next_day_pain", session.pain_48h if next_day is None else next_day),
        ("two_day_pain", two_day_pain(history, session)),
        ("pain_during", session.pain_during),
        ("pain_after", session.pain_after),
    ):
        if pain is None:
            return {"missing": name, "session_on": session.on.isoformat()}
    return None


def criterion_not_met(history: History, protocol: Protocol, _today: date) -> Evidence | None:
    """The latest heel-raise count is under the level's `heel_raises_min`, or there is none.

    Asked where the next step is another level and this one has a criterion [count, at least].
    Source: silbernagel-2020, ten single-leg heel raises as the mark between phases.
    """
    level = _level_to_leave(history, protocol)
    if level is None or level.heel_raises_min is None:
        return None
    latest = history.heel_raises[-1] if history.heel_raises else None
    if latest is not None and latest.count >= level.heel_raises_min:
        return None
    return {
        "heel_raises": None if latest is None else int(latest.count),
        "heel_raises_min": level.heel_raises_min,
    }


def still_hard(history: History, protocol: Protocol, _today: date) -> Evidence | None:
    """An answered effort of the last `effort_sessions` sessions is over `easy_effort_max`.

    [0-10, equal is allowed]. None where none is over or none was answered.
    Source: convention; foster-2001 for the scale.
    """
    settings = protocol.settings
    for session in reversed(history.sessions[-settings.effort_sessions :]):
        if session.effort is not None and session.effort > settings.easy_effort_max:
            return {
                "effort": int(session.effort),
                "easy_effort_max": settings.easy_effort_max,
                "session_on": session.on.isoformat(),
            }
    return None


def masked_by_painkiller(history: History, protocol: Protocol, _today: date) -> Evidence | None:
    """A painkiller was taken before any of the last `sessions_reviewed` sessions.

    What such a session hurt is not known, so nothing is built on it. Source: common practice.
    """
    for session in reversed(history.sessions[-protocol.settings.sessions_reviewed :]):
        if session.painkiller:
            return {"session_on": session.on.isoformat()}
    return None


def raised_this_week(history: History, protocol: Protocol, today: date) -> Evidence | None:
    """The last move up, by rules or clinician, is too few days ago.

    Days: `stay.days_between_raises` [days, at least]. None if there was no move up. Source:
    beyer-2015, weight raised at most once a week.
    """
    raised_on = last_raise_on(history)
    if raised_on is None:
        return None
    days = (today - raised_on).days
    days_min = days_between_raises(history, protocol)
    if days >= days_min:
        return None
    return {"days_since_raise": days, "days_min": days_min, "raised_on": raised_on.isoformat()}


def sore_but_settled(history: History, protocol: Protocol, _today: date) -> Evidence | None:
    """The last session hurt more than comfortable, or what followed is not quite at usual.

    During or after over `comfort_max` or over the limit; or any answer about the first or second
    day more than `settled_margin` above the usual of its question, or over the limit as it was
    given [points, equal is allowed]. None where none is, or none is known; see `follow_up_missing`.
    Source: breda-2021, loads raised while pain is at most 3; convention for the margin.
    """
    session = last_session(history)
    if session is None:
        return None
    limit = pain_limit(history, protocol)
    comfortable = min(protocol.settings.comfort_max, limit)
    pains = {"pain_during": session.pain_during, "pain_after": session.pain_after}
    over: dict[str, float] = {
        name: int(pain) for name, pain in pains.items() if pain is not None and pain > comfortable
    }
    usuals = usuals_at(history, protocol, session)
    for days, name in ((1, "next_day"), (2, "two_day")):
        for found in answers_of(history, usuals, session.on + days * ONE_DAY):
            settled = min(found.usual + protocol.settings.settled_margin, limit)
            if found.value > limit or found.answer > settled:
                over |= {f"{name}_pain": found.answer, "usual": found.usual}
                over["settled_at_most"] = settled
    if not over:
        return None
    usual = usuals.first_step
    settled = min(usual + protocol.settings.settled_margin, limit)
    compared = {"comfort_max": comfortable, "usual": usual, "settled_at_most": settled}
    return compared | over | {"session_on": session.on.isoformat()}


def activity_spike(history: History, protocol: Protocol, today: date) -> Evidence | None:
    """A recent activity was more than `spike_percent` longer than the longest of the days before.

    Recent: the last `spike_recent_days` days, today included, and back to the last session if that
    lies within this week: what was done since the session colours what the tendon answers.
    Before: the `spike_window_days` days before those, with at least `spike_activities_min` on
    record. The recent days never enter their own yardstick. Minutes are compared, as a patient
    knows them. None where nothing is longer, or too little is on record.
    Source: frandsen-2025, distance of a run over the longest of 30 days.
    """
    settings, session = protocol.settings, last_session(history)
    recent, before = _activities_around(
        history.activities, session.on if session else None, protocol, today
    )
    if not recent or len(before) < settings.spike_activities_min:
        return None
    longest, usual_longest = max(a.minutes for a in recent), max(a.minutes for a in before)
    if 100 * longest <= (100 + settings.spike_percent) * usual_longest:
        return None
    return {
        "minutes": int(longest),
        "longest_before": int(usual_longest),
        "spike_percent": settings.spike_percent,
        "activities_before": len(before),
    }


def needs_clinician(history: History, protocol: Protocol, _today: date) -> Evidence | None:
    """The next step, or the present one, is barred until a clinician opens the gate.

    Hops: the clinician who opens the gate attests comfortable walking and a patient who jumped
    before the injury. A deficit raise for an insertional tendon is never opened.
    Source: common practice; jonsson-2008.
    """
    ahead = next_position(protocol, history.position)
    for position in (history.position, ahead):
        if position is not None and is_barred(history, protocol, position):
            return {"level": position.level, "hops_allowed": str(history.hops_allowed)}
    return None


def top_of_the_ladder(history: History, protocol: Protocol, _today: date) -> Evidence | None:
    """The patient stands at the highest dose of the highest level."""
    if next_position(protocol, history.position) is not None:
        return None
    return {"level": history.position.level, "dose": history.position.dose}


def _level_to_leave(history: History, protocol: Protocol) -> Level | None:
    """The present level, where the next step leaves it; else None."""
    ahead = next_position(protocol, history.position)
    if ahead is None or ahead.level == history.position.level:
        return None
    return protocol.level(history.position)


def _is_done(session: Session, level: int) -> bool:
    return session.position.level == level and session.sets_done != 0


def spike_over(
    activities: tuple[Activity, ...], session_on: date | None, protocol: Protocol, today: date
) -> int | None:
    """What an activity of today may come to before it is more than `activity_spike` allows
    [minutes, included]; None where too little is on record to tell.

    `session_on`: the date of the last session, or None before the first.
    """
    settings = protocol.settings
    before = _activities_around(activities, session_on, protocol, today)[1]
    if len(before) < settings.spike_activities_min:
        return None
    return (100 + settings.spike_percent) * max(a.minutes for a in before) // 100


def _activities_around(
    activities: tuple[Activity, ...], session_on: date | None, protocol: Protocol, today: date
) -> tuple[list[Activity], list[Activity]]:
    """The recent activities as `activity_spike` counts them, and those of the days before."""
    settings = protocol.settings
    middle = today - (settings.spike_recent_days - 1) * ONE_DAY
    if session_on is not None:
        middle = min(middle, max(session_on, today - (WEEK_DAYS - 1) * ONE_DAY))
    first = middle - settings.spike_window_days * ONE_DAY
    recent: list[Activity] = []
    before: list[Activity] = []
    for activity in reversed(activities):
        if activity.on < first:
            break
        if activity.on <= today:
            (recent if activity.on >= middle else before).append(activity)
    return recent, before
