"""A loading protocol: levels with their doses, limits, margins, minimum times and gates.

The values live in `protocols/*.toml`, each with its unit and its source; this file is their shape.
Reading and checking such a file: `protocol_reader`. What is done with the values: `advice`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

PAIN_CEILING = 5
"""Highest pain limit a protocol or a clinician may set [points, included].

Pain may reach it during and straight after a session, and no more.
Source: silbernagel-2007, pain-monitoring model.
"""


class Tendon(StrEnum):
    """Where along the tendon it hurts. It selects exercises, never limits.

    Source: pringels-2025, low-compression arm.
    """

    MID_PORTION = "mid-portion"
    INSERTIONAL = "insertional"


class DoseUnit(StrEnum):
    """What one set is counted in."""

    REPETITIONS = "repetitions"
    SECONDS = "seconds"


@dataclass(frozen=True, order=True)
class Position:
    """A place on a protocol's ladder: level [number from 1], dose within it [number from 1].

    Positions compare as loads do: a higher level is more, and within a level a higher dose.
    """

    level: int
    dose: int


@dataclass(frozen=True)
class Dose:
    """What one session prescribes: sets of so many repetitions, or of so many seconds held."""

    sets: int
    amount: int
    unit: DoseUnit
    added_load_kg: float = 0.0


@dataclass(frozen=True)
class Level:
    """One exercise with its rising doses.

    `days_min`: days at this level before the next one may start [days, at least].
    `spacing_hours`: between two sessions [hours, at least]; read as whole local days, rounded up.
    `raise_days_min`: days from one raise to the next at this level [days, at least]; None where
        that of the settings holds.
    `heel_raises_min`: single-leg heel raises needed to leave the level [count, at least];
        None where nothing is asked.
    `begins_from_raises`: single-leg heel raises in a row from which a ladder may begin here [count,
        at least]; 0 is met by ten on both feet. None: it never does. See `first_level`.
    `deficit`: the heel goes below the edge of a step. `hops`: behind the clinician's gate.
    `heavy`: the same spacing in hours holds to the hour, so the wording adds a time of day.
    """

    name: str
    exercise: str
    tempo: str
    doses: tuple[Dose, ...]
    days_min: int
    spacing_hours: int
    heel_raises_min: int | None = None
    raise_days_min: int | None = None
    begins_from_raises: int | None = None
    deficit: bool = False
    hops: bool = False
    heavy: bool = False

    @property
    def spacing_days(self) -> int:
        """Local days from one session to the next [at least 1]: 24 h are 1, 25 to 48 h are 2."""
        return max(1, -(-self.spacing_hours // 24))


@dataclass(frozen=True)
class Settings:
    """Every threshold of the decision order. Values, units and sources: the protocol file.

    Limits are inclusive: *over* is `>`, *at least* is `>=`.
    """

    pain_limit: int
    comfort_max: int
    above_usual_margin: int
    settled_margin: int
    far_over_points: int
    well_above_margin: int
    above_usual_days: int
    sore_sessions: int
    over_limit_sessions: int
    echo_margin: int
    echo_margin_at_ceiling: int
    sore_session_margin: int
    sore_session_hold_days: int
    usual_window_days: int
    usual_answers_min: int
    own_usual_days: int
    own_usual_answers_min: int
    session_usual_days: int
    week_pain_rise: float
    week_stiffness_rise_minutes: float
    week_stiffness_rise_percent: int
    week_answers_min: int
    weeks_pain_rise: float
    weeks_stiffness_rise_minutes: float
    weeks_reference_days: int
    weeks_reference_ends_days_ago: int
    weeks_reference_answers_min: int
    raise_days_min: int
    slower_times: int
    return_days_min: int
    brake_memory_days: int
    brake_session_margin: int
    brake_times: int
    brake_steps_many: int
    brake_times_many: int
    sessions_done_min_percent: int
    sessions_reviewed: int
    easy_effort_max: int
    effort_sessions: int
    break_days: int
    spike_percent: int
    spike_window_days: int
    spike_activities_min: int
    spike_recent_days: int
    step_backs_alarm: int
    step_backs_window_days: int
    response_weeks: int
    response_points_min: int
    silence_days: int
    pain_questioned: int
    pain_same_day: int
    near_limit_points: int
    near_limit_days: int
    stuck_days: int
    habits_days: int
    habits_sessions_min: int
    habits_percent: int
    hard_effort_min: int
    creep_minutes: float
    creep_days: int
    notice_again_days: int


@dataclass(frozen=True)
class Cited:
    """Where one number of a protocol comes from: its key in the file, its unit, its source.

    `source` is a key of `sources.SOURCES`, or one of `sources.MARKS`.
    """

    key: str
    unit: str
    source: str
    note: str = ""


@dataclass(frozen=True)
class Protocol:
    """A whole protocol. `name` and `version` are stored with every decision made by it."""

    name: str
    title: str
    version: str
    tendon: Tendon | None
    settings: Settings
    levels: tuple[Level, ...]
    cited: tuple[Cited, ...] = field(default=(), repr=False, compare=False)

    def level(self, position: Position) -> Level:
        """The level at this position."""
        return self.levels[position.level - 1]

    def dose(self, position: Position) -> Dose:
        """The dose at this position."""
        return self.level(position).doses[position.dose - 1]
