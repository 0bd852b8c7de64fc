"""Decides when a patient is asked: which prompts a local day has, when each falls due and expires.

It never asks for the time and never words a prompt. Everything is wall-clock time in the patient's
zone, turned into an instant in UTC at one place: `instant`.

The rule for time, in full:

* A day is a local calendar day. "24 hours after" is the wall-clock time of the session's end on
  the next local day (ISO 8601 P1D, not PT24H): 23, 24 or 25 hours, as the clocks go.
* A wall-clock time that a change of clocks leaves out moves on by as much as was left out.
  One that comes twice means the first. A date that a zone never had has no prompts.
* After a move to another zone the same wall-clock times hold in the new zone, from the local date
  there. A date that has had its morning has no second one, so whoever flies west over the date
  line and lives a date twice is asked once; whoever flies east is still asked, late, while the
  prompt has not expired. See `still_to_plan`.

Read next: `history`, which holds the answers; `escalation`, for when nobody answers a warning sign.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from rules.errors import ScheduleError

DAY = timedelta(days=1)  # Convention: one step of the calendar, not 24 elapsed hours.

# Convention: a follow-up this near to another prompt, either side, rides with it. [hours, at most]
MERGE_WITHIN = timedelta(hours=2)

# Convention: one reminder, this long after its prompt. [elapsed hours]
# Most answers to a text message come within the hour (chow-2022).
REMIND_AFTER = timedelta(hours=2)

# Convention: a morning prompt that could not be sent for so long is not sent. [elapsed hours]
MORNING_LASTS = timedelta(hours=6)

# Convention: the patient's week is shown so long after the morning time, past its reminder. [hours]
WEEK_AFTER = timedelta(hours=3)

# Convention: evening at least this long after morning, so that no reminder meets it. [hours]
EVENING_AFTER = timedelta(hours=4)

# Convention: the weekly heel raises wait for a session day, at most so long. [days]
HEEL_RAISES_WITHIN = 3

# Convention: VISA-A is asked from the morning after enrolment and again every four weeks: two items
# a morning beside the other questions, and what was left out on two mornings more, so that the
# fourth sheet is whole in the twelfth week. Of a sheet that was not begun on the first three
# mornings nothing more is asked. [days; items; mornings]
VISA_A_EVERY_DAYS = 28
VISA_A_ITEMS = 8
VISA_A_A_MORNING = 2
VISA_A_MORNINGS = 6
VISA_A_BEGUN_WITHIN = 3


class Question(StrEnum):
    """What a prompt can ask. The two follow-ups are about the session of 1 and of 2 days before."""

    FIRST_STEP_PAIN = "first-step-pain"
    STIFFNESS = "stiffness"
    TWO_DAY_PAIN = "two-day-pain"
    NEXT_DAY_PAIN = "next-day-pain"
    SESSION_REPORT = "session-report"
    HEEL_RAISES = "heel-raises"
    VISA_A = "visa-a"


class PromptKind(StrEnum):
    """A kind of prompt. A patient has at most one of a kind on a local date."""

    MORNING = "morning"
    FOLLOW_UP = "follow-up"
    EVENING = "evening"
    WEEK = "week"
    MORNING_REMINDER = "morning-reminder"
    FOLLOW_UP_REMINDER = "follow-up-reminder"
    EVENING_REMINDER = "evening-reminder"


REMINDER_OF = {
    PromptKind.MORNING: PromptKind.MORNING_REMINDER,
    PromptKind.FOLLOW_UP: PromptKind.FOLLOW_UP_REMINDER,
    PromptKind.EVENING: PromptKind.EVENING_REMINDER,
}


@dataclass(frozen=True)
class Schedule:
    """When a patient may be asked. All times are wall-clock times in the patient's zone.

    `zone`: name in the IANA time zone database, e.g. "Europe/Berlin".
    `morning_time`, `evening_time`: chosen by the patient; outside quiet hours, evening at least
        four hours after morning on the same date.
    `quiet_from` (included) to `quiet_until` (not included): nothing is asked; equal times mean no
        quiet hours. They may run over midnight, or by day for someone who works at night.
        Defaults 21:30 to 07:00: convention.
    `weekly_on`: weekday of the weekly questions [0 Monday to 6 Sunday]. Default Sunday: convention.
    Raises ScheduleError where these do not fit together.
    """

    zone: str
    morning_time: time
    evening_time: time
    quiet_from: time = time(21, 30)
    quiet_until: time = time(7, 0)
    weekly_on: int = 6

    def __post_init__(self) -> None:
        _zone_info(self.zone)
        times = (self.morning_time, self.evening_time, self.quiet_from, self.quiet_until)
        if any(at.tzinfo is not None for at in times):
            raise ScheduleError("times of a schedule are wall-clock times and carry no zone")
        if not 0 <= self.weekly_on <= 6:
            raise ScheduleError(f"weekday: expected 0 (Monday) to 6; found {self.weekly_on!r}")
        if _since_midnight(self.evening_time) - _since_midnight(self.morning_time) < EVENING_AFTER:
            raise ScheduleError(
                "expected the evening time at least four hours after the morning time; found "
                f"{self.morning_time:%H:%M} and {self.evening_time:%H:%M}"
            )
        for at in (self.morning_time, self.evening_time):
            if self.quiet_at(at):
                raise ScheduleError(
                    f"expected a time outside quiet hours, {self.quiet_from:%H:%M} to "
                    f"{self.quiet_until:%H:%M}; found {at:%H:%M}"
                )

    @property
    def zone_info(self) -> ZoneInfo:
        """The zone's rules."""
        return _zone_info(self.zone)

    def quiet_at(self, at: time) -> bool:
        """Whether a wall-clock time is in quiet hours (start included, end not)."""
        if self.quiet_from <= self.quiet_until:
            return self.quiet_from <= at < self.quiet_until
        return at >= self.quiet_from or at < self.quiet_until


