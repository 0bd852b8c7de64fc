"""The keys of a protocol file: for each number its unit and the range that may be chosen.

The ranges are what keeps the promises of the decision order whatever a clinic writes: no margin
can be set so wide, no count so low, that a row is switched off. All ranges: convention, both ends
included, unless a source stands beside.
Read next: `protocol_reader`.
"""

from __future__ import annotations

from dataclasses import dataclass

from rules.protocol import PAIN_CEILING, DoseUnit

SETS_MAX, LOAD_KG_MAX = 10, 200
AMOUNT_MAX = {DoseUnit.REPETITIONS: 50, DoseUnit.SECONDS: 180}
"""Most of one dose: sets, added weight [kg], and repetitions or seconds in a set, each included.
Convention, far above any shipped dose, to catch a slip of the finger."""

HEAVY_SPACING_HOURS_MIN = 48
"""Least spacing of heavy and of hop sessions [hours, at least].

Source: beyer-2015, three sessions a week on every other day; magnusson-2010 for heavy loading.
"""


@dataclass(frozen=True)
class Asked:
    """What a number of the file must be: its unit, its range [both ends included], whole or not."""

    unit: str
    lowest: float
    highest: int
    whole: bool = True


SETTINGS: dict[str, Asked] = {
    "pain_limit": Asked("points", 0, PAIN_CEILING),  # Source: silbernagel-2007
    "comfort_max": Asked("points", 0, PAIN_CEILING),
    "above_usual_margin": Asked("points", 1, 3),
    "settled_margin": Asked("points", 0, 1),
    "far_over_points": Asked("points", 1, 3),
    "well_above_margin": Asked("points", 2, 4),
    "above_usual_days": Asked("days", 1, 3),
    "sore_sessions": Asked("sessions", 1, 3),
    "over_limit_sessions": Asked("sessions", 1, 3),
    "echo_margin": Asked("points", 0, 2),
    "echo_margin_at_ceiling": Asked("points", 0, 2),
    "sore_session_margin": Asked("points", 0, 3),
    "sore_session_hold_days": Asked("days", 0, 28),
    "usual_window_days": Asked("days", 7, 28),
    "usual_answers_min": Asked("answers", 1, 14),
    "own_usual_days": Asked("days", 14, 56),
    "own_usual_answers_min": Asked("answers", 3, 14),
    "session_usual_days": Asked("days", 28, 84),
    "week_pain_rise": Asked("points", 1, 3, whole=False),
    "week_stiffness_rise_minutes": Asked("minutes", 5, 60, whole=False),
    "week_stiffness_rise_percent": Asked("percent", 0, 100),
    "week_answers_min": Asked("answers", 1, 7),
    "weeks_pain_rise": Asked("points", 0.5, 2, whole=False),
    "weeks_stiffness_rise_minutes": Asked("minutes", 0, 30, whole=False),
    "weeks_reference_days": Asked("days", 7, 28),
    "weeks_reference_ends_days_ago": Asked("days", 14, 28),
    "weeks_reference_answers_min": Asked("answers", 4, 14),
    "raise_days_min": Asked("days", 7, 28),
    "slower_times": Asked("times", 2, 4),
    "return_days_min": Asked("days", 7, 28),
    "brake_memory_days": Asked("days", 0, 112),
    "brake_session_margin": Asked("points", 0, 3),
    "brake_times": Asked("times", 1, 4),
    "brake_steps_many": Asked("steps down", 2, 5),
    "brake_times_many": Asked("times", 1, 6),
    "sessions_done_min_percent": Asked("percent", 50, 100),
    "sessions_reviewed": Asked("sessions", 1, 10),
    "easy_effort_max": Asked("points", 0, 10),
    "effort_sessions": Asked("sessions", 1, 10),
    "break_days": Asked("days", 7, 28),
    "spike_percent": Asked("percent", 0, 100),
    "spike_window_days": Asked("days", 14, 60),
    "spike_activities_min": Asked("activities", 1, 30),
    "spike_recent_days": Asked("days", 1, 7),
    "step_backs_alarm": Asked("step backs", 1, 4),
    "step_backs_window_days": Asked("days", 7, 28),
    "response_weeks": Asked("weeks", 4, 26),
    "response_points_min": Asked("points", 1, 30),
    "silence_days": Asked("days", 1, 7),
    "pain_questioned": Asked("points", PAIN_CEILING + 1, 10),
    "pain_same_day": Asked("points", PAIN_CEILING + 1, 10),
    "near_limit_points": Asked("points", 0, 2),
    "near_limit_days": Asked("days", 7, 28),
    "stuck_days": Asked("days", 28, 112),
    "habits_days": Asked("days", 7, 28),
    "habits_sessions_min": Asked("sessions", 2, 7),
    "habits_percent": Asked("percent", 25, 90),
    "hard_effort_min": Asked("points", 6, 11),
    "creep_minutes": Asked("minutes", 5, 60, whole=False),
    "creep_days": Asked("days", 14, 56),
    "notice_again_days": Asked("days", 14, 84),
}
"""The keys of `[settings]`, all of them needed."""

LEVEL_NUMBERS: dict[str, Asked] = {
    "days_min": Asked("days", 1, 365),
    "spacing_hours": Asked("hours", 1, 168),
    "heel_raises_min": Asked("repetitions", 1, 100),
    "raise_days_min": Asked("days", 4, 28),
    "begins_from_raises": Asked("repetitions", 0, 100),
}
"""The numbers of `[[levels]]`.

`heel_raises_min` may be left out: then nothing is asked. `raise_days_min` as well: then that of the
settings holds. And so may `begins_from_raises`: then no ladder begins there.
"""

LEVEL_WORDS = ("name", "exercise", "tempo", "doses", "deficit", "hops", "heavy")
HEAD_TEXTS = ("name", "title", "version", "tendon")
EITHER_TENDON = "either"
