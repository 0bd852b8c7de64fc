"""Draws the course of one patient: pain, sessions, stiffness, level, advice, what was raised.

Every panel is named in words and every mark has a shape of its own, so that a copy in black and
white can be read, and so can a phone. It draws what it is given and computes nothing.
Read next: `shapes`; `bot.charts.course_data` puts a `Course` together.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from html import escape
from itertools import groupby

from bot.charts.shapes import Axis, Frame, area, dashes, dots, line, mark, text
from rules.quantities import Pain
from rules.reasons import Action
from rules.variation import ChartLimits

# Widths of a picture [pixels]: of a narrow phone, and of the text on A4 paper. Convention.
PHONE_WIDTH, PAPER_WIDTH = 390, 680

# Margins, heights of the panels and of what stands over each [pixels]. Convention.
LEFT, RIGHT, HEAD, FOOT = 68, 12, 36, 32
PAIN_HEIGHT, SESSION_HEIGHT, STIFFNESS_HEIGHT, LEVEL_HEIGHT, ROW = 104, 76, 44, 44, 16

# Marks are as wide as a day allows, between these [share of 10 pixels]. Convention.
SCALE_MIN, SCALE_MAX = 0.42, 0.9

TYPEFACES = "DejaVu Sans, Liberation Sans, Noto Sans, Arial, sans-serif"

ADVICE_ROWS = (
    (Action.ADVANCE, "up"),
    (Action.HOLD, "bar"),
    (Action.REST_DAY, "ring"),
    (Action.DO_LESS, "less"),
    (Action.STEP_BACK, "down"),
    (Action.STOP, "cross"),
)
"""A row for each word of advice, with its shape."""


@dataclass(frozen=True)
class CourseDay:
    """One local date. None: not answered, or not known.

    `usual`, `variation`: usual first-step pain and its usual day-to-day variation [points].
    `advised`: each word of advice that held on the day; a step down may follow the morning's.
    """

    on: date
    first_step_pain: int | None = None
    stiffness: int | None = None
    pain_during: int | None = None
    pain_after: int | None = None
    usual: float | None = None
    variation: float | None = None
    level: int | None = None
    advised: frozenset[Action] = frozenset()


@dataclass(frozen=True)
class Course:
    """Consecutive local dates, oldest first, at least one. `pain_limit`: [points, included].

    `raised`: what was raised to a clinician, by date and number.
    `limits`: of an individuals chart of the first-step pain shown; None with too few answers.
    """

    days: tuple[CourseDay, ...]
    pain_limit: int
    raised: tuple[tuple[date, int], ...] = ()
    limits: ChartLimits | None = None

    @property
    def outside(self) -> tuple[CourseDay, ...]:
        """The days whose first-step pain lies outside the limits."""
        if self.limits is None:
            return ()
        return tuple(
            d
            for d in self.days
            if d.first_step_pain is not None
            and not self.limits.lower <= d.first_step_pain <= self.limits.upper
        )


def course_svg(course: Course, title: str, width: int = PHONE_WIDTH) -> str:
    """The picture, `width` pixels wide; `title` stands over it and names it for a reader."""
    axis = Axis(course.days[0].on, len(course.days), LEFT, width - LEFT - RIGHT)
    scale = min(SCALE_MAX, max(SCALE_MIN, axis.width / len(course.days) / 10))
    pain = Frame(26 + HEAD, PAIN_HEIGHT, 10.0)
    session = Frame(pain.bottom + HEAD, SESSION_HEIGHT, 10.0)
    stiffness = Frame(session.bottom + HEAD - 6, STIFFNESS_HEIGHT, _longest(course.days))
    level = Frame(stiffness.bottom + HEAD - 6, LEVEL_HEIGHT, _highest(course.days))
    advice_top = level.bottom + HEAD
    raised_y = advice_top + len(ADVICE_ROWS) * ROW + 14
    height = raised_y + 8 + FOOT
    parts = [
        *_opening(title, course_words(course), width, height),
        *_weeks(axis, pain.top, raised_y + 8),
        *_pain(course, axis, pain, scale),
        *_sessions(course, axis, session, scale),
        *_stiffness(course.days, axis, stiffness),
        *_levels(course.days, axis, level),
        *_advice(course.days, axis, advice_top, scale),
        *_raised(course, axis, raised_y, pain.top),
        "</svg>",
    ]
    return "\n".join(parts)


def course_words(course: Course) -> str:
    """The picture in words, for whoever cannot see it."""
    first, last = course.days[0].on, course.days[-1].on
    words = [f"From {day_text(first)} to {day_text(last)}."]
    pains = [int(d.first_step_pain) for d in course.days if d.first_step_pain is not None]
    if pains:
        told = f"First-step pain {min(pains)} to {max(pains)} in {len(pains)} answers"
        usual = course.days[-1].usual
        words.append(f"{told}." if usual is None else f"{told}, usual now {usual:g}.")
    words += _limits_told(course)
    during = [int(d.pain_during) for d in course.days if d.pain_during is not None]
    if during:
        words.append(f"Worst pain in {len(during)} sessions {min(during)} to {max(during)}.")
    levels = [d.level for d in course.days if d.level is not None]
    if levels:
        words.append(f"Level {levels[0]} at first, {levels[-1]} at the end.")
    for action in (Action.DO_LESS, Action.STEP_BACK, Action.STOP):
        on = _runs(course.days, action)
        if on:
            words.append(f"{action.value.capitalize()}: {', '.join(on)}.")
    if course.raised:
        listed = ", ".join(f"{number} on {day_text(on)}" for on, number in course.raised)
        words.append(f"Raised: {listed}.")
    return " ".join(words)


def _limits_told(course: Course) -> list[str]:
    if course.limits is None:
        return []
    lower, upper = max(0.0, course.limits.lower), min(10.0, course.limits.upper)
    told = ", ".join(_spans(course.days, {d.on for d in course.outside})) or "no day"
    return [f"Limits of the dotted lines {lower:.1f} to {upper:.1f}, outside: {told}."]


def _spans(days: Sequence[CourseDay], dates: set[date]) -> list[str]:
    return [_span(list(run)) for found, run in groupby(days, lambda d: d.on in dates) if found]


def _runs(days: Sequence[CourseDay], action: Action) -> list[str]:
    return _spans(days, {d.on for d in days if action in d.advised})


def _span(days: Sequence[CourseDay]) -> str:
    first, last = day_text(days[0].on), day_text(days[-1].on)
    return first if first == last else f"{first} to {last}"


def day_text(on: date) -> str:
    """A date in short, without its year."""
    return f"{on.day} {on:%b}"


def _opening(title: str, words: str, width: int, height: int) -> Iterator[str]:
    yield (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{width}" height="{height}"'
        f' viewBox="0 0 {width} {height}" font-family="{TYPEFACES}" font-size="13"'
        f' fill="#000000" aria-label="{escape(title)}. {escape(words)}">'
    )
    yield f'<rect width="{width}" height="{height}" fill="#ffffff"/>'
    yield text(8, 20, title, size=15, bold=True)


def _longest(days: Sequence[CourseDay]) -> float:
    """Upper end of the stiffness axis [minutes]: whole half hours that hold every answer."""
    longest = max((d.stiffness or 0 for d in days), default=0)
    return max(30.0, -(-longest // 30) * 30.0)


def _highest(days: Sequence[CourseDay]) -> float:
    return float(max(2, *(d.level or 0 for d in days), 2))


def _weeks(axis: Axis, top: float, bottom: float) -> Iterator[str]:
    """A thin line each week; dates below as often as they have room."""
    every = 7 * max(1, -(-58 * axis.days // (7 * axis.width)))
    for index in range(0, axis.days, 7):
        x = axis.x_of_index(index)
        yield line([(x, top), (x, bottom)], width=0.5, colour="#bbbbbb")
        if index % every == 0:
            # The first date begins at its line, so that it stays clear of the row's name.
            anchor = "middle" if index else "start"
            on = day_text(axis.date_of_index(index))
            yield text(x, bottom + 18, on, anchor=anchor, size=12)


def _panel(frame: Frame, axis: Axis, title: str, ticks: Sequence[float]) -> Iterator[str]:
    yield text(8, frame.top - 12, title, bold=True)
    for tick in ticks:
        y = frame.y(tick)
        if tick:
            yield line([(axis.left, y), (axis.right, y)], width=0.5, colour="#bbbbbb")
        yield text(axis.left - 6, y + 4, f"{tick:g}", anchor="end", size=12)
    yield line([(axis.left, frame.bottom), (axis.right, frame.bottom)], width=1)


def _key(y: float, entries: Sequence[tuple[str, str]], x: float) -> Iterator[str]:
    """What marks mean, in a row that starts at `x`."""
    for shape, words in entries:
        if shape == "band":
            yield f'<rect x="{x - 6}" y="{y - 10}" width="16" height="12" fill="#d9d9d9"/>'
            yield line([(x - 6, y - 4), (x + 10, y - 4)], width=1, colour="#666666")
        elif shape == "limit":
            yield dashes(x - 8, x + 10, y - 4)
        elif shape == "outside":
            yield mark("dot", x + 2, y - 4, 0.75)
            yield mark("diamond", x + 2, y - 4, 0.9)
        else:
            yield mark(shape, x + 2, y - 4, 0.75)
        yield text(x + 14, y, words, size=12)
        x += 34 + 7.0 * len(words)


def _pain(course: Course, axis: Axis, frame: Frame, scale: float) -> Iterator[str]:
    yield from course_band(course.days, axis, frame)
    yield from _panel(frame, axis, "First-step pain", [0, 5, 10])
    if course.limits is None:
        yield from _key(frame.top - 12, [("dot", "answer"), ("band", "usual, its variation")], 140)
    else:
        entries = [("dot", "answer"), ("band", "usual"), ("outside", "out of limits")]
        yield from _key(frame.top - 12, entries, 132)
        yield from limit_lines(course.limits, axis, frame)
    for d in course.outside:
        yield mark("diamond", axis.x(d.on), frame.y(d.first_step_pain or 0), scale)
    for answered, run in groupby(course.days, lambda d: d.first_step_pain is not None):
        points = [(axis.x(d.on), frame.y(d.first_step_pain or 0)) for d in run]
        if answered:
            yield line(points, width=1)
            yield from (mark("dot", x, y, scale) for x, y in points)


def limit_lines(limits: ChartLimits, axis: Axis, frame: Frame) -> Iterator[str]:
    """The limits of an individuals chart, where they lie on the scale."""
    for limit in (limits.lower, limits.upper):
        if Pain.lowest < limit < Pain.highest:
            yield dots(axis.left, axis.right, frame.y(limit))


def course_band(days: Sequence[CourseDay], axis: Axis, frame: Frame) -> Iterator[str]:
    """Usual first-step pain of each day, and its usual variation where that is known."""
    known = [d for d in days if d.usual is not None]
    banded = [(d, d.usual or 0.0, d.variation) for d in known if d.variation is not None]
    if banded:
        upper = [
            (axis.x(d.on), frame.y(min(Pain.highest, usual + varies)))
            for d, usual, varies in banded
        ]
        lower = [
            (axis.x(d.on), frame.y(max(Pain.lowest, usual - varies))) for d, usual, varies in banded
        ]
        yield area([*upper, *reversed(lower)])
    if known:
        points = [(axis.x(d.on), frame.y(d.usual or 0)) for d in known]
        yield line(points, width=1, colour="#666666")


def _sessions(course: Course, axis: Axis, frame: Frame, scale: float) -> Iterator[str]:
    yield from _panel(frame, axis, "Sessions", [0, 5, 10])
    limit = f"limit {course.pain_limit}"
    entries = [("square", "worst during"), ("dot", "after"), ("limit", limit)]
    yield from _key(frame.top - 12, entries, 94)
    # The limit itself is allowed, so the line stands between it and the next point.
    yield dashes(axis.left, axis.right, frame.y(course.pain_limit + 0.5))
    for d in course.days:
        if d.pain_during is not None:
            yield mark("square", axis.x(d.on), frame.y(d.pain_during), scale)
        if d.pain_after is not None:
            yield mark("dot", axis.x(d.on), frame.y(d.pain_after), scale * 0.7)


def _stiffness(days: Sequence[CourseDay], axis: Axis, frame: Frame) -> Iterator[str]:
    yield from _panel(frame, axis, "Morning stiffness, minutes", [0, frame.highest])
    for d in days:
        if d.stiffness is not None:
            x, wide = axis.x(d.on), min(6.0, 0.6 * axis.width / axis.days)
            yield line([(x, frame.bottom), (x, frame.y(d.stiffness) - 0.5)], width=wide)


def _levels(days: Sequence[CourseDay], axis: Axis, frame: Frame) -> Iterator[str]:
    yield from _panel(frame, axis, "Level of the ladder", [0, frame.highest])
    half = axis.width / axis.days / 2
    points: list[tuple[float, float]] = []
    for d in days:
        if d.level is not None:
            x, y = axis.x(d.on), frame.y(d.level)
            points += [(x - half, y), (x + half, y)]
    if points:
        yield line(points, width=2)
        yield from _ends(days, axis, frame)


def _ends(days: Sequence[CourseDay], axis: Axis, frame: Frame) -> Iterator[str]:
    """The level in figures wherever it changes and has room."""
    shown, last_x = None, -100.0
    for d in days:
        x = axis.x(d.on)
        if d.level is not None and d.level != shown and x - last_x > 10:
            y = frame.y(d.level)
            yield text(x, y - 4 if y - 4 > frame.top + 4 else y + 14, str(d.level), size=12)
            shown, last_x = d.level, x


def _advice(days: Sequence[CourseDay], axis: Axis, top: float, scale: float) -> Iterator[str]:
    yield text(8, top - 12, "Advice of the day", bold=True)
    for number, (action, shape) in enumerate(ADVICE_ROWS):
        y = top + number * ROW + 6
        yield text(8, y + 4, action.value, size=12)
        yield line([(axis.left, y), (axis.right, y)], width=0.5, colour="#dddddd")
        yield from (mark(shape, axis.x(d.on), y, scale) for d in days if action in d.advised)


def _raised(course: Course, axis: Axis, y: float, top: float) -> Iterator[str]:
    """Numbers of what was raised, each under a line through all panels; those of one day, or too
    near for both, in one."""
    yield text(8, y, "raised", size=12)
    listed: list[tuple[float, list[int]]] = []
    for on, number in course.raised:
        x = axis.x(on)
        yield line([(x, top), (x, y - 12)], width=1, colour="#888888")
        if listed and x - listed[-1][0] < 9 * (1 + len(listed[-1][1])):
            listed[-1][1].append(number)
        else:
            listed.append((x, [number]))
    for x, numbers in listed:
        told = ",".join(str(number) for number in numbers)
        yield text(min(x, axis.right - 8 * len(told) / 2), y, told, anchor="middle", size=12)
