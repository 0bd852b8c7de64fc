"""The rows that give a rest day: same place on the ladder, no session today.

Read next: `hold`.
"""

from __future__ import annotations

from datetime import date

from rules.history import History, MovedBy
from rules.protocol import PAIN_CEILING, Level, Position, Protocol
from rules.reading import (
    Usuals,
    is_above,
    reading,
    sore_with_echo,
    usuals_at,
    usuals_now,
)
from rules.reasons import Evidence
from rules.usual import (
    ONE_DAY,
    last_session,
    last_step_down,
    mornings_between,
    session_to_answer_for,
    usual_at_step_down,
)

FOLLOW_UP_DAYS = 2
"""Local days a session is followed up [days, included]. Source: silbernagel-crossley-2015, 48 h."""

DAYS_LOOKED_AT = 3
"""Days among which sore ones are counted, today included [days]. Source: own-simulation."""


def well_above_usual(history: History, protocol: Protocol, today: date) -> Evidence | None:
    """Today's reading is far above usual, or over the ceiling and well above usual.

    Far: `well_above_margin`; well: `above_usual_margin`, with a reading over `PAIN_CEILING`
    [points]. Whatever it comes from: it may be days since the last session, or none was done yet.
    Source: common practice, worse the next day is a day off; smith-2019, more than two over
    baseline; own-simulation for three.
    """
    usuals = usuals_now(history, protocol)
    found = reading(history, usuals, today)
    if found is None or not is_well_above(history, protocol, usuals, today):
        return None
    margin = protocol.settings.well_above_margin
    return {"pain": found.answer, "usual": found.usual, "margin": margin}


def above_usual_twice(history: History, protocol: Protocol, today: date) -> Evidence | None:
    """Today's reading is well above usual, and so was one of the two days before.

    `above_usual_days` of three, each by at least `above_usual_margin` [days; points].
    Source: smith-2019 for the margin; own-simulation for twice: once is in up to half of the weeks
    of a stable patient.
    """
    usuals = usuals_now(history, protocol)
    found = reading(history, usuals, today)
    if found is None or not is_above_twice(history, protocol, usuals, today):
        return None
    settings = protocol.settings
    return {
        "pain": found.answer,
        "usual": found.usual,
        "margin": settings.above_usual_margin,
        "days_min": settings.above_usual_days,
    }


def sore_session_and_next_day(history: History, protocol: Protocol, today: date) -> Evidence | None:
    """The day after a session that hurt more than sessions do, and this day reads above usual too.

    Session: worst pain at least `sore_session_margin` over `reading.usual_session_pain`; the day:
    at least `echo_margin` above usual [points]. Most levels rest on that day anyway: the row tells
    why, and `brake.raised_after_sore_session` keeps the next raise back.
    Source: own-simulation, table of a flare from a session.
    """
    session = session_to_answer_for(history, told_after_days=1)
    if session is None or today - session.on != ONE_DAY:
        return None
    return sore_with_echo(history, protocol, session)


def settling_after_step_back(history: History, protocol: Protocol, today: date) -> Evidence | None:
    """No session since the last step down, and first-step pain is not back at usual, or not known.

    Back at usual: the latest first-step pain answered after the day of the step down is at most
    `settled_margin` above `usual.usual_at_step_down` [points]. So the day of the step down itself
    is a rest day. A session on that day is not one since. A clinician's later move ends the
    settling: the clinician's word stands above the rules.
    Source: smith-2019, back to baseline first; convention for the margin.
    """
    step = last_step_down(history)
    if step is None or _clinician_moved_since(history):
        return None
    session = last_session(history)
    if session is not None and session.on > step.on:
        return None
    usual = usual_at_step_down(history, protocol, step)
    margin = protocol.settings.settled_margin
    latest = _latest_first_step_pain(history, step.on + ONE_DAY, today)
    if latest is not None and latest <= usual + margin:
        return None
    return {
        "first_step_pain": latest,
        "usual": usual,
        "margin": margin,
        "stepped_back_on": step.on.isoformat(),
    }


def still_recovering(history: History, protocol: Protocol, today: date) -> Evidence | None:
    """Fewer local days than the spacing have passed since the last session.

    Spacing: that of the level the session was done at, or of the present one, whichever is longer
    [days, at least]. None before the first session.
    Source: common practice, every other day; magnusson-2010 for heavy loading.
    """
    session = last_session(history)
    if session is None:
        return None
    days = (today - session.on).days
    spacing = max(
        protocol.level(history.position).spacing_days,
        _level_done(protocol, session.position).spacing_days,
    )
    if days >= spacing:
        return None
    return {
        "days_since_session": days,
        "spacing_days": spacing,
        "session_on": session.on.isoformat(),
    }


def next_day_above_usual(history: History, protocol: Protocol, today: date) -> Evidence | None:
    """The day after a session, and its reading is well above usual.

    By at least `above_usual_margin` [points]. Reached only where a level has sessions daily: else
    `still_recovering` rests this day without alarm.
    Source: cook-purdam-2014, worse on the next day means less load; smith-2019, the margin.
    """
    session = last_session(history)
    if session is None or today - session.on != ONE_DAY:
        return None
    found = reading(history, usuals_at(history, protocol, session), today)
    margin = protocol.settings.above_usual_margin
    if found is None or not is_above(found, margin):
        return None
    return {
        "next_day_pain": found.answer,
        "usual": found.usual,
        "margin": margin,
        "session_on": session.on.isoformat(),
    }


def is_well_above(history: History, protocol: Protocol, usuals: Usuals, on: date) -> bool:
    """What `well_above_usual` asks of a day, with given usuals."""
    found, settings = reading(history, usuals, on), protocol.settings
    if found is not None and found.value > PAIN_CEILING:
        return is_above(found, min(settings.above_usual_margin, settings.well_above_margin))
    return is_above(found, settings.well_above_margin)


def is_above_twice(history: History, protocol: Protocol, usuals: Usuals, on: date) -> bool:
    """What `above_usual_twice` asks of a day and the two before it, with given usuals."""
    settings = protocol.settings
    days = [
        is_above(reading(history, usuals, on - ago * ONE_DAY), settings.above_usual_margin)
        for ago in range(DAYS_LOOKED_AT)
    ]
    return days[0] and sum(days) >= settings.above_usual_days


def _level_done(protocol: Protocol, position: Position) -> Level:
    """The level of a past session; the highest if it was done under a longer protocol."""
    return protocol.levels[min(position.level, len(protocol.levels)) - 1]


def _clinician_moved_since(history: History) -> bool:
    """Whether a clinician has moved the patient after the last step down."""
    for move in reversed(history.moves):
        if move.down:
            return False
        if move.by is MovedBy.CLINICIAN:
            return True
    return False


def _latest_first_step_pain(history: History, first: date, last: date) -> int | None:
    """The latest answered first-step pain from `first` to `last`, both included."""
    for morning in reversed(mornings_between(history, first, last)):
        if morning.first_step_pain is not None:
            return int(morning.first_step_pain)
    return None
