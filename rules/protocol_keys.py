"""The keys of a protocol file: for each number its unit and the range that may be chosen.

The ranges are what keeps the promises of the decision order whatever a clinic writes: no margin
can be set so wide, no count so low, that a row is switched off. All ranges: convention, both ends
included, unless a source stands beside.
Read next: `protocol_reader`.
"""

from __future__ import annotations

from dataclasses import dataclass

from rules.protocol import PAIN_CEILING

HEAVY_SPACING_HOURS_MIN = 48
"""Least spacing of heavy and of hop sessions [hours, at least].

Source: beyer-2015, three sessions a week on every other day; magnusson-2010 for heavy loading.
"""


@dataclass(frozen=True)
class Asked:
    """What a number of the file must be: its unit, its range [both ends included], whole or not."""

    unit: str
    lowest: int
    highest: int
    whole: bool = True


SETTINGS: dict[str, Asked] = {
    "pain_limit": Asked("points", 0, PAIN_CEILING),  # Source: silbernagel-2007
    "comfort_max": Asked("points", 0, PAIN_CEILING),
    "above_usual_margin": Asked("points", 1, 3),
    "settled_margin": Asked("points", 0, 1),
    "usual_window_days": Asked("days", 7, 28),
    "usual_answers_min": Asked("answers", 1, 14),
    "week_pain_rise": Asked("points", 1, 3, whole=False),
    "week_stiffness_rise_minutes": Asked("minutes", 5, 60, whole=False),
    "week_stiffness_rise_percent": Asked("percent", 0, 100),
    "week_answers_min": Asked("answers", 1, 7),
    "raise_days_min": Asked("days", 7, 28),
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
}
"""The keys of `[settings]`, all of them needed."""

LEVEL_NUMBERS: dict[str, Asked] = {
    "days_min": Asked("days", 1, 365),
    "spacing_hours": Asked("hours", 1, 168),
    "heel_raises_min": Asked("repetitions", 1, 100),
}
"""The numbers of `[[levels]]`. `heel_raises_min` may be left out: then nothing is asked."""

LEVEL_WORDS = ("name", "exercise", "tempo", "doses", "deficit", "hops", "heavy")
HEAD_TEXTS = ("name", "title", "version", "tendon")
EITHER_TENDON = "either"
