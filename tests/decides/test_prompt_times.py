"""When each prompt falls due, over changes of clocks, moves, quiet hours and merging.

Expected instants are worked out by hand from the rules of the IANA tz database (2026 edition); each
row names the file and the rule line.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.errors import ScheduleError
from rules.prompt_times import (
    PlannedPrompt,
    PromptKind,
    Question,
    Schedule,
    SessionEnd,
    instant,
    local_date,
    prompts_for_day,
    reminder,
    sheet_items,
    sheet_morning,
    still_to_plan,
)

DAY = timedelta(days=1)
HOUR = timedelta(hours=1)
MINUTE = timedelta(minutes=1)
TUESDAY = date(2026, 3, 3)
THURSDAY = date(2026, 3, 5)
SUNDAY = date(2026, 3, 8)
PLAIN = Schedule("UTC", time(8), time(19))


def utc(text: str) -> datetime:
    """An instant in UTC from ISO 8601 text."""
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def clock(text: str) -> time:
    """A wall-clock time from hours and minutes."""
    return time.fromisoformat(text)


def seen(prompts: tuple[PlannedPrompt, ...]) -> list[tuple[str, str, str]]:
    """Kind, time in UTC and questions of each prompt, short enough for a table."""
    return [(p.kind.value, f"{p.due_at:%H:%M}", " ".join(p.asks)) for p in prompts]


@pytest.mark.parametrize(
    ("zone", "day", "at", "expected"),
    [
        # northamerica, Rule US 2007 max Mar Sun>=8 2:00 +1:00; Zone America/New_York -5:00.
        # 02:30 is left out: moved to 03:30 EDT (UTC-4).
        pytest.param(
            "America/New_York", "2026-03-08", "01:59", "2026-03-08T06:59", id="ny before gap"
        ),
        pytest.param("America/New_York", "2026-03-08", "02:30", "2026-03-08T07:30", id="ny in gap"),
        pytest.param(
            "America/New_York", "2026-03-08", "03:00", "2026-03-08T07:00", id="ny after gap"
        ),
        pytest.param("America/New_York", "2026-03-07", "07:30", "2026-03-07T12:30", id="ny winter"),
        pytest.param("America/New_York", "2026-03-08", "07:30", "2026-03-08T11:30", id="ny summer"),
        # northamerica, Rule US 2007 max Nov Sun>=1 2:00 0. 01:30 comes twice: the first, EDT.
        pytest.param("America/New_York", "2026-11-01", "01:30", "2026-11-01T05:30", id="ny twice"),
        pytest.param(
            "America/New_York", "2026-11-01", "02:00", "2026-11-01T07:00", id="ny after twice"
        ),
        # europe, Rule EU 1981 max Mar lastSun 1:00u 1:00; Zone Europe/Berlin 1:00 EU.
        pytest.param("Europe/Berlin", "2026-03-29", "01:59", "2026-03-29T00:59", id="be before"),
        pytest.param("Europe/Berlin", "2026-03-29", "02:30", "2026-03-29T01:30", id="be in gap"),
        pytest.param("Europe/Berlin", "2026-03-29", "03:00", "2026-03-29T01:00", id="be after gap"),
        # europe, Rule EU 1996 max Oct lastSun 1:00u 0. 02:30 comes twice: the first, CEST.
        pytest.param("Europe/Berlin", "2026-10-25", "02:30", "2026-10-25T00:30", id="be twice"),
        pytest.param("Europe/Berlin", "2026-10-25", "03:00", "2026-10-25T02:00", id="be later"),
        # southamerica, Rule Chile 2023 max Sep Sun>=2 4:00u 1:00: midnight -04 becomes 01:00 -03,
        # so the day has no midnight of its own.
        pytest.param("America/Santiago", "2026-09-06", "00:00", "2026-09-06T04:00", id="cl gap"),
        pytest.param("America/Santiago", "2026-09-06", "00:30", "2026-09-06T04:30", id="cl in gap"),
        pytest.param("America/Santiago", "2026-09-06", "07:30", "2026-09-06T10:30", id="cl day"),
        # southamerica, Rule Chile 2023 max Apr Sun>=2 3:00u 0: midnight -03 on Saturday's end
        # becomes 23:00 -04. Saturday's 23:30 comes twice: the first.
        pytest.param("America/Santiago", "2026-04-04", "23:30", "2026-04-05T02:30", id="cl twice"),
        # australasia, Rule LH 2008 max Oct Sun>=1 2:00 0:30; Zone 10:30 LH: half an hour only.
        pytest.param("Australia/Lord_Howe", "2026-10-04", "02:15", "2026-10-03T15:45", id="lh gap"),
        pytest.param("Australia/Lord_Howe", "2026-10-04", "02:30", "2026-10-03T15:30", id="lh end"),
        # australasia, Rule LH 2008 max Apr Sun>=1 2:00 0: 01:30 to 02:00 comes twice: the first,
        # at UTC+11.
        pytest.param("Australia/Lord_Howe", "2026-04-05", "01:45", "2026-04-04T14:45", id="lh two"),
        pytest.param("Australia/Lord_Howe", "2026-04-05", "02:00", "2026-04-04T15:30", id="lh on"),
        # asia, Zone Asia/Kathmandu 5:45 - +0545: no rule, no change.
        pytest.param("Asia/Kathmandu", "2026-03-29", "02:30", "2026-03-28T20:45", id="np plain"),
    ],
)
def test_wall_clock_times_become_instants(zone: str, day: str, at: str, expected: str) -> None:
    """A time left out moves on by the gap; of a time that comes twice the first is meant."""
    found = instant(date.fromisoformat(day), clock(at), ZoneInfo(zone))
    late = instant(date.fromisoformat(day), clock(at).replace(fold=1), ZoneInfo(zone))

    assert found == late == utc(expected)
    assert found.tzinfo is UTC


@pytest.mark.parametrize(
    ("day", "elapsed_hours", "after_24_hours"),
    [
        # ISO 8601: P1D keeps the wall clock, PT24H the elapsed time. Rules US Mar and Nov as above.
        pytest.param("2026-03-07", 23, "08:30", id="forward: P1D is 23 h, PT24H is 08:30"),
        pytest.param("2026-10-31", 25, "06:30", id="back: P1D is 25 h, PT24H is 06:30"),
        pytest.param("2026-06-01", 24, "07:30", id="no change: both the same"),
    ],
)
def test_a_day_later_is_a_calendar_day(day: str, elapsed_hours: int, after_24_hours: str) -> None:
    """The next-day question keeps the wall clock; 24 elapsed hours would be another time."""
    zone, on = ZoneInfo("America/New_York"), date.fromisoformat(day)
    schedule = Schedule("America/New_York", time(8), time(19), weekly_on=2)

    ended_at = instant(on, time(7, 30), zone)
    one_day = instant(on + DAY, time(7, 30), zone)
    prompts = prompts_for_day(on + DAY, schedule, (SessionEnd(on, time(12)),))

    assert one_day - ended_at == elapsed_hours * HOUR
    assert (ended_at + 24 * HOUR).astimezone(zone).time() == clock(after_24_hours)
    follow_up = next(p for p in prompts if Question.NEXT_DAY_PAIN in p.asks)
    assert follow_up.due_at == instant(on, time(12), zone) + elapsed_hours * HOUR


MORNING = ("morning", "08:00", "first-step-pain stiffness")
MORNING_48 = ("morning", "08:00", "first-step-pain stiffness two-day-pain")
MORNING_24 = ("morning", "08:00", "first-step-pain stiffness next-day-pain")


@pytest.mark.parametrize(
    ("days_ago", "offered", "day", "expected"),
    [
        pytest.param([], False, TUESDAY, [MORNING], id="no session about: morning only"),
        pytest.param(
            [],
            True,
            THURSDAY,
            [MORNING, ("evening", "19:00", "session-report")],
            id="session offered: evening report",
        ),
        pytest.param([(0, "11:00")], True, THURSDAY, [MORNING], id="already reported: no evening"),
        pytest.param([(2, "18:00")], False, TUESDAY, [MORNING_48], id="two days after: morning"),
        pytest.param([(3, "18:00")], False, TUESDAY, [MORNING], id="three days after: nothing"),
        pytest.param([], False, SUNDAY, [MORNING], id="weekly day, a rest day: no maximal test"),
        pytest.param(
            [], True, SUNDAY, [MORNING, ("evening", "19:00", "session-report heel-raises")],
            id="weekly day with a session: one evening prompt",
        ),
        pytest.param(
            [(0, "11:00")],
            False,
            SUNDAY,
            [MORNING, ("evening", "19:00", "heel-raises")],
            id="weekly day, the session reported before: heel raises alone",
        ),
        pytest.param(
            [],
            True,
            SUNDAY + 2 * DAY,
            [MORNING, ("evening", "19:00", "session-report heel-raises")],
            id="two days after a weekly day of rest: they come with the session",
        ),
        pytest.param(
            [(2, "18:00")],
            True,
            SUNDAY + 2 * DAY,
            [MORNING_48, ("evening", "19:00", "session-report")],
            id="two days after a weekly day with a session: not again",
        ),
        pytest.param(
            [],
            True,
            SUNDAY + 3 * DAY,
            [MORNING, ("evening", "19:00", "session-report")],
            id="three days after: not this week",
        ),
        # Next-day pain, no evening prompt that day.
        pytest.param([(1, "10:00")], False, TUESDAY, [MORNING_24], id="at 2 h: morning"),
        pytest.param(
            [(1, "10:01")], False, TUESDAY, [MORNING, ("follow-up", "10:01", "next-day-pain")],
            id="over 2 h: of its own",
        ),
        pytest.param(
            [(1, "21:29")], False, TUESDAY, [MORNING, ("follow-up", "21:29", "next-day-pain")],
            id="just before quiet hours: of its own",
        ),
        pytest.param(
            [(1, "21:30")], False, TUESDAY, [MORNING, ("follow-up", "19:00", "next-day-pain")],
            id="quiet hours: back to the evening time",
        ),
        pytest.param(
            [(1, None)], False, TUESDAY, [MORNING, ("follow-up", "19:00", "next-day-pain")],
            id="end not known: the evening time",
        ),
        # Next-day pain on a day with an evening prompt: a prompt of its own would be the third.
        pytest.param(
            [(1, "10:01")], True, TUESDAY,
            [MORNING, ("evening", "19:00", "session-report next-day-pain")],
            id="third prompt: rides with the evening",
        ),
        # A daily programme: both follow-ups on one day.
        pytest.param(
            [(1, "08:30"), (2, "08:30")], True, TUESDAY,
            [MORNING_48, ("evening", "19:00", "session-report next-day-pain")],
            id="morning full, session offered: with the evening",
        ),
    ],
)  # fmt: skip
def test_a_day_has_these_prompts(
    days_ago: list[tuple[int, str | None]],
    offered: bool,
    day: date,
    expected: list[tuple[str, str, str]],
) -> None:
    """Which prompts a day has, when, and what each asks (08:00, 19:00, quiet 21:30 to 07:00)."""
    sessions = tuple(
        SessionEnd(day - days * DAY, clock(at) if at else None) for days, at in days_ago
    )

    prompts = prompts_for_day(day, PLAIN, sessions, session_offered=offered)

    assert seen(prompts) == expected


@pytest.mark.parametrize("offered", [True, False])
def test_no_maximal_test_under_a_stop(offered: bool) -> None:
    """Whatever was offered or done that day."""
    sessions = () if offered else (SessionEnd(SUNDAY, time(11)),)

    prompts = prompts_for_day(SUNDAY, PLAIN, sessions, session_offered=offered, stopped=True)

    assert not any(Question.HEEL_RAISES in prompt.asks for prompt in prompts)


YESTERDAY_EVENING, YESTERDAY_EARLY = (
    (SessionEnd(TUESDAY - DAY, time(18)),),
    (SessionEnd(TUESDAY - DAY, time(8, 30)),),
)


@pytest.mark.parametrize(
    ("sessions", "follow_up", "answered", "expected"),
    [
        pytest.param(
            YESTERDAY_EVENING, False, True, [MORNING], id="the morning stands for the answer"
        ),
        pytest.param(
            YESTERDAY_EVENING,
            False,
            False,
            [MORNING, ("follow-up", "18:00", "next-day-pain")],
            id="the morning was missed",
        ),
        pytest.param(
            YESTERDAY_EVENING,
            True,
            True,
            [MORNING, ("follow-up", "18:00", "next-day-pain")],
            id="it can decide something",
        ),
        pytest.param(
            YESTERDAY_EARLY,
            False,
            False,
            [MORNING, ("follow-up", "19:00", "next-day-pain")],
            id="near the morning: not with it, before it is known to be missed",
        ),
        pytest.param(YESTERDAY_EARLY, False, True, [MORNING], id="near an answered morning"),
        pytest.param(YESTERDAY_EARLY, True, True, [MORNING_24], id="near the morning, decides"),
    ],
)
def test_the_day_after_is_asked_about_where_it_can_decide_something(
    sessions: tuple[SessionEnd, ...],
    follow_up: bool,
    answered: bool,
    expected: list[tuple[str, str, str]],
) -> None:
    """Elsewhere a rest day is one exchange."""
    prompts = prompts_for_day(
        TUESDAY, PLAIN, sessions, follow_up=follow_up, morning_answered=answered
    )

    assert seen(prompts) == expected


@pytest.mark.parametrize(
    ("days_since", "morning"),
    [
        pytest.param(0, None, id="the day of enrolment"),
        pytest.param(1, 0, id="the morning after: the value to start from"),
        pytest.param(6, 5, id="the last of six"),
        pytest.param(7, None, id="over"),
        pytest.param(28, None, id="four weeks: not yet"),
        pytest.param(29, 0, id="four weeks after the first"),
    ],
)
def test_visa_a_is_asked_on_six_mornings_of_every_four_weeks(
    days_since: int, morning: int | None
) -> None:
    """Beside the morning's other questions, never in a prompt of its own."""
    enrolled_on = SUNDAY - days_since * DAY
    prompts = prompts_for_day(SUNDAY, PLAIN, enrolled_on=enrolled_on)

    assert sheet_morning(enrolled_on, SUNDAY) == morning
    assert [prompt.kind for prompt in prompts] == [PromptKind.MORNING]
    assert (Question.VISA_A in prompts[0].asks) is (morning is not None)


