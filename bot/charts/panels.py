"""The panels of a patient's course, one under another on one axis of days. One meaning a mark:
a dot is a morning's answer, a square a session's, a filled diamond is over the limit, a ring is
above what is usual; what a panel uses is explained over it. Computes nothing.

Read next: `shapes`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import TypeVar

from bot.charts.course import NEWS, Course, CourseDay
from bot.charts.shapes import Axis, Frame, area, dashes, line, mark, text
from dialogs.lines import chart_day, chart_line, word_for
from rules.protocol import Position
from rules.quantities import Pain
from rules.reasons import Action

# Heights of the panels, of a title, of a row of the key, and of a row of advice [pixels], and the
# room a letter of a key takes [pixels]. Convention.
MORNING_HEIGHT, LADDER_HEIGHT, SESSION_HEIGHT = 100, 108, 72
TITLE, KEY, ROW, LETTER = 30, 17, 18, 6.7

# Levels of the ladder that are drawn [count, at least]. Convention.
LEVELS_MIN = 4

# Marks are as wide as a day allows, between these [share of 10 pixels]. Convention.
SCALE_MIN, SCALE_MAX = 0.5, 0.9

ADVICE_MARKS = {Action.DO_LESS: "less", Action.STEP_BACK: "down", Action.STOP: "cross"}

GREY, PALE = "#777777", "#cccccc"


@dataclass(frozen=True)
class View:
    """What the panels share: the course, its days from left to right, the reader's language."""

    course: Course
    axis: Axis
    language: str

    @property
    def scale(self) -> float:
        """How large a mark is."""
        return min(SCALE_MAX, max(SCALE_MIN, self.axis.width / self.axis.days / 10))

    @property
    def half(self) -> float:
        """Half a day [pixels]."""
        return self.axis.width / self.axis.days / 2

    def say(self, name: str, **values: int) -> str:
        """A word of the picture."""
        return chart_line(name, self.language, **values)


Drawn = tuple[list[str], int]
"""Shapes, and where they end [pixels from the top]."""

Value = TypeVar("Value")

PanelDrawing = Callable[[View, int], Drawn]


def pain_panel(view: View, top: int) -> Drawn:
    """First-step pain with limit and usual."""
    course = view.course
    keys = [
        ("dot", view.say("key-answer")),
        ("band", view.say("key-band")),
        ("limit", view.say("key-limit", limit=course.pain_limit)),
        ("over", view.say("key-over")),
        ("ring", view.say("key-above")),
    ]
    parts, frame = _panel(view, top, "pain", keys, MORNING_HEIGHT, (0, 5, 10))
    parts = [*usual_shapes(course.days, view.axis, frame), *parts]
    parts += limit_line(course, view.axis, frame)
    parts += morning_marks(course, view.axis, frame, view.scale)
    return parts, frame.bottom


