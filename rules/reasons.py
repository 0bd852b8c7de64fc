"""The words of a decision: action, reason, evidence, rule, advice. No logic.

A reason's value is its code everywhere: database, template, test id. The predicate that finds it
is spelled the same with underscores.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from rules.history import History
from rules.protocol import Position, Protocol


class Action(StrEnum):
    """What the patient is told. `boldness` orders them, 0 is the most careful."""

    STOP = "stop"
    STEP_BACK = "step back"
    DO_LESS = "do less"
    REST_DAY = "rest day"
    HOLD = "hold"
    ADVANCE = "advance"

    @property
    def boldness(self) -> int:
        """Rank [0 most careful, 5 boldest]."""
        return list(Action).index(self)


class Reason(StrEnum):
    """Why. In the order in which the rules are asked; see `advice.ORDER`.

    Those after `READY` are asked no more (`FORMER`); decisions kept before still name them.
    """

    WARNING_SIGN = "warning-sign"
    PAUSED = "paused"
    CLINICIAN_SAYS_REST = "clinician-says-rest"
    CLINICIAN_SAYS_GO_ON = "clinician-says-go-on"
    PAIN_FAR_OVER_LIMIT = "pain-far-over-limit"
    SORE_AFTER_TWO_OF_THREE = "sore-after-two-of-three"
    WEEK_WORSE_THAN_LAST = "week-worse-than-last"
    NOT_SETTLED_BY_TWO_DAYS = "not-settled-by-two-days"
    PAIN_OVER_CEILING = "pain-over-ceiling"
    OVER_LIMIT_THREE_TIMES = "over-limit-three-times"
    WEEKS_WORSE_THAN_BEFORE = "weeks-worse-than-before"
    WELL_ABOVE_USUAL = "well-above-usual"
    ABOVE_USUAL_TWICE = "above-usual-twice"
    SORE_SESSION_AND_NEXT_DAY = "sore-session-and-next-day"
    SETTLING_AFTER_STEP_BACK = "settling-after-step-back"
    STILL_RECOVERING = "still-recovering"
    NEXT_DAY_ABOVE_USUAL = "next-day-above-usual"
    AFTER_A_BREAK = "after-a-break"
    TOO_FEW_DAYS = "too-few-days"
    TOO_FEW_SESSIONS = "too-few-sessions"
    FOLLOW_UP_MISSING = "follow-up-missing"
    CRITERION_NOT_MET = "criterion-not-met"
    STILL_HARD = "still-hard"
    MASKED_BY_PAINKILLER = "masked-by-painkiller"
    RAISED_THIS_WEEK = "raised-this-week"
    SORE_BUT_SETTLED = "sore-but-settled"
    ACTIVITY_SPIKE = "activity-spike"
    NEEDS_CLINICIAN = "needs-clinician"
    PLACE_WAS_TOO_MUCH = "place-was-too-much"
    RAISED_AFTER_SORE_SESSION = "raised-after-sore-session"
    TOP_OF_THE_LADDER = "top-of-the-ladder"
    READY = "ready"
    PAIN_DURING_OVER_LIMIT = "pain-during-over-limit"
    PAIN_AFTER_OVER_LIMIT = "pain-after-over-limit"
    NEXT_DAY_OVER_LIMIT = "next-day-over-limit"
    MORNING_OVER_LIMIT = "morning-over-limit"


FORMER = frozenset(
    {
        Reason.PAIN_DURING_OVER_LIMIT,
        Reason.PAIN_AFTER_OVER_LIMIT,
        Reason.NEXT_DAY_OVER_LIMIT,
        Reason.MORNING_OVER_LIMIT,
    }
)
"""Reasons of earlier versions of the shipped protocols, which no row gives any more."""


_HELD = {
    Reason.WARNING_SIGN: "stopped",
    Reason.PAUSED: "paused",
    Reason.CLINICIAN_SAYS_REST: "rest",
}

Number = int | float | str | None
Evidence = Mapping[str, Number]
"""The numbers a rule compared, by name. Dates as ISO text. Kept with the decision."""

Predicate = Callable[[History, Protocol, date], Evidence | None]
"""Takes history, protocol and today; returns what it compared where it applies, else None."""


@dataclass(frozen=True)
class Rule:
    """One row of the decision order."""

    action: Action
    reason: Reason
    applies: Predicate


@dataclass(frozen=True)
class Finding:
    """A reason that applies, with the numbers it compared."""

    action: Action
    reason: Reason
    evidence: Evidence


@dataclass(frozen=True)
class Advice:
    """What is advised on a day and why.

    `because` decides; `also` are the other reasons that apply, in the order of the rules.
    `stood` is the position before, `position` the one after: they differ on advance, on a step
    down, after a break, and where the clinician has closed the gate to hops on a patient who hops.
    """

    on: date
    because: Finding
    also: tuple[Finding, ...]
    stood: Position
    position: Position

    @property
    def action(self) -> Action:
        """The one of the six words."""
        return self.because.action

    @property
    def reason(self) -> Reason:
        """The deciding reason."""
        return self.because.reason

    @property
    def steps_down(self) -> bool:
        """Whether it is a step back or a do less: always to be kept as a move."""
        return self.action in (Action.STEP_BACK, Action.DO_LESS)

    @property
    def session_today(self) -> bool:
        """Whether a session is prescribed for the day."""
        return self.action in (Action.ADVANCE, Action.HOLD)

    @property
    def held(self) -> str:
        """Why no session is named: "stopped", "paused", "rest" by a clinician's word; else ""."""
        return _HELD.get(self.reason, "")