@pytest.mark.parametrize(
    ("morning", "answered", "items"),
    [
        pytest.param(0, (), (1, 2), id="the first two"),
        pytest.param(2, (1, 2, 3, 4), (5, 6), id="two a morning"),
        pytest.param(2, (1, 3, 4), (2, 5), id="what was left out first"),
        pytest.param(3, (1,), (2, 3), id="two at most"),
        pytest.param(2, (), (1, 2), id="not begun, the third morning"),
        pytest.param(3, (), (), id="not begun, the fourth: let be"),
        pytest.param(4, (1, 2, 3, 4, 5, 6, 7), (8,), id="what is left"),
        pytest.param(4, (1, 2, 3, 4, 5, 6, 7, 8), (), id="all there"),
    ],
)
def test_two_items_a_morning(
    morning: int, answered: tuple[int, ...], items: tuple[int, ...]
) -> None:
    """Eight items in four mornings, and two more for what was left out."""
    assert sheet_items(morning, answered) == items


@pytest.mark.parametrize(
    ("offered", "index", "expires"),
    [
        pytest.param(False, 0, "2026-03-03T14:00", id="morning: six hours"),
        pytest.param(True, 1, "2026-03-03T21:30", id="evening: the start of quiet hours"),
    ],
)
def test_a_prompt_expires(offered: bool, index: int, expires: str) -> None:
    """A good morning is not said late in the day, and nothing is sent in quiet hours."""
    prompt = prompts_for_day(TUESDAY, PLAIN, session_offered=offered)[index]

    assert prompt.expires_at == utc(expires)


