"""Draws a replay: mornings, usual, sessions, stiffness, level and advice over the days.

Told apart by shape and by words, never by colour alone, so that a copy in black and white can be
read. It draws what was answered and advised, and computes nothing but the usual variation and the
limits of an individuals chart.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from bot.charts.png import write_png
from bot.charts.shapes import Axis, Frame, area, dashes, dots, line, mark, text
from bot.replay.walk import DayAdvice
from rules.protocol import Protocol
from rules.quantities import Pain
from rules.reasons import Action
from rules.variation import Reading, individuals_limits, usual_variation

# All measures: pixels, convention.
LEFT, RIGHT, TOP = 150, 30, 86
PAIN_HEIGHT, STIFFNESS_HEIGHT, LEVEL_HEIGHT, ADVICE_HEIGHT, GAP = 240, 110, 110, 30, 34
DAY_WIDTH_MIN, DRAWING_WIDTH_MIN, DAYS_MIN = 14, 900, 14
LEVELS_SHOWN_MIN = 4

ADVICE_MARKS = {
    Action.ADVANCE: "up",
    Action.HOLD: "bar",
    Action.REST_DAY: "ring",
    Action.DO_LESS: "less",
    Action.STEP_BACK: "down",
    Action.STOP: "cross",
}
"""The shape of each word of advice."""


def save_picture(days: Sequence[DayAdvice], protocol: Protocol, file: Path) -> None:
    """Write the picture as PNG. Raises RefusedError where that cannot be done."""
    write_png(svg_text(days, protocol), file)


def svg_text(days: Sequence[DayAdvice], protocol: Protocol) -> str:
    """The picture as SVG."""
    first, last = days[0].day.on, days[-1].day.on
    span = max((last - first).days + 1, DAYS_MIN)
    drawing = max(DRAWING_WIDTH_MIN, span * DAY_WIDTH_MIN)
    axis = Axis(first, span, LEFT, drawing)
    pain = Frame(TOP, PAIN_HEIGHT, 10.0)
    stiffness = Frame(pain.bottom + GAP, STIFFNESS_HEIGHT, _top_of_stiffness(days))
    highest = max(d.advice.position.level for d in days)
    levels = Frame(stiffness.bottom + GAP, LEVEL_HEIGHT, float(max(highest, LEVELS_SHOWN_MIN)))
    advice = Frame(levels.bottom + GAP, ADVICE_HEIGHT, 1.0)
    width, height = LEFT + drawing + RIGHT, advice.bottom + 56
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}"'
        f' viewBox="0 0 {width} {height}" font-family="DejaVu Sans, Liberation Sans, sans-serif"'
        ' font-size="13" fill="#000000">',
        f'<rect width="{width}" height="{height}" fill="#ffffff"/>',
        text(16, 26, f"{protocol.title}: {first.isoformat()} to {last.isoformat()}", size=17),
        *_legend(),
        *_weeks(axis, advice.bottom),
        *_pain(days, axis, pain),
        *_stiffness(days, axis, stiffness),
        *_levels(days, axis, levels),
        *_advice(days, axis, advice),
        "</svg>",
    ]
    return "\n".join(parts)


def _top_of_stiffness(days: Sequence[DayAdvice]) -> float:
    """Upper end of the stiffness axis [minutes]: whole half hours that hold every answer."""
    longest = max((d.day.morning_stiffness_min or 0 for d in days), default=0)
    return max(30.0, -(-longest // 30) * 30.0)


def _legend() -> Iterator[str]:
    """Every shape with its meaning in words, in two lines above the drawing."""
    x = 22.0
    for shape, words in (
        ("dot", "first-step pain"),
        ("square", "worst pain during a session"),
        ("band", "usual, give or take its usual variation"),
        ("limit", "pain limit"),
    ):
        yield from _legend_entry(x, 46, shape, words)
        x += 46 + 7.6 * len(words)
    x = 22.0
    advice = [(shape, action.value) for action, shape in ADVICE_MARKS.items()]
    for shape, words in (
        *advice,
        ("limits", "limits of an individuals chart"),
        ("outside", "outside them"),
    ):
        yield from _legend_entry(x, 68, shape, words)
        x += 46 + 7.6 * len(words)


def _legend_entry(x: float, y: float, shape: str, words: str) -> Iterator[str]:
    if shape == "band":
        yield f'<rect x="{x - 8}" y="{y - 6}" width="22" height="12" fill="#d9d9d9"/>'
        yield line([(x - 8, y), (x + 14, y)], width=1)
    elif shape == "limit":
        yield dashes(x - 8, x + 14, y)
    elif shape == "limits":
        yield dots(x - 8, x + 14, y)
    elif shape == "outside":
        yield mark("dot", x + 3, y)
        yield mark("diamond", x + 3, y)
    else:
        yield mark(shape, x + 3, y)
    yield text(x + 20, y + 5, words)


def _weeks(axis: Axis, bottom: float) -> Iterator[str]:
    """A thin line each week, with its date below."""
    for index in range(0, axis.days, 7):
        x = axis.x_of_index(index)
        yield line([(x, TOP), (x, bottom)], width=0.5, colour="#bbbbbb")
        yield text(x, bottom + 18, axis.date_of_index(index).strftime("%d %b"), anchor="middle")
    yield text(LEFT, bottom + 40, "One line a week. Each mark stands over its day.", size=12)


def _frame(frame: Frame, axis: Axis, title: str, ticks: Sequence[float]) -> Iterator[str]:
    yield text(16, frame.top + 12, title)
    yield line([(axis.left, frame.top), (axis.left, frame.bottom)], width=1)
    yield line([(axis.left, frame.bottom), (axis.right, frame.bottom)], width=1)
    for tick in ticks:
        yield text(axis.left - 8, frame.y(tick) + 4, f"{tick:g}", anchor="end", size=11)


def _pain(days: Sequence[DayAdvice], axis: Axis, frame: Frame) -> Iterator[str]:
    yield from _band(days, axis, frame)
    yield from _frame(frame, axis, "pain, 0 to 10", [0, 2, 4, 6, 8, 10])
    # The limit itself is allowed, so the line stands between it and the next point.
    yield dashes(axis.left, axis.right, frame.y(days[0].pain_limit + 0.5))
    answered = [d for d in days if d.day.morning_pain is not None]
    yield from _limits(answered, axis, frame)
    for run in _following(answered):
        yield line([(axis.x(d.day.on), frame.y(d.day.morning_pain or 0)) for d in run], width=1.6)
    for d in answered:
        yield mark("dot", axis.x(d.day.on), frame.y(d.day.morning_pain or 0))
    for d in days:
        if d.day.pain_during is not None:
            yield mark("square", axis.x(d.day.on), frame.y(d.day.pain_during))


def _limits(answered: Sequence[DayAdvice], axis: Axis, frame: Frame) -> Iterator[str]:
    """The limits over all answers, and a mark about each outside; nothing with too few."""
    readings = [Reading(d.day.on, float(d.day.morning_pain or 0)) for d in answered]
    limits = individuals_limits(readings)
    if limits is None:
        return
    yield from (
        dots(axis.left, axis.right, frame.y(limit))
        for limit in (limits.lower, limits.upper)
        if Pain.lowest < limit < Pain.highest
    )
    for reading in readings:
        if not limits.lower <= reading.value <= limits.upper:
            yield mark("diamond", axis.x(reading.on), frame.y(reading.value))


def _band(days: Sequence[DayAdvice], axis: Axis, frame: Frame) -> Iterator[str]:
    """Usual first-step pain of each morning, and its usual variation where it is known."""
    readings: list[Reading] = []
    upper: list[tuple[float, float]] = []
    lower: list[tuple[float, float]] = []
    for d in days:
        if d.day.morning_pain is not None:
            readings.append(Reading(d.day.on, float(d.day.morning_pain)))
        varies = usual_variation(readings)
        if varies is not None:
            x = axis.x(d.day.on)
            upper.append((x, frame.y(min(Pain.highest, d.usual + varies))))
            lower.append((x, frame.y(max(Pain.lowest, d.usual - varies))))
    if upper:
        yield area([*upper, *reversed(lower)])
    yield line([(axis.x(d.day.on), frame.y(d.usual)) for d in days], width=1)


def _following(days: Sequence[DayAdvice]) -> Iterator[list[DayAdvice]]:
    """Runs of days without a gap: a line over a gap would say more than was answered."""
    run: list[DayAdvice] = []
    for d in days:
        if run and (d.day.on - run[-1].day.on).days > 1:
            yield run
            run = []
        run.append(d)
    if run:
        yield run


def _stiffness(days: Sequence[DayAdvice], axis: Axis, frame: Frame) -> Iterator[str]:
    yield from _frame(frame, axis, "stiffness, min", [0, frame.highest / 2, frame.highest])
    for d in days:
        minutes = d.day.morning_stiffness_min
        if minutes is not None:
            x = axis.x(d.day.on)
            yield line([(x, frame.bottom), (x, frame.y(minutes))], width=3.5)


def _levels(days: Sequence[DayAdvice], axis: Axis, frame: Frame) -> Iterator[str]:
    ticks = [float(number) for number in range(1, int(frame.highest) + 1)]
    yield from _frame(frame, axis, "level", ticks)
    yield text(16, frame.top + 30, "square: session", size=11)
    points: list[tuple[float, float]] = []
    for d in days:
        x, y = axis.x(d.day.on), frame.y(d.advice.position.level)
        points += [(x, points[-1][1]), (x, y)] if points else [(x, y)]
    yield line(points, width=2)
    for d in days:
        if d.day.session:
            yield mark("square", axis.x(d.day.on), frame.y(d.stands.level))


def _advice(days: Sequence[DayAdvice], axis: Axis, frame: Frame) -> Iterator[str]:
    yield text(16, frame.top + 18, "advice")
    for d in days:
        yield mark(ADVICE_MARKS[d.advice.action], axis.x(d.day.on), frame.top + 14)