@dataclass(frozen=True)
class SessionEnd:
    """A session that was reported: its local date, and the wall-clock time at which it ended.

    The time is read off the clock where the patient was. None: not known; the evening time stands
    in for it (convention).
    """

    on: date
    ended_time: time | None = None


@dataclass(frozen=True)
class PlannedPrompt:
    """One prompt. `on` is the local date it belongs to; (patient, `kind`, `on`) is unique.

    `due_at`, `expires_at`: instants in UTC; sent at the first, or late, but before the second.
    `asks`: values of `Question`, in the order in which they are asked.
    """

    kind: PromptKind
    on: date
    due_at: datetime
    expires_at: datetime
    asks: tuple[str, ...]


def prompts_for_day(
    day: date,
    schedule: Schedule,
    sessions: tuple[SessionEnd, ...] = (),
    *,
    session_offered: bool = False,
    stopped: bool = False,
    follow_up: bool = True,
    morning_answered: bool = False,
    enrolled_on: date | None = None,
    sheet: bool = True,
) -> tuple[PlannedPrompt, ...]:
    """The prompts of one local day, at most two, earliest first; none if the date does not exist.

    Morning: first-step pain, stiffness; two-day pain, before the next session is offered; two items
    of the VISA-A on its days after `enrolled_on`, where the clinic asks for the `sheet`.
    Evening: the session report where one is offered and not yet given; the weekly heel raises, on a
    session day with nothing `stopped`.
    Next-day pain, where it can decide something (`follow_up`) or the morning was missed: with one
    of these, or a follow-up of its own; see `_next_day_pain_place`.
    """
    if not _exists(day, schedule.zone_info):
        return ()
    ended_on = {session.on: session for session in sessions}
    begun = None if stopped else enrolled_on or date.min
    report = session_offered and day not in ended_on
    morning = _morning_questions(day, ended_on, enrolled_on if sheet else None)
    evening = _evening_questions(day, schedule, ended_on, begun, report=report)
    asks = {
        (PromptKind.MORNING, schedule.morning_time): morning,
        (PromptKind.EVENING, schedule.evening_time): evening,
    }
    if day - DAY in ended_on and (follow_up or not morning_answered):
        at = _next_day_pain_time(ended_on[day - DAY], schedule)
        with_morning = follow_up and Question.TWO_DAY_PAIN not in morning
        place = _next_day_pain_place(at, schedule, evening, with_morning=with_morning)
        asks.setdefault(place, []).append(Question.NEXT_DAY_PAIN)
    planned = (_planned(kind, day, at, schedule, put) for (kind, at), put in asks.items() if put)
    return tuple(sorted(planned, key=lambda prompt: prompt.due_at))