@pytest.mark.parametrize(
    ("quiet_from", "expires"),
    [
        pytest.param("02:00", "2026-03-04T00:00", id="quiet hours after midnight: by midnight"),
        pytest.param("23:00", "2026-03-03T23:00", id="quiet hours before midnight"),
    ],
)
def test_a_follow_up_stays_within_its_day(quiet_from: str, expires: str) -> None:
    """A follow-up of the day is not sent on the next one."""
    schedule = Schedule("UTC", time(8), time(19), quiet_from=clock(quiet_from))

    prompt = prompts_for_day(TUESDAY, schedule, (SessionEnd(TUESDAY - DAY, time(15)),))[-1]

    assert prompt.expires_at == utc(expires)


@pytest.mark.parametrize(
    ("evening", "expected"),
    [
        pytest.param("19:29", "2026-03-03T21:29", id="ends just before quiet hours"),
        pytest.param("19:30", None, id="would be at the start of quiet hours: dropped"),
    ],
)
def test_a_reminder_comes_once_two_hours_later(evening: str, expected: str | None) -> None:
    """A reminder asks the same again two hours later, never in quiet hours, and has none itself."""
    schedule = Schedule("UTC", time(8), clock(evening))
    prompt = prompts_for_day(TUESDAY, schedule, session_offered=True)[-1]

    found = reminder(prompt)

    assert (found.due_at if found else None) == (utc(expected) if expected else None)
    if found:
        assert (found.kind, found.on, found.asks) == (
            PromptKind.EVENING_REMINDER,
            prompt.on,
            prompt.asks,
        )
        assert reminder(found) is None


