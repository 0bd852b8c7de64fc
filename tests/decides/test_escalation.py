"""Who is told next of a warning sign, and that nothing but an acknowledgement ends it.

Expected instants are counted by hand from the intervals of `rules.escalation` (conventions).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.errors import ScheduleError
from rules.escalation import (
    Done,
    EscalationView,
    NextStep,
    Notice,
    Notify,
    OnCall,
    Pace,
    TellEveryone,
    Wait,
    answer_within,
    next_step,
    raise_one_tier,
)
from rules.history import Tier
from rules.working_hours import WorkingHours, after_working_time, next_working_instant

HOURS = WorkingHours("Europe/Berlin")
PACE = Pace(HOURS)
ADA = OnCall("ada", ("chat", "sms"))
BO = OnCall("bo", ("sms",))
ROTA = (ADA, BO)
MINUTE = timedelta(minutes=1)
SECOND = timedelta(seconds=1)


def utc(text: str) -> datetime:
    """An instant in UTC from ISO 8601 text."""
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


RAISED = utc("2026-03-03T02:00")  # A Tuesday, 03:00 in Berlin (UTC+1).


def raised(tier: Tier, *notices: Notice, told: tuple[datetime, ...] = ()) -> EscalationView:
    """An escalation raised on Tuesday at 03:00 in Berlin."""
    return EscalationView(tier, RAISED, notices, told)


def step_done(view: EscalationView, step: NextStep, at: datetime) -> EscalationView:
    """The escalation after a step was carried out."""
    if isinstance(step, Notify):
        notice = Notice(step.clinician, step.channel, at)
        return replace(view, notices=(*view.notices, notice))
    assert isinstance(step, TellEveryone)
    return replace(view, told_everyone_at=(*view.told_everyone_at, at))


def test_an_emergency_goes_down_the_rota_and_round_again() -> None:
    """Each channel waits five minutes, then everyone is told, again after pauses that double, and
    at the next opening it starts from the first."""
    view, now = raised(Tier.EMERGENCY), RAISED
    log: list[tuple[int, NextStep]] = []

    while len(log) < 11:
        step = next_step(view, ROTA, now, PACE)
        if isinstance(step, Wait):
            now = step.until
            continue
        log.append(((now - RAISED) // MINUTE, step))
        view = step_done(view, step, now)

    assert log == [
        (0, Notify("ada", "chat", again=False, round=1)),
        (5, Notify("ada", "sms", again=True, round=1)),
        (10, Notify("bo", "sms", again=False, round=1)),
        (15, TellEveryone(round=1)),
        (75, TellEveryone(round=2)),
        (195, TellEveryone(round=3)),
        (300, Notify("ada", "chat", again=True, round=4)),
        (305, Notify("ada", "sms", again=True, round=4)),
        (310, Notify("bo", "sms", again=True, round=4)),
        (315, TellEveryone(round=4)),
        (375, TellEveryone(round=5)),
    ]


@pytest.mark.parametrize(
    ("tier", "minutes"),
    [
        pytest.param(Tier.EMERGENCY, 5, id="emergency waits 5 minutes"),
        pytest.param(Tier.SAME_DAY, 30, id="same day waits 30 minutes, by night too"),
        # Told at 08:00 in Berlin; four working hours later it is 12:00.
        pytest.param(Tier.NEXT_WORKING_DAY, 240, id="next working day waits 4 working hours"),
    ],
)
def test_a_notice_waits_its_interval(tier: Tier, minutes: int) -> None:
    """Just under the interval nothing happens; at it and over it the next channel is used."""
    told = utc("2026-03-03T07:00") if tier is Tier.NEXT_WORKING_DAY else RAISED
    view = raised(tier, Notice("ada", "chat", told))
    due_at = told + minutes * MINUTE

    under = next_step(view, ROTA, due_at - SECOND, PACE)
    at = next_step(view, ROTA, due_at, PACE)
    over = next_step(view, ROTA, due_at + SECOND, PACE)

    assert under == Wait(due_at)
    assert at == over == Notify("ada", "sms", again=True, round=1)


@pytest.mark.parametrize(
    ("raised_at", "first_at"),
    [
        pytest.param("2026-03-03T02:00", "2026-03-03T07:00", id="before hours: at opening"),
        pytest.param("2026-03-03T07:00", "2026-03-03T07:00", id="at opening: at once"),
        pytest.param("2026-03-03T16:59", "2026-03-03T16:59", id="a minute before closing"),
        pytest.param("2026-03-03T17:00", "2026-03-04T07:00", id="at closing: the next day"),
        pytest.param("2026-03-06T18:00", "2026-03-09T07:00", id="Friday evening: Monday"),
        # Clocks go forward on Sunday 2026-03-29: Monday's 08:00 is 06:00 UTC (EU rule of tzdata).
        pytest.param("2026-03-27T20:00", "2026-03-30T06:00", id="over a change of clocks"),
    ],
)
def test_a_next_working_day_sign_is_told_in_working_hours(raised_at: str, first_at: str) -> None:
    """The first notice of the mildest tier is due at the next working instant."""
    view = EscalationView(Tier.NEXT_WORKING_DAY, utc(raised_at))

    step = next_step(view, ROTA, utc(first_at), PACE)
    before = next_step(view, ROTA, utc(raised_at), PACE)

    assert step == Notify("ada", "chat", again=False, round=1)
    assert before == (step if raised_at == first_at else Wait(utc(first_at)))


def test_an_overdue_working_day_notice_does_not_wake_anyone() -> None:
    """Overdue since the afternoon and looked at by night, it waits for the opening."""
    view = raised(Tier.NEXT_WORKING_DAY, Notice("ada", "chat", utc("2026-03-03T08:00")))

    by_night = next_step(view, ROTA, utc("2026-03-03T22:00"), PACE)

    assert by_night == Wait(utc("2026-03-04T07:00"))


@pytest.mark.parametrize(
    ("start", "hours", "end"),
    [
        pytest.param("2026-03-03T15:00", 4, "2026-03-04T09:00", id="over the night: 2 h and 2 h"),
        pytest.param("2026-03-06T16:00", 4, "2026-03-09T10:00", id="over the weekend: 1 h and 3 h"),
        pytest.param("2026-03-03T13:00", 4, "2026-03-04T07:00", id="ends at closing: next opening"),
        pytest.param("2026-03-03T07:00", 24, "2026-03-05T11:00", id="longer than two days"),
    ],
)
def test_working_time_is_added(start: str, hours: int, end: str) -> None:
    """Four hours of working time leave nights and weekends out."""
    assert after_working_time(utc(start), timedelta(hours=hours), HOURS) == utc(end)


def test_a_day_off_is_not_worked() -> None:
    """A public holiday named in the settings is left out like a Sunday."""
    hours = WorkingHours("Europe/Berlin", days_off=frozenset({date(2026, 3, 4)}))

    assert next_working_instant(utc("2026-03-03T17:00"), hours) == utc("2026-03-05T07:00")


def test_the_day_worked_is_the_one_in_the_clinics_zone() -> None:
    """At 16:00 on a Tuesday in Honolulu it is Wednesday in UTC, and the clinic is open."""
    afternoon = utc("2026-03-04T02:00")

    assert next_working_instant(afternoon, WorkingHours("Pacific/Honolulu")) == afternoon


def test_a_clinic_may_work_every_day() -> None:
    """All seven weekdays are accepted, and a Sunday is then worked."""
    hours = WorkingHours("Europe/Berlin", weekdays=frozenset(range(7)))

    assert next_working_instant(utc("2026-03-08T06:00"), hours) == utc("2026-03-08T07:00")


@pytest.mark.parametrize(
    "settings",
    [
        pytest.param({"zone": "Mars/Base"}, id="no such zone"),
        pytest.param({"zone": "UTC", "weekdays": frozenset()}, id="no weekday"),
        pytest.param({"zone": "UTC", "opens": time(9), "closes": time(9)}, id="no length"),
    ],
)
def test_impossible_working_hours_are_refused(settings: dict[str, object]) -> None:
    """Hours in which nobody would ever be told cannot be made."""
    with pytest.raises(ScheduleError, match="expected"):
        WorkingHours(**settings)  # type: ignore[arg-type]  # wrong on purpose


@pytest.mark.parametrize(
    "interval", ["emergency_interval", "next_working_day_interval", "first_pause", "same_day_held"]
)
def test_an_interval_of_nothing_is_refused(interval: str) -> None:
    """A pace without pause would send without end; a second is a pause."""
    with pytest.raises(ScheduleError, match=f"^{interval}: expected a time over 0; found 0:00:00$"):
        Pace(HOURS, **{interval: timedelta(0)})

    assert getattr(Pace(HOURS, **{interval: SECOND}), interval) == SECOND
    with pytest.raises(ScheduleError, match=r"^longest_pause: expected no less"):
        Pace(HOURS, longest_pause=SECOND)


def test_a_notice_that_failed_for_good_is_not_waited_for() -> None:
    """The next channel follows at once, also where both rows carry the same instant."""
    failed = raised(Tier.EMERGENCY, Notice("ada", "chat", RAISED, failed=True))
    then_sent = replace(failed, notices=(*failed.notices, Notice("ada", "sms", RAISED)))

    assert next_step(failed, ROTA, RAISED, PACE) == Notify("ada", "sms", again=True, round=1)
    assert next_step(then_sent, ROTA, RAISED, PACE) == Wait(RAISED + 5 * MINUTE)


def test_a_round_that_failed_everywhere_is_told_once_and_then_waits() -> None:
    """Where no channel works everyone is told at once, and then again after a pause."""
    places = [("ada", "chat"), ("ada", "sms"), ("bo", "sms")]
    failed = raised(Tier.EMERGENCY, *(Notice(*place, RAISED, failed=True) for place in places))

    step = next_step(failed, ROTA, RAISED, PACE)
    after = step_done(failed, step, RAISED)

    assert step == TellEveryone(round=1)
    assert next_step(after, ROTA, RAISED, PACE) == Wait(RAISED + 60 * MINUTE)


@pytest.mark.parametrize(
    ("rota", "expected"),
    [
        pytest.param(
            (replace(ADA, on_duty=False), BO), Notify("bo", "sms", again=False, round=1),
            id="off duty is passed over",
        ),
        pytest.param(
            (replace(ADA, on_duty=False), replace(BO, on_duty=False)),
            Notify("ada", "chat", again=False, round=1), id="nobody on duty: all are tried",
        ),
        pytest.param(
            (OnCall("cy", ()), BO), Notify("bo", "sms", again=False, round=1),
            id="a clinician without a channel is passed over",
        ),
        pytest.param((), TellEveryone(round=1), id="an empty rota is said to everyone"),
    ],
)  # fmt: skip
def test_the_rota_as_it_is_now_decides(rota: tuple[OnCall, ...], expected: NextStep) -> None:
    """Who is on duty, and who can be reached, is looked at afresh each time."""
    assert next_step(raised(Tier.EMERGENCY), rota, RAISED, PACE) == expected


def test_a_clinician_who_joins_the_rota_is_told_too() -> None:
    """The first unused channel in the order of the rota is next, whoever came in between."""
    view = raised(Tier.SAME_DAY, Notice("bo", "sms", RAISED))

    step = next_step(view, (BO, OnCall("cy", ("chat",))), RAISED + timedelta(hours=1), PACE)

    assert step == Notify("cy", "chat", again=False, round=1)


def test_closing_without_acknowledgement_ends_nothing() -> None:
    """Only the acknowledgement of a clinician ends an escalation."""
    closed = replace(raised(Tier.EMERGENCY), closed_at=RAISED)

    assert isinstance(next_step(closed, ROTA, RAISED, PACE), Notify)
    assert next_step(replace(closed, acknowledged_at=RAISED), ROTA, RAISED, PACE) == Done()


@pytest.mark.parametrize(
    ("tier", "higher", "minutes"),
    [
        pytest.param(Tier.SAME_DAY, Tier.EMERGENCY, 60, id="same day"),
        pytest.param(Tier.NEXT_WORKING_DAY, Tier.SAME_DAY, 720, id="next working day"),
    ],
)
def test_an_unanswered_question_rises_one_tier(tier: Tier, higher: Tier, minutes: int) -> None:
    """A closed question waits its tier's time and then counts one tier higher (convention)."""
    assert raise_one_tier(tier) is higher
    assert answer_within(tier) == minutes * MINUTE