def week_prompt(day: date, schedule: Schedule) -> PlannedPrompt | None:
    """When the patient is shown their week: on the weekly day, and it asks nothing. In quiet hours
    by then, it comes at the evening time."""
    if day.weekday() != schedule.weekly_on or not _exists(day, schedule.zone_info):
        return None
    at = (datetime.combine(day, schedule.morning_time) + WEEK_AFTER).time()
    at = schedule.evening_time if schedule.quiet_at(at) else at
    return _planned(PromptKind.WEEK, day, at, schedule, [])


def sheet_morning(enrolled_on: date, day: date) -> int | None:
    """Which morning of a VISA-A sheet a day is [0 the first]; None where it is none."""
    since = (day - enrolled_on).days - 1
    morning = since % VISA_A_EVERY_DAYS
    return morning if since >= 0 and morning < VISA_A_MORNINGS else None


def sheet_items(morning: int, answered: Collection[int]) -> tuple[int, ...]:
    """The items of a sheet to ask on one of its mornings [1 to 8].

    `answered`: the items that have been, since its first morning.
    """
    if morning >= VISA_A_BEGUN_WITHIN and not answered:
        return ()
    due = range(1, min(VISA_A_A_MORNING * (morning + 1), VISA_A_ITEMS) + 1)
    return tuple(item for item in due if item not in answered)[:VISA_A_A_MORNING]


def reminder(prompt: PlannedPrompt) -> PlannedPrompt | None:
    """The one reminder of a prompt, two hours after it was due, asking the same.

    None where there is none: it would fall into quiet hours or past the prompt's own end (a prompt
    ends with the start of quiet hours at the latest), or the prompt is a reminder itself.
    """
    kind = REMINDER_OF.get(prompt.kind)
    due_at = prompt.due_at + REMIND_AFTER
    if kind is None or due_at >= prompt.expires_at:
        return None
    return replace(prompt, kind=kind, due_at=due_at)


def still_to_plan(
    prompts: tuple[PlannedPrompt, ...],
    already: frozenset[tuple[PromptKind, date]],
    now: datetime,
) -> tuple[PlannedPrompt, ...]:
    """Those of a day's prompts that should still be sent [`now`: UTC].

    `already`: (kind, local date) of what was sent, in whatever zone; empty where whoever asks keeps
    out by that key what was sent. The same after a move, a day off and a second run: what is
    overdue but not expired stays.
    """
    return tuple(
        prompt
        for prompt in prompts
        if prompt.expires_at > now and (prompt.kind, prompt.on) not in already
    )


def instant(day: date, at: time, zone: ZoneInfo) -> datetime:
    """The instant in UTC of a wall-clock time on a local day.

    A time the clocks leave out moves on by as much as they leave out; of a time that comes twice
    the first is meant. Both are what fold 0 does once turned into UTC (Python's PEP 495).
    """
    return datetime.combine(day, at.replace(tzinfo=None, fold=0), tzinfo=zone).astimezone(UTC)


def local_date(now: datetime, zone: ZoneInfo) -> date:
    """The calendar date at an instant in a zone. `now` carries a zone, else ValueError."""
    if now.tzinfo is None:
        raise ValueError("expected an instant with a zone; found a time without one")
    return now.astimezone(zone).date()


def _exists(day: date, zone: ZoneInfo) -> bool:
    """Whether a zone had this date: one that moved over the date line left a whole day out."""
    return local_date(instant(day, time(12), zone), zone) == day