@pytest.mark.parametrize(
    ("now", "already", "expected"),
    [
        pytest.param("14:00", [], ["evening"], id="morning expired"),
        pytest.param("07:00", [PromptKind.MORNING], ["evening"], id="morning sent already"),
        pytest.param("21:30", [], [], id="all expired"),
    ],
)
def test_a_restart_plans_what_still_matters(
    now: str, already: list[PromptKind], expected: list[str]
) -> None:
    """What is expired or was sent is not planned again."""
    prompts = prompts_for_day(TUESDAY, PLAIN, session_offered=True)

    left = still_to_plan(
        prompts, frozenset((kind, TUESDAY) for kind in already), utc(f"2026-03-03T{now}")
    )

    assert [prompt.kind.value for prompt in left] == expected


@pytest.mark.parametrize(
    ("before", "left", "after", "arrived", "expected"),
    [
        # Offsets in early March, tz database: New York -5, Berlin +1, Auckland +13, Honolulu -10.
        pytest.param(
            "America/New_York", "2026-03-03T16:00", "Europe/Berlin", "2026-03-03T23:30",
            ["2026-03-04T07:00", "2026-03-05T07:00"], id="east: next morning at 08:00 there",
        ),
        # Berlin's morning of the 3rd was asked at 07:00Z; New York's would be due 13:00Z to 19:00Z.
        pytest.param(
            "Europe/Berlin", "2026-03-03T08:00", "America/New_York", "2026-03-03T17:00",
            ["2026-03-04T13:00", "2026-03-05T13:00"], id="west: no second morning on the same date",
        ),
        # Auckland's morning of the 3rd was asked at 2026-03-02T19:00Z. It is the 2nd in Honolulu.
        pytest.param(
            "Pacific/Auckland", "2026-03-02T22:00", "Pacific/Honolulu", "2026-03-03T06:00",
            ["2026-03-04T18:00"], id="west over the date line: a date lived twice is asked once",
        ),
        # Honolulu's morning of the 2nd was asked; it is 09:00 on the 4th in Auckland.
        pytest.param(
            "Pacific/Honolulu", "2026-03-02T20:00", "Pacific/Auckland", "2026-03-03T20:00",
            ["2026-03-03T19:00", "2026-03-04T19:00", "2026-03-05T19:00"],
            id="east over the date line: asked late, not skipped",
        ),
    ],
)  # fmt: skip
def test_after_a_move_the_wall_clock_holds(
    before: str, left: str, after: str, arrived: str, expected: list[str]
) -> None:
    """The same wall-clock time in the new zone, and never two mornings on one local date."""
    old = Schedule(before, time(8), time(19), weekly_on=6)
    new = Schedule(after, time(8), time(19), weekly_on=6)
    asked = frozenset(
        (prompt.kind, prompt.on)
        for days in range(-3, 1)
        for prompt in prompts_for_day(local_date(utc(left), old.zone_info) + days * DAY, old)
        if prompt.due_at <= utc(left)
    )

    planned = [
        prompt.due_at
        for days in range(3)
        for prompt in still_to_plan(
            prompts_for_day(local_date(utc(arrived), new.zone_info) + days * DAY, new),
            asked,
            utc(arrived),
        )
    ]

    assert planned[: len(expected)] == [utc(text) for text in expected]


