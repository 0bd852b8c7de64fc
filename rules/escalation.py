"""Decides who is told next of a warning sign, on which channel, and when. It never gives up.

    raised -> first clinician's channels, one by one -> the next clinician's -> ...
           -> everyone is told that nobody has acknowledged -> everyone again, after growing pauses
           -> at the clinic's next opening from the first again, without end

Only an acknowledgement ends it: `Done` comes of `acknowledged_at` and of nothing else. It sends
nothing, keeps nothing and asks for no time: every pass hands over what happened so far and `now`.
What raises an escalation: `screening` and `alerts`. When a next-working-day one may disturb a
person: `working_hours`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from rules.errors import ScheduleError
from rules.history import Tier
from rules.working_hours import (
    WorkingHours,
    after_working_time,
    next_opening,
    next_working_instant,
)

# Convention, all three: time for one channel to be answered before the next is tried.
EMERGENCY_INTERVAL = timedelta(minutes=5)  # Convention.
SAME_DAY_INTERVAL = timedelta(minutes=30)  # Convention; by day and by night.
NEXT_WORKING_DAY_INTERVAL = timedelta(hours=4)  # Convention; of the clinic's working time.

# Convention, both: once the whole rota was told in vain, the first pause, doubled each time up to
# the longest; the clinic's next opening ends it.
FIRST_PAUSE = timedelta(hours=1)
PAUSE_MAX = timedelta(hours=12)

# Convention, all three: how long somebody may have an escalation before they are reminded of it.
EMERGENCY_HELD = timedelta(hours=2)
SAME_DAY_HELD = timedelta(hours=6)
NEXT_WORKING_DAY_HELD = timedelta(hours=72)

# Convention, all three: how long a closed question to the patient waits for its answer.
ANSWER_WITHIN = {
    Tier.EMERGENCY: timedelta(minutes=5),  # Convention.
    Tier.SAME_DAY: timedelta(hours=1),  # Convention.
    Tier.NEXT_WORKING_DAY: timedelta(hours=12),  # Convention: a night's sleep is not silence.
}


@dataclass(frozen=True)
class Pace:
    """The clinic's settings: its working hours, how long a notice waits, and how long somebody may
    have an escalation before they are reminded of it, by tier.

    `next_working_day_interval` is working time, the others elapsed time. `first_pause`,
    `longest_pause`: once the whole rota was told in vain. Each over 0, and the longest pause no
    shorter than the first, else ScheduleError. Defaults: convention.
    """

    working_hours: WorkingHours
    emergency_interval: timedelta = EMERGENCY_INTERVAL
    same_day_interval: timedelta = SAME_DAY_INTERVAL
    next_working_day_interval: timedelta = NEXT_WORKING_DAY_INTERVAL
    first_pause: timedelta = FIRST_PAUSE
    longest_pause: timedelta = PAUSE_MAX
    emergency_held: timedelta = EMERGENCY_HELD
    same_day_held: timedelta = SAME_DAY_HELD
    next_working_day_held: timedelta = NEXT_WORKING_DAY_HELD

    def __post_init__(self) -> None:
        spans = {name: span for name, span in vars(self).items() if isinstance(span, timedelta)}
        for name, span in spans.items():
            if span <= timedelta(0):
                raise ScheduleError(f"{name}: expected a time over 0; found {span}")
        if self.longest_pause < self.first_pause:
            raise ScheduleError(
                f"longest_pause: expected no less than first_pause, {self.first_pause}; "
                f"found {self.longest_pause}"
            )

    def held_for(self, tier: Tier) -> timedelta:
        """How long somebody may have an escalation of this tier before they are reminded."""
        held = {Tier.EMERGENCY: self.emergency_held, Tier.SAME_DAY: self.same_day_held}
        return held.get(tier, self.next_working_day_held)


@dataclass(frozen=True)
class OnCall:
    """A clinician of the rota with their channels, in the order in which they are tried.

    `on_duty`: whether it is their turn at this moment, worked out by whoever asks.
    """

    clinician: str
    channels: tuple[str, ...]
    on_duty: bool = True


@dataclass(frozen=True)
class Notice:
    """A clinician was told, at an instant in UTC.

    `failed`: the channel said that it can never arrive; the next one is not kept waiting.
    """

    clinician: str
    channel: str
    at: datetime
    failed: bool = False


@dataclass(frozen=True)
class EscalationView:
    """What happened to an escalation so far. Instants in UTC; None: not yet.

    `told_everyone_at`: each time that everyone was told nobody has acknowledged. A round of the
    rota ends there. `closed_at` ends nothing while `acknowledged_at` is None. `reminded_at`: each
    time that whoever has it was reminded, since they have it.
    """

    tier: Tier
    raised_at: datetime
    notices: tuple[Notice, ...] = ()
    told_everyone_at: tuple[datetime, ...] = ()
    acknowledged_at: datetime | None = None
    closed_at: datetime | None = None
    reminded_at: tuple[datetime, ...] = ()


@dataclass(frozen=True)
class Notify:
    """Tell this clinician on this channel now. `again`: they were told before. `round` from 1."""

    clinician: str
    channel: str
    again: bool
    round: int


@dataclass(frozen=True)
class TellEveryone:
    """Everyone of the rota has been tried. Tell all, on duty or not, that nobody has acknowledged.

    Record the instant in `told_everyone_at`: the next round starts from it.
    """

    round: int


@dataclass(frozen=True)
class Wait:
    """Nothing to do until this instant [UTC, after `now`]."""

    until: datetime


@dataclass(frozen=True)
class Done:
    """A clinician has acknowledged."""


NextStep = Notify | TellEveryone | Wait | Done


def next_step(
    escalation: EscalationView, rota: tuple[OnCall, ...], now: datetime, pace: Pace
) -> NextStep:
    """What is to be done about an escalation at `now` [UTC].

    The first notice is due at once; the next one an interval after the last, or at once where that
    failed for good. Those of the next-working-day tier are only due in working hours: one that is
    overdue at closing time waits for the opening.
    Who: the first channel, in the order of the rota, that has not been used in this round; those on
    duty, or all where nobody is. None left (or an empty rota): tell everyone. So the step follows
    the rota as it is now, whoever came or left in between.
    After a whole round everyone is told at once, with pauses that double; the clinic's opening
    begins a round at full pace.
    """
    if escalation.acknowledged_at is not None:
        return Done()
    due_at = _due_at(escalation, now, pace)
    if now < due_at:
        return Wait(due_at)
    round_number = len(escalation.told_everyone_at) + 1
    slow = _is_slow(escalation) and now < _opens_again(escalation, pace)
    place = None if slow else _next_place(escalation, rota)
    if place is None:
        return TellEveryone(round_number)
    clinician, channel = place
    again = any(notice.clinician == clinician for notice in escalation.notices)
    return Notify(clinician, channel, again, round_number)


def remind_at(escalation: EscalationView, pace: Pace) -> datetime:
    """When whoever has it is reminded that it is not closed: the first time after
    `Pace.held_for`, and a second time as long after; then each time that the clinic opens. But for
    an emergency only in working time. Convention.
    """
    assert escalation.acknowledged_at is not None
    since = max((escalation.acknowledged_at, *escalation.reminded_at))
    if len(escalation.reminded_at) > 1:
        return next_opening(since, pace.working_hours)
    due_at = since + pace.held_for(escalation.tier)
    if escalation.tier is Tier.EMERGENCY:
        return due_at
    return next_working_instant(due_at, pace.working_hours)


def raise_one_tier(tier: Tier) -> Tier:
    """One tier more urgent, for a closed question nobody answered; emergency stays emergency."""
    return list(Tier)[max(0, tier.urgency - 1)]


def answer_within(tier: Tier) -> timedelta:
    """How long a closed question about a sign of this tier waits for the patient [elapsed time].

    Emergency 5 minutes, same day 1 hour, next working day 12 hours: convention. With no answer by
    then it is escalated, see `raise_one_tier`.
    """
    return ANSWER_WITHIN[tier]


def _due_at(escalation: EscalationView, now: datetime, pace: Pace) -> datetime:
    due_at = _due_by_interval(escalation, pace)
    if escalation.tier is Tier.NEXT_WORKING_DAY:
        return next_working_instant(max(due_at, now), pace.working_hours)
    return due_at


def _due_by_interval(escalation: EscalationView, pace: Pace) -> datetime:
    this_round = _this_round(escalation)
    if not this_round and not escalation.told_everyone_at:
        return escalation.raised_at
    if this_round and this_round[-1].failed:
        return this_round[-1].at
    if _is_slow(escalation):
        return _slowed(escalation, pace)
    since = this_round[-1].at if this_round else max(escalation.told_everyone_at)
    if escalation.tier is Tier.NEXT_WORKING_DAY:
        return after_working_time(since, pace.next_working_day_interval, pace.working_hours)
    if escalation.tier is Tier.SAME_DAY:
        return since + pace.same_day_interval
    return since + pace.emergency_interval


def _is_slow(escalation: EscalationView) -> bool:
    """Whether the whole rota was told in vain, and nobody anew since. What waits for a working day
    is listed once a day, which is slow enough."""
    listed = escalation.tier is Tier.NEXT_WORKING_DAY
    return bool(escalation.told_everyone_at) and not listed and not _this_round(escalation)


def _opens_again(escalation: EscalationView, pace: Pace) -> datetime:
    return next_opening(max(escalation.told_everyone_at), pace.working_hours)


def _slowed(escalation: EscalationView, pace: Pace) -> datetime:
    """The end of the pause, which doubles each time since the clinic opened, or its opening."""
    opens_at = _opens_again(escalation, pace)
    told = [
        at for at in escalation.told_everyone_at if next_opening(at, pace.working_hours) == opens_at
    ]
    doubled = min(pace.first_pause * float(2 ** min(len(told) - 1, 10)), pace.longest_pause)
    return min(max(told) + doubled, opens_at)


def _this_round(escalation: EscalationView) -> list[Notice]:
    """The notices since everyone was last told, oldest first; of one instant, in the order kept."""
    notices = sorted(escalation.notices, key=lambda notice: notice.at)
    if not escalation.told_everyone_at:
        return notices
    told_at = max(escalation.told_everyone_at)
    return [notice for notice in notices if notice.at > told_at]


def _next_place(escalation: EscalationView, rota: tuple[OnCall, ...]) -> tuple[str, str] | None:
    """The first channel not yet used in this round; None where all are."""
    used = {(notice.clinician, notice.channel) for notice in _this_round(escalation)}
    on_duty = [on_call for on_call in rota if on_call.on_duty] or rota
    places = ((on_call.clinician, channel) for on_call in on_duty for channel in on_call.channels)
    return next((place for place in places if place not in used), None)