def stiffness_panel(view: View, top: int) -> Drawn:
    """Minutes of stiffness with their usual, as large as the pain."""
    days = view.course.days
    longest = max((d.stiffness or 0 for d in days), default=0)
    highest = max(30, -(-longest // 30) * 30)
    keys = [("dot", view.say("key-answer")), ("usual", view.say("key-usual"))]
    ticks = (0, highest // 2, highest)
    parts, frame = _panel(view, top, "stiffness", keys, MORNING_HEIGHT, ticks, highest)
    for usual in _runs([(d, d.usual_stiffness) for d in days]):
        parts.append(_level_line(usual, view.axis, frame))
    for run in _runs([(d, d.stiffness) for d in days]):
        points = [(view.axis.x(d.on), frame.y(value)) for d, value in run]
        parts.append(line(points, width=1))
        parts += (mark("dot", x, y, view.scale) for x, y in points)
    return parts, frame.bottom


def ladder_panel(view: View, top: int) -> Drawn:
    """The place that was set, as a line, and each session at the place it was done at, as a column:
    a level is a step of the scale, its doses lie between."""
    course, axis, half = view.course, view.axis, view.half
    keys = [
        ("place", view.say("key-place")),
        ("whole", view.say("key-session")),
        ("part", view.say("key-part")),
    ]
    levels = min(len(course.doses), _levels(course))
    parts, frame = _panel(view, top, "ladder", keys, LADDER_HEIGHT, range(1, levels + 1), levels)
    wide = max(2.0, min(8.0, 1.3 * half))
    for d in course.days:
        if d.done is not None:
            y = frame.y(_height(course, d.done))
            parts.append(_column(axis.x(d.on), y, frame.bottom, wide, whole=d.whole))
    placed = [(d, None if d.place is None else _height(course, d.place)) for d in course.days]
    for run in _runs(placed):
        points = [
            (axis.x(d.on) + side, frame.y(value)) for d, value in run for side in (-half, half)
        ]
        parts.append(line(points, width=2))
    return parts, frame.bottom


def session_panel(view: View, top: int) -> Drawn:
    """The worst pain of each session, under the load it was done with."""
    course = view.course
    keys = [
        ("square", view.say("key-within")),
        ("limit", view.say("key-limit", limit=course.pain_limit)),
        ("over", view.say("key-over")),
    ]
    parts, frame = _panel(view, top, "session-pain", keys, SESSION_HEIGHT, (0, 5, 10))
    parts += limit_line(course, view.axis, frame)
    for d in course.days:
        if d.pain_during is not None:
            shape = "over" if course.is_over(d.pain_during) else "square"
            parts.append(mark(shape, view.axis.x(d.on), frame.y(d.pain_during), view.scale * 0.85))
    return parts, frame.bottom


def news_panel(view: View, top: int) -> Drawn:
    """The days on which the load was lowered or stopped, the gravest of a day; nothing where there
    was none."""
    marked = [(d, [action for action in NEWS if action in d.advised]) for d in view.course.days]
    if not any(found for _, found in marked):
        return [], top
    keys = [(ADVICE_MARKS[one], word_for("action", one, view.language)) for one in NEWS]
    parts, frame = _panel(view, top, "news", keys, ROW, ())
    y = frame.y(5)
    for d, found in marked:
        if found:
            parts.append(mark(ADVICE_MARKS[found[-1]], view.axis.x(d.on), y, view.scale))
    return parts, frame.bottom


def raised_panel(view: View, top: int) -> Drawn:
    """Numbers of what was raised, under their days; those too near for both in one."""
    if not view.course.raised:
        return [], top
    parts, frame = _panel(view, top, "raised", (), ROW, ())
    listed: list[tuple[float, list[int]]] = []
    for on, number in view.course.raised:
        x = view.axis.x(on)
        if listed and x - listed[-1][0] < 9 * (1 + len(listed[-1][1])):
            listed[-1][1].append(number)
        else:
            listed.append((x, [number]))
    for x, numbers in listed:
        told = ",".join(str(number) for number in numbers)
        at = min(x, view.axis.right - 8 * len(told) / 2)
        parts.append(text(at, frame.bottom - 4, told, anchor="middle", size=12))
    return parts, frame.bottom


PANELS: Sequence[PanelDrawing] = (
    pain_panel,
    stiffness_panel,
    ladder_panel,
    session_panel,
    news_panel,
    raised_panel,
)


def dates(view: View, top: int) -> list[str]:
    """The first day of a week, as often as there is room, under a panel that ends at `top`."""
    axis, parts = view.axis, []
    every = 7 * max(1, -(-58 * axis.days // (7 * axis.width)))
    for index in range(0, axis.days, every):
        on = chart_day(axis.date_of_index(index), view.language)
        parts.append(text(axis.x_of_index(index), top + 15, on, anchor="middle", size=12))
    return parts


def usual_shapes(days: Sequence[CourseDay], axis: Axis, frame: Frame) -> Iterator[str]:
    """The usual first-step pain of days with an answer, and its usual variation in grey."""
    for run in _runs([(d, d.band) for d in days]):
        half = axis.width / axis.days / 2
        cut = [(d, [min(10.0, max(0.0, end)) for end in band]) for d, band in run]
        sides = [(d, ends, axis.x(d.on) + side) for d, ends in cut for side in (-half, half)]
        upper = [(x, frame.y(ends[1])) for _, ends, x in sides]
        lower = [(x, frame.y(ends[0])) for _, ends, x in sides]
        yield area([*upper, *reversed(lower)])
    for known in _runs([(d, d.usual) for d in days]):
        yield _level_line(known, axis, frame)


def limit_line(course: Course, axis: Axis, frame: Frame) -> Iterator[str]:
    """The limit itself is allowed, so the line stands between it and the next point."""
    if course.pain_limit < Pain.highest:
        yield dashes(axis.left, axis.right, frame.y(course.pain_limit + 0.5))


def morning_marks(course: Course, axis: Axis, frame: Frame, scale: float) -> Iterator[str]:
    """First-step pain, joined over following answers: a dot, a diamond over the limit, a ring about
    what is above usual."""
    for run in _runs([(d, d.first_step_pain) for d in course.days]):
        points = [(axis.x(d.on), frame.y(pain)) for d, pain in run]
        yield line(points, width=1)
        for (d, pain), (x, y) in zip(run, points, strict=True):
            yield mark("over" if course.is_over(pain) else "dot", x, y, scale)
            if course.is_above(d):
                yield mark("ring", x, y, scale)


def _runs(days: Sequence[tuple[CourseDay, Value | None]]) -> list[list[tuple[CourseDay, Value]]]:
    """Days that follow each other and have a value; a gap ends a run."""
    grouped = groupby(days, lambda one: one[1] is not None)
    return [
        [(d, value) for d, value in run if value is not None] for known, run in grouped if known
    ]


def _level_line(run: Sequence[tuple[CourseDay, float]], axis: Axis, frame: Frame) -> str:
    """A value of each day, as wide as the day."""
    half = axis.width / axis.days / 2
    sides = [(axis.x(d.on) + side, frame.y(value)) for d, value in run for side in (-half, half)]
    return line(sides, width=1.5, colour=GREY)


def _levels(course: Course) -> int:
    """How many levels are drawn: one more than was reached, so that a dose can be seen."""
    places = [place.level for d in course.days for place in (d.place, d.done) if place is not None]
    return max(LEVELS_MIN, 1 + max(places, default=0))


def _height(course: Course, place: Position) -> float:
    """A place on the scale of levels: the highest dose of a level stands at its number."""
    return place.level - 1 + place.dose / course.doses[place.level - 1]


def _column(x: float, y: float, bottom: float, wide: float, *, whole: bool) -> str:
    fill = "#999999" if whole else "#ffffff"
    return (
        f'<rect x="{x - wide / 2:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{bottom - y:.1f}"'
        f' fill="{fill}" stroke="#000000" stroke-width="0.8"/>'
    )


def _panel(
    view: View,
    top: int,
    title: str,
    keys: Sequence[tuple[str, str]],
    height: int,
    ticks: Sequence[int],
    highest: float = 10.0,
) -> tuple[list[str], Frame]:
    """Title, key and scale of a panel that begins at `top`."""
    axis = view.axis
    words = view.say(title, levels=len(view.course.doses))
    parts = [text(8, top + TITLE - 10, words, bold=True)]
    rows = key_rows(keys, axis.right - 8) if keys else []
    for number, row in enumerate(rows):
        parts += key(top + TITLE + 6 + number * KEY, row)
    frame = Frame(top + TITLE + len(rows) * KEY + 2, height, highest)
    for index in range(0, axis.days, 7):
        x = axis.x_of_index(index)
        parts.append(line([(x, frame.top), (x, frame.bottom)], width=0.5, colour=PALE))
    for tick in ticks:
        y = frame.y(tick)
        parts.append(line([(axis.left, y), (axis.right, y)], width=0.5, colour=PALE))
        parts.append(text(axis.left - 6, y + 4, str(tick), anchor="end", size=11))
    parts.append(line([(axis.left, frame.bottom), (axis.right, frame.bottom)], width=1))
    return parts, frame


def key_rows(keys: Sequence[tuple[str, str]], wide: int) -> list[list[tuple[str, str]]]:
    """What marks mean, in as few rows as it has room in."""
    rows: list[list[tuple[str, str]]] = [[]]
    left = float(wide)
    for shape, words in keys:
        needed = _width(words)
        if rows[-1] and left < needed:
            rows.append([])
            left = float(wide)
        rows[-1].append((shape, words))
        left -= needed
    return rows


def _width(words: str) -> float:
    return 32 + LETTER * len(words)


def key(y: float, row: Sequence[tuple[str, str]]) -> Iterator[str]:
    """One row of it, its letters standing at `y`."""
    x = 14.0
    for shape, words in row:
        yield from _key_mark(shape, x, y - 4)
        yield text(x + 13, y, words, size=12)
        x += _width(words)


def _key_mark(shape: str, x: float, y: float) -> Iterator[str]:
    """A mark, a line or an area as it stands in a key."""
    if shape == "band":
        yield area([(x - 8, y - 6), (x + 8, y - 6), (x + 8, y + 6), (x - 8, y + 6)])
    if shape in ("band", "usual"):
        yield line([(x - 8, y), (x + 8, y)], width=1.5, colour=GREY)
    elif shape == "place":
        yield line([(x - 8, y), (x + 8, y)], width=2)
    elif shape == "limit":
        yield dashes(x - 9, x + 9, y)
    elif shape in ("whole", "part"):
        yield _column(x, y - 6, y + 6, 7, whole=shape == "whole")
    elif shape == "ring":
        yield mark("dot", x, y, 0.75)
        yield mark("ring", x, y, 0.75)
    else:
        yield mark(shape, x, y, 0.75)