def test_a_date_the_zone_never_had_has_no_prompts() -> None:
    """Samoa left 30 December 2011 out (tz database, australasia, Zone Pacific/Apia)."""
    schedule = Schedule("Pacific/Apia", time(8), time(19))

    counts = [len(prompts_for_day(date(2011, 12, on), schedule)) for on in (29, 30, 31)]

    assert counts == [1, 0, 1]


@pytest.mark.parametrize(
    ("schedule", "day", "expected"),
    [
        # europe, Rule EU 1:00u with Zone America/Nuuk -2:00: 23:00 on 28 March becomes midnight.
        pytest.param(
            Schedule("America/Nuuk", time(8), time(23, 10), quiet_from=time(0)), date(2026, 3, 28),
            ["2026-03-28T10:00", "2026-03-29T00:10"],
            id="23:10 would be 00:10, next day and quiet: at 22:10",
        ),
        pytest.param(
            Schedule("America/Nuuk", time(8), time(23, 10), quiet_from=time(0, 30)),
            date(2026, 3, 28), ["2026-03-28T10:00", "2026-03-29T00:10"],
            id="23:10 would be 00:10, next day though not quiet: at 22:10",
        ),
        # northamerica, Rule US Mar Sun>=8 2:00.
        pytest.param(
            Schedule("America/New_York", time(2, 50), time(12), time(3, 15), time(9)),
            date(2026, 3, 8), ["2026-03-08T06:50", "2026-03-08T16:00"],
            id="02:50 would be 03:50, quiet though the same day: at 01:50",
        ),
    ],
)  # fmt: skip
def test_a_time_pushed_out_of_the_waking_day_moves_back_instead(
    schedule: Schedule, day: date, expected: list[str]
) -> None:
    """Moved on it would be in quiet hours or on the next date: it moves back by as much."""
    prompts = prompts_for_day(day, schedule, session_offered=True)

    assert [prompt.due_at for prompt in prompts] == [utc(text) for text in expected]
    assert all(prompt.due_at.tzinfo is UTC for prompt in prompts)


