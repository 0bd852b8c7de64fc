"""Reads rows of answers and sessions as the rules take them. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from bot.store.answers import Kept, SessionRow
from dialogs.questions import VISA_A
from dialogs.turn import Question
from rules.history import Ability, Activity, HeelRaises, Morning, Session
from rules.outcomes import VisaA
from rules.quantities import Count, Effort, Minutes, Pain

# The items of one sheet are answered within so many days [days]. Convention.
SHEET_WITHIN_DAYS = 14


Days = Mapping[date, Mapping[str, int]]
"""What was answered, by date and question."""


def by_date(kept: list[Kept]) -> Days:
    """The answers that are numbers."""
    days: dict[date, dict[str, int]] = {}
    for answer in kept:
        if isinstance(answer.value, int):
            days.setdefault(answer.about, {})[answer.question] = answer.value
    return days


def mornings_of(days: Days) -> tuple[Morning, ...]:
    """Each morning of which something was answered, by date."""
    asked = (Question.FIRST_STEP_PAIN, Question.STIFFNESS)
    return tuple(
        Morning(
            on=on,
            first_step_pain=_read(Pain, day.get(Question.FIRST_STEP_PAIN)),
            stiffness=_read(Minutes, day.get(Question.STIFFNESS)),
        )
        for on, day in days.items()
        if any(question in day for question in asked)
    )


def sessions_of(
    days: Days, rows: list[SessionRow], *, for_both: bool = False
) -> tuple[Session, ...]:
    """Each session reported, with what was answered of it.

    `for_both`: where nothing was answered on the next day, the two-day answer, which is then the
    worst since the session, counts for that day too.
    """
    sessions = (_session(row, days.get(row.on, {})) for row in rows)
    return tuple(_told_late(one, days) if for_both else one for one in sessions)


def _told_late(session: Session, days: Days) -> Session:
    """The session, with its two-day answer for the next day too where nothing was told on that."""
    next_day = days.get(session.on + timedelta(days=1), {})
    if session.pain_24h is not None or Question.FIRST_STEP_PAIN in next_day:
        return session
    return replace(session, pain_24h=session.pain_48h)


def _session(row: SessionRow, day: Mapping[str, int]) -> Session:
    painkiller = day.get(Question.PAINKILLER)
    return Session(
        on=row.on,
        position=row.position,
        sets_done=_read(Count, day.get(Question.SETS_DONE)),
        sets_prescribed=Count(row.sets_prescribed),
        pain_during=_read(Pain, day.get(Question.PAIN_DURING)),
        pain_after=_read(Pain, day.get(Question.PAIN_AFTER)),
        pain_24h=_read(Pain, day.get(Question.NEXT_DAY_PAIN)),
        pain_48h=_read(Pain, day.get(Question.TWO_DAY_PAIN)),
        effort=_read(Effort, day.get(Question.EFFORT)),
        painkiller=None if painkiller is None else bool(painkiller),
    )


def activities_of(days: Days) -> tuple[Activity, ...]:
    """Other activity, by date."""
    return tuple(
        Activity(on, Minutes(minutes), _read(Effort, day.get(Question.ACTIVITY_EFFORT)))
        for on, day in days.items()
        if (minutes := day.get(Question.ACTIVITY_MINUTES))
    )


def heel_raises_of(days: Days) -> tuple[HeelRaises, ...]:
    """The weekly counts, by date."""
    return tuple(
        HeelRaises(
            on=on,
            count=Count(day[Question.HEEL_RAISES]),
            other=_read(Count, day.get(Question.OTHER_HEEL_RAISES)),
        )
        for on, day in days.items()
        if Question.HEEL_RAISES in day
    )


def ability_of(days: Days) -> Ability | None:
    """What the patient said they can do when they enrolled; None where nothing was answered."""
    for on, day in days.items():
        if Question.RISES_ON_BOTH in day:
            one = day.get(Question.RISES_ON_ONE)
            return Ability(
                on=on,
                on_both=bool(day[Question.RISES_ON_BOTH]),
                on_one=None if one is None else bool(one),
                in_a_row=_read(Count, day.get(Question.RISES_IN_A_ROW)),
            )
    return None


def visa_a_totals(days: Days) -> tuple[tuple[date, int], ...]:
    """The total of each sheet of which every item is answered, by the date of the last of them."""
    totals: list[tuple[date, int]] = []
    points: dict[Question, int] = {}
    began = date.min
    for on, day in sorted(days.items()):
        found = {item: day[item] for item in VISA_A if item in day}
        if found and (not points or (on - began).days >= SHEET_WITHIN_DAYS):
            points, began = {}, on
        points |= found
        if len(points) == len(VISA_A):
            totals.append((on, VisaA(tuple(points[item] for item in VISA_A)).total))
            points = {}
    return tuple(totals)


def _read(quantity: Any, value: int | None) -> Any:
    return None if value is None else quantity(value)