@st.composite
def histories(draw: st.DrawFn) -> tuple[EscalationView, tuple[OnCall, ...], datetime]:
    """Any unacknowledged history, rota and present moment, sensible or not."""
    moments = st.integers(0, 60 * 24 * 21).map(lambda minutes: RAISED + minutes * MINUTE)
    channels = st.sampled_from(["chat", "sms", "mail"])
    notice = st.builds(Notice, st.sampled_from(["ada", "bo"]), channels, moments, st.booleans())
    on_call = st.builds(
        OnCall,
        st.sampled_from(["ada", "bo"]),
        st.lists(channels, max_size=2, unique=True).map(tuple),
        st.booleans(),
    )
    view = EscalationView(
        draw(st.sampled_from(Tier)),
        RAISED,
        tuple(draw(st.lists(notice, max_size=6))),
        tuple(draw(st.lists(moments, max_size=2))),
        closed_at=draw(st.none() | moments),
    )
    return view, tuple(draw(st.lists(on_call, max_size=3))), draw(moments)


@given(histories())
def test_without_acknowledgement_there_is_always_a_next_instant(
    case: tuple[EscalationView, tuple[OnCall, ...], datetime],
) -> None:
    """Never done; and whoever waits until the instant named has something to do then."""
    view, rota, now = case

    step = next_step(view, rota, now, PACE)

    assert not isinstance(step, Done)
    if isinstance(step, Wait):
        assert step.until > now
        assert isinstance(next_step(view, rota, step.until, PACE), Notify | TellEveryone)