def test_of_a_time_that_comes_twice_the_first_is_asked() -> None:
    """Also where it would be quiet by another clock than the patient's: 01:30 is 05:30 in UTC."""
    # northamerica, Rule US 2007 max Nov Sun>=1 2:00 0. The first 01:30 is EDT (UTC-4).
    schedule = Schedule("America/New_York", time(1, 30), time(12), time(4), time(6))

    prompt = prompts_for_day(date(2026, 11, 1), schedule)[0]

    assert prompt.due_at == utc("2026-11-01T05:30")


@pytest.mark.parametrize(
    "settings",
    [
        pytest.param({"morning_time": time(7)}, id="morning at the end of quiet hours"),
        pytest.param({"evening_time": time(21, 29)}, id="evening just before quiet hours"),
        pytest.param({"evening_time": time(12)}, id="evening four hours later"),
        pytest.param(
            {"morning_time": time(3), "quiet_from": time(0), "quiet_until": time(0)},
            id="no quiet hours",
        ),
    ],
)
def test_a_schedule_at_its_limits_is_kept(settings: dict[str, object]) -> None:
    """What just fits is accepted, and asks in the morning at the time chosen."""
    plain: dict[str, object] = {"zone": "UTC", "morning_time": time(8), "evening_time": time(19)}

    schedule = Schedule(**{**plain, **settings})  # type: ignore[arg-type]  # a table of all types

    prompt = prompts_for_day(TUESDAY, schedule)[0]
    assert prompt.due_at.time() == schedule.morning_time