def _morning_questions(
    day: date, ended_on: Collection[date], sheet_from: date | None
) -> list[Question]:
    asks = [Question.FIRST_STEP_PAIN, Question.STIFFNESS]
    if day - 2 * DAY in ended_on:
        asks.append(Question.TWO_DAY_PAIN)
    if sheet_from is not None and sheet_morning(sheet_from, day) is not None:
        asks.append(Question.VISA_A)
    return asks


def _evening_questions(
    day: date,
    schedule: Schedule,
    ended_on: Collection[date],
    begun: date | None,
    *,
    report: bool,
) -> list[Question]:
    """The report, and heel raises on the first session day of the week: on the weekly day or soon
    after it. `begun`: the first weekly day is not before it; None: no heel raises."""
    asks = [Question.SESSION_REPORT] if report else []
    after = (day.weekday() - schedule.weekly_on) % 7
    asked_before = any(day - ago * DAY in ended_on for ago in range(1, after + 1))
    first = (report or day in ended_on) and after < HEEL_RAISES_WITHIN and not asked_before
    if first and begun is not None and begun <= day - after * DAY:
        asks.append(Question.HEEL_RAISES)
    return asks


def _next_day_pain_time(session: SessionEnd | None, schedule: Schedule) -> time:
    """The time of the session's end on the clock, but never before the morning time.

    In quiet hours it comes back to the evening time: moved on, it would be the two-day answer.
    """
    if session is None or session.ended_time is None:
        return schedule.evening_time
    if schedule.quiet_at(session.ended_time) and session.ended_time > schedule.morning_time:
        return schedule.evening_time
    return max(session.ended_time, schedule.morning_time)


def _next_day_pain_place(
    at: time, schedule: Schedule, evening: list[Question], *, with_morning: bool
) -> tuple[PromptKind, time]:
    """The prompt that asks for next-day pain, due at `at`, and the time of that prompt.

    Within two hours of the morning prompt: that one, unless it is full (`with_morning`); else the
    evening time. The evening prompt where there is one: it is within two hours, or a
    prompt of its own would be the third, and the later answer has seen more of the day
    (convention). Otherwise a follow-up of its own.
    """
    near_morning = _since_midnight(at) - _since_midnight(schedule.morning_time) <= MERGE_WITHIN
    if near_morning and with_morning:
        return PromptKind.MORNING, schedule.morning_time
    if evening:
        return PromptKind.EVENING, schedule.evening_time
    return PromptKind.FOLLOW_UP, schedule.evening_time if near_morning else at


def _planned(
    kind: PromptKind, day: date, at: time, schedule: Schedule, asks: list[Question]
) -> PlannedPrompt:
    due_at = _due_at(day, at, schedule)
    zone = schedule.zone_info
    next_day = local_date(due_at, zone) + DAY
    ends = [instant(next_day, time(0), zone)]
    if schedule.quiet_from != schedule.quiet_until:
        ends.append(instant(day, schedule.quiet_from, zone))
    if kind is PromptKind.MORNING:
        ends.append(due_at + MORNING_LASTS)
    return PlannedPrompt(kind, day, due_at, min(end for end in ends if end > due_at), tuple(asks))


def _due_at(day: date, at: time, schedule: Schedule) -> datetime:
    """The instant of a time outside quiet hours.

    A time left out by the clocks moves on; where that would be in quiet hours or on the next date,
    it moves back by as much instead (fold 1): the patient is then still awake.
    """
    zone = schedule.zone_info
    on_time = instant(day, at, zone)
    there = on_time.astimezone(zone)
    if there.date() == day and not schedule.quiet_at(there.time()):
        return on_time
    return datetime.combine(day, at.replace(fold=1), tzinfo=zone).astimezone(UTC)


def _since_midnight(at: time) -> timedelta:
    return timedelta(hours=at.hour, minutes=at.minute, seconds=at.second)


def _zone_info(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as problem:
        raise ScheduleError(
            f"expected the name of a time zone, such as Europe/Berlin; found {name!r}"
        ) from problem
