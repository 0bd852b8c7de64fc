"""The patient's own weeks, drawn: first-step pain as dots, stiffness as bars, usual as a band.

As SVG, readable in black and white at 390 pixels. Days without an answer stay empty; nothing is
joined over a gap. The band is the usual pain and the usual variation either side, from the first
answer it rests on to the last: what lies in it is a day like others. Decides nothing and gives no
verdict. Read next: `pictures`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from html import escape
from statistics import median

from babel.dates import format_date

from rules.variation import Reading, usual_variation

# Size [pixels], and days shown. Convention: four weeks, the width of a narrow phone.
WIDTH, HEIGHT, DAYS = 390, 330, 28

LEFT, RIGHT = 34, 8  # margins [pixels]
_DAY_WIDTH = (WIDTH - LEFT - RIGHT) / DAYS
PAIN_TOP, PAIN_BOTTOM, PAIN_MAX = 44.0, 180.0, 10  # panel of the pain [pixels; points]
MINUTES_TOP, MINUTES_BOTTOM = 224.0, 296.0  # panel of the minutes [pixels]

# The scale of the minutes goes up in these steps [minutes]. Convention.
MINUTES_STEPS = (15, 30, 60, 120, 240)

# Common practice of free systems, any of which will do.
TYPEFACES = "DejaVu Sans, Liberation Sans, Noto Sans, Arial, sans-serif"

# Answers needed before a band is drawn [count, at least]: under it there is no usual yet.
# Convention: as for the usual variation.
BAND_ANSWERS_MIN = 8


@dataclass(frozen=True)
class Day:
    """One morning's answers. None: not answered."""

    on: date
    pain: int | None = None
    stiffness: int | None = None


def weeks_svg(days: Sequence[Day], today: date, labels: Mapping[str, str], language: str) -> str:
    """The last four weeks up to and including `today`.

    labels: what stands over the two panels, by "pain" and "minutes"; and by the band, "usual".
    """
    first = today - timedelta(days=DAYS - 1)
    shown = [day for day in days if first <= day.on <= today]
    parts = [
        _band(shown, first, labels["usual"]),
        _pain_axis(),
        _minutes(shown, first),
        "".join(_dot(day, first) for day in shown if day.pain is not None),
        _dates(first, language),
        _text(LEFT, PAIN_TOP - 18, labels["pain"], bold=True),
        _text(LEFT, MINUTES_TOP - 12, labels["minutes"], bold=True),
    ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" '
        f'width="{WIDTH}" height="{HEIGHT}" font-family="{TYPEFACES}" font-size="13">'
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>'
        f"{''.join(parts)}</svg>"
    )


def usual_band(days: Sequence[Day]) -> tuple[float, float] | None:
    """Lower and upper end of what is usual [points, cut at 0 and 10]; None while it is not known.

    The median of the answers shown, and the usual day-to-day variation either side.
    """
    readings = [Reading(day.on, float(day.pain)) for day in days if day.pain is not None]
    variation = usual_variation(readings)
    if variation is None or len(readings) < BAND_ANSWERS_MIN:
        return None
    middle = median(reading.value for reading in readings)
    return max(0.0, middle - variation), min(float(PAIN_MAX), middle + variation)


def _x(on: date, first: date) -> float:
    return LEFT + ((on - first).days + 0.5) * _DAY_WIDTH


def _y(pain: float) -> float:
    return PAIN_BOTTOM - pain * (PAIN_BOTTOM - PAIN_TOP) / PAIN_MAX


def _band(days: Sequence[Day], first: date, label: str) -> str:
    band = usual_band(days)
    if band is None:
        return ""
    low, high = band
    known = [day.on for day in days if day.pain is not None]
    half = _DAY_WIDTH / 2
    left, right = _x(known[0], first) - half, _x(known[-1], first) + half
    return (
        f'<rect x="{left:.1f}" y="{_y(high):.1f}" width="{right - left:.1f}" '
        f'height="{_y(low) - _y(high):.1f}" fill="#d9d9d9"/>'
    ) + _key(label)


def _key(label: str) -> str:
    """What the grey band is, in the corner, where no dot stands."""
    right, y = WIDTH - RIGHT, PAIN_TOP - 29
    square = f'<rect x="{right - 13}" y="{y}" width="13" height="13" fill="#d9d9d9"/>'
    return square + _text(right - 19, y + 11, label, end=True)


def _pain_axis() -> str:
    parts = []
    for points in (0, 5, 10):
        parts.append(_rule(_y(points), "#111111" if points == 0 else "#bdbdbd"))
        parts.append(_text(LEFT - 6, _y(points) + 4.5, str(points), end=True))
    return "".join(parts)


def _dot(day: Day, first: date) -> str:
    pain = day.pain if day.pain is not None else 0
    return f'<circle cx="{_x(day.on, first):.1f}" cy="{_y(pain):.1f}" r="4.5" fill="#111111"/>'


def _minutes(days: Sequence[Day], first: date) -> str:
    known = [day for day in days if day.stiffness is not None]
    longest = max((day.stiffness or 0 for day in known), default=0)
    top = next((step for step in MINUTES_STEPS if step >= longest), longest)
    height = MINUTES_BOTTOM - MINUTES_TOP
    parts = [_rule(MINUTES_TOP, "#bdbdbd"), _rule(MINUTES_BOTTOM, "#111111")]
    parts += [
        _text(LEFT - 6, MINUTES_TOP + 4.5, str(top), end=True),
        _text(LEFT - 6, MINUTES_BOTTOM + 4.5, "0", end=True),
    ]
    for day in known:
        tall = max(1.5, (day.stiffness or 0) * height / top)
        parts.append(
            f'<rect x="{_x(day.on, first) - 4:.1f}" y="{MINUTES_BOTTOM - tall:.1f}" width="8" '
            f'height="{tall:.1f}" fill="#5a5a5a"/>'
        )
    return "".join(parts)


def _dates(first: date, language: str) -> str:
    """The first day of each of the four weeks."""
    parts = []
    for week in range(DAYS // 7):
        on = first + timedelta(days=7 * week)
        x = _x(on, first)
        for bottom in (PAIN_BOTTOM, MINUTES_BOTTOM):
            parts.append(
                f'<line x1="{x:.1f}" y1="{bottom}" x2="{x:.1f}" y2="{bottom + 6}" '
                f'stroke="#111111" stroke-width="1.5"/>'
            )
        parts.append(_text(x - 6, MINUTES_BOTTOM + 22, format_date(on, "d MMM", locale=language)))
    return "".join(parts)


def _rule(y: float, colour: str) -> str:
    return (
        f'<line x1="{LEFT}" y1="{y:.1f}" x2="{WIDTH - RIGHT}" y2="{y:.1f}" stroke="{colour}" '
        f'stroke-width="1.2"/>'
    )


def _text(x: float, y: float, text: str, *, bold: bool = False, end: bool = False) -> str:
    weight = ' font-weight="bold"' if bold else ""
    anchor = ' text-anchor="end"' if end else ""
    return f'<text x="{x:.1f}" y="{y:.1f}" fill="#111111"{weight}{anchor}>{escape(text)}</text>'