BY_NIGHT = Schedule("UTC", time(8), time(19))
BY_DAY = Schedule("UTC", time(15, 30), time(23), time(7, 30), time(15))


@pytest.mark.parametrize(
    ("schedule", "at", "quiet"),
    [
        pytest.param(BY_NIGHT, "21:29", False, id="night: just before the start"),
        pytest.param(BY_NIGHT, "21:30", True, id="night: at the start"),
        pytest.param(BY_NIGHT, "06:59", True, id="night: just before the end"),
        pytest.param(BY_NIGHT, "07:00", False, id="night: at the end"),
        pytest.param(BY_DAY, "07:30", True, id="day: at the start"),
        pytest.param(BY_DAY, "15:00", False, id="day: at the end"),
    ],
)
def test_quiet_hours_have_their_start_and_not_their_end(
    schedule: Schedule, at: str, quiet: bool
) -> None:
    """Over midnight or by day, the start is quiet and the end is not."""
    assert schedule.quiet_at(clock(at)) is quiet


@pytest.mark.parametrize(
    ("settings", "message"),
    [
        pytest.param(
            {"zone": "Mars/Base"},
            "expected the name of a time zone, such as Europe/Berlin; found 'Mars/Base'", id="zone",
        ),
        pytest.param(
            {"morning_time": time(8, tzinfo=UTC)},
            "times of a schedule are wall-clock times and carry no zone", id="a time with a zone",
        ),
        pytest.param({"weekly_on": 7}, "weekday: expected 0 (Monday) to 6; found 7", id="weekday"),
        pytest.param(
            {"evening_time": time(11, 59)},
            "expected the evening time at least four hours after the morning time; found 08:00"
            " and 11:59",
            id="evening too early",
        ),
        pytest.param(
            {"evening_time": time(21, 30)},
            "expected a time outside quiet hours, 21:30 to 07:00; found 21:30", id="in quiet hours",
        ),
    ],
)  # fmt: skip
def test_a_refused_schedule_says_what_was_expected(
    settings: dict[str, object], message: str
) -> None:
    """The whole sentence, as whoever runs the clinic reads it."""
    plain: dict[str, object] = {"zone": "UTC", "morning_time": time(8), "evening_time": time(19)}

    with pytest.raises(ScheduleError) as refused:
        Schedule(**{**plain, **settings})  # type: ignore[arg-type]  # wrong on purpose

    assert str(refused.value) == message


def test_a_prompt_ends_with_the_day_of_the_patients_zone() -> None:
    """At 10:30 in Auckland it is the day before in UTC; the prompt lasts to midnight there."""
    schedule = Schedule("Pacific/Auckland", time(8), time(19), time(0), time(0))

    prompt = prompts_for_day(TUESDAY, schedule, (SessionEnd(TUESDAY - DAY, time(10, 30)),))[-1]

    assert (prompt.kind, prompt.due_at) == (PromptKind.FOLLOW_UP, utc("2026-03-02T21:30"))
    assert prompt.expires_at == utc("2026-03-03T11:00")


def test_a_prompt_ends_with_the_quiet_hours_of_the_patients_zone() -> None:
    """Quiet hours begin at 21:30 in Auckland, which is 08:30 in UTC."""
    schedule = Schedule("Pacific/Auckland", time(8), time(19))

    prompt = prompts_for_day(TUESDAY, schedule, session_offered=True)[-1]

    assert (prompt.kind, prompt.expires_at) == (PromptKind.EVENING, utc("2026-03-03T08:30"))


ZONES = [
    "UTC",
    "Europe/Berlin",
    "Europe/Dublin",
    "America/New_York",
    "America/Nuuk",
    "America/Santiago",
    "America/Havana",
    "Africa/Cairo",
    "Africa/Casablanca",
    "Asia/Beirut",
    "Asia/Kathmandu",
    "Antarctica/Troll",
    "Australia/Lord_Howe",
    "Pacific/Apia",
    "Pacific/Chatham",
]
MINUTES_OF_DAY = st.integers(0, 24 * 60 - 1)