@given(histories(), st.integers(0, 60 * 24 * 14))
def test_time_alone_never_changes_who_is_next(
    case: tuple[EscalationView, tuple[OnCall, ...], datetime], later: int
) -> None:
    """A later look gives the same step, or a wait for working hours, and no earlier instant."""
    view, rota, now = case

    step = next_step(view, rota, now, PACE)
    again = next_step(view, rota, now + later * MINUTE, PACE)

    if isinstance(step, Wait):
        assert not isinstance(again, Wait) or again.until >= step.until
    elif view.tier is Tier.NEXT_WORKING_DAY:
        assert again == step or isinstance(again, Wait)
    else:
        assert again == step or isinstance(step, TellEveryone)


@given(st.sampled_from(Tier), st.lists(st.booleans(), min_size=40, max_size=40))
def test_every_round_tries_every_channel_once(tier: Tier, fails: list[bool]) -> None:
    """Carried on for ever, each round uses each channel once and ends with everyone being told;
    an alarm tells everyone alone until the clinic opens."""
    view, now, places = raised(tier), RAISED, []

    for failed in fails:
        step = next_step(view, ROTA, now, PACE)
        if isinstance(step, Wait):
            now = step.until
            step = next_step(view, ROTA, now, PACE)
        view = step_done(view, step, now)
        if isinstance(step, Notify):
            last = replace(view.notices[-1], failed=failed)
            view = replace(view, notices=(*view.notices[:-1], last))
        places.append(step.channel if isinstance(step, Notify) else "everyone")

    rounds = "-".join(places).split("everyone")
    assert {one.strip("-") for one in rounds[:-1]} <= {"chat-sms-sms", ""}
    assert tier is not Tier.NEXT_WORKING_DAY or places == ["chat", "sms", "sms", "everyone"] * 10
