"""What is said about the last weeks and the next days: "how am I doing?" and "plan".

Sums up and words; decides nothing. Read next: `weeks_picture`, which draws the same weeks.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from statistics import median

from dialogs.rendering import day_word
from dialogs.turn import Said, Situation
from rules.history import History
from rules.protocol import Protocol
from rules.usual import Mean, first_step_pain, usual_pain, week_to

# Answered mornings for a week's mean to be said [count, at least]. Convention: about half a week.
MORNINGS_MIN = 3

# How far back "how am I doing?" looks [days], and the patient's words that it shows [count].
# Convention.
LOOKS_BACK_DAYS = 28
WORDS_SHOWN = 3

# How far ahead the plan looks, today included [days].
WEEK_DAYS = 7


@dataclass(frozen=True)
class SetOff:
    """What the patient wrote about a sore morning."""

    on: date
    words: str


def say_progress(
    history: History, protocol: Protocol, situation: Situation, set_off: tuple[SetOff, ...] = ()
) -> Said:
    """Two sentences on the last weeks, and what the patient wrote before sorer mornings."""
    today = situation.today
    mean = _mean(week_to(history, today, None).pain)
    before = _mean(week_to(history, today - timedelta(days=7), None).pain)
    first = today - timedelta(days=LOOKS_BACK_DAYS - 1)
    sore, after_sport = sore_mornings(history, protocol, first, today)
    recent = [one.words for one in sorted(set_off, key=lambda one: one.on)][-WORDS_SHOWN:]
    return Said(
        "progress",
        {
            "mean": mean,
            "before": before,
            "change": 0.0 if mean is None or before is None else mean - before,
            "sessions": sum(session.on >= first for session in history.sessions),
            "level": history.moves[-1].position.level,
            "levels": len(protocol.levels),
            "set_off": "; ".join(recent),
            "sore": sore,
            "after_sport": after_sport,
        },
    )


def sore_mornings(history: History, protocol: Protocol, first: date, last: date) -> tuple[int, int]:
    """How many mornings were sorer than usual by the protocol's margin, and how many of them came
    after a day with more other sport than the patient's middle day [count, count]."""
    minutes = {activity.on: int(activity.minutes) for activity in history.activities}
    middle = median(minutes.values()) if minutes else 0
    sore = [
        morning.on
        for morning in history.mornings
        if first <= morning.on <= last
        and (pain := first_step_pain(history, morning.on)) is not None
        and pain
        >= usual_pain(history, protocol, morning.on - timedelta(days=1))
        + protocol.settings.above_usual_margin
    ]
    busy = [on for on in sore if minutes.get(on - timedelta(days=1), 0) > middle]
    return len(sore), len(busy)


def say_week(plan: str, days: tuple[date, ...], situation: Situation) -> Said:
    """The plan's own words, with the days of this week behind it.

    plan: the session as it was worded already. days: see `planned_days`.
    """
    named = ", ".join(
        day_word(on, situation.today, ahead=True, language=situation.language) for on in days
    )
    return Said("plan-week", {"plan": plan, "days": named})


def planned_days(
    today: date, spacing_days: int, last_session_on: date | None, *, session_today: bool
) -> tuple[date, ...]:
    """The days of the next seven on which a session falls, by the spacing alone.

    Every one of them still depends on its own morning. spacing_days [1 or more].
    """
    first = today
    if not session_today:
        first = today + timedelta(days=1)
        if last_session_on is not None:
            first = max(first, last_session_on + timedelta(days=spacing_days))
    end = today + timedelta(days=WEEK_DAYS)
    return tuple(
        first + timedelta(days=step)
        for step in range(0, WEEK_DAYS, spacing_days)
        if first + timedelta(days=step) < end
    )


def _mean(mean: Mean) -> float | None:
    return round(mean.value, 1) if mean.count >= MORNINGS_MIN else None