def at_minute(minutes: int) -> time:
    """The wall-clock time so many minutes after midnight, round the clock."""
    return time(minutes // 60 % 24, minutes % 60)


@st.composite
def schedules(draw: st.DrawFn) -> Schedule:
    """Any schedule whose quiet hours start in the evening, or by day for who works at night."""
    quiet_from = draw(st.integers(20 * 60, 25 * 60) | st.integers(7 * 60, 8 * 60))
    quiet_until = quiet_from + draw(st.integers(5 * 60, 9 * 60))
    awake = range(0, 24 * 60, 10)
    quiet = {minute % (24 * 60) for minute in range(quiet_from, quiet_until)}
    morning = draw(st.sampled_from([m for m in awake if m not in quiet and m < 18 * 60]))
    evenings = [m for m in awake if m not in quiet and m >= morning + 240]
    morning = morning if evenings else 9 * 60
    evening = draw(st.sampled_from(evenings or [19 * 60]))
    return Schedule(
        draw(st.sampled_from(ZONES)),
        at_minute(morning),
        at_minute(evening),
        at_minute(quiet_from),
        at_minute(quiet_until),
        draw(st.integers(0, 6)),
    )


CHANGES = [
    date(2026, 3, 8),
    date(2026, 3, 28),
    date(2026, 3, 29),
    date(2026, 4, 5),
    date(2026, 9, 6),
    date(2026, 10, 4),
    date(2026, 10, 25),
    date(2026, 11, 1),
    date(2011, 12, 30),
]
DAYS = st.sampled_from(CHANGES) | st.dates(date(2011, 1, 1), date(2036, 12, 31))
ENDS = st.none() | MINUTES_OF_DAY.map(at_minute)


@given(schedules(), DAYS, st.lists(ENDS, min_size=3, max_size=3), st.booleans(), st.booleans())
def test_no_day_asks_too_much_or_at_night(
    schedule: Schedule, day: date, ends: list[time | None], offered: bool, daily: bool
) -> None:
    """Any zone, day and schedule: two prompts at most, none in quiet hours, each before its end."""
    days_ago = (0, 1, 2) if daily else (0, 2)
    sessions = tuple(SessionEnd(day - days * DAY, ends[days]) for days in days_ago)

    prompts = prompts_for_day(
        day, schedule, sessions, session_offered=offered, enrolled_on=day - 29 * DAY
    )

    assert len(prompts) <= 2
    assert len({prompt.kind for prompt in prompts}) == len(prompts)
    asked = [question for prompt in prompts for question in prompt.asks]
    assert len(set(asked)) == len(asked)
    if prompts:
        assert (Question.NEXT_DAY_PAIN in asked) is daily
        assert Question.TWO_DAY_PAIN in prompts[0].asks or prompts[0].kind != PromptKind.MORNING
    for prompt in [*prompts, *filter(None, map(reminder, prompts))]:
        there = prompt.due_at.astimezone(schedule.zone_info)
        assert there.date() == prompt.on == day
        assert not schedule.quiet_at(there.time())
        assert prompt.due_at < prompt.expires_at
        last_second = (prompt.expires_at - MINUTE / 60).astimezone(schedule.zone_info)
        assert last_second.date() == day
        assert not schedule.quiet_at(last_second.time())


@given(schedules(), DAYS)
def test_every_date_has_one_morning(schedule: Schedule, day: date) -> None:
    """Four days in a row have one morning each, in order, but for a date that does not exist."""
    mornings = [
        prompt
        for days in range(4)
        for prompt in prompts_for_day(day + days * DAY, schedule)
        if prompt.kind is PromptKind.MORNING
    ]

    missing = {date(2011, 12, 30)} if schedule.zone == "Pacific/Apia" else set()
    assert [prompt.on for prompt in mornings] == [
        day + days * DAY for days in range(4) if day + days * DAY not in missing
    ]
    assert sorted(mornings, key=lambda prompt: prompt.due_at) == mornings
