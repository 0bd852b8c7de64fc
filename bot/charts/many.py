"""Draws a whole caseload in pages: one small chart a patient, all on one scale, in the order given.

Words say what each is there for, and the verdict. The marks are those of one patient's course.
Computes nothing. Read next: `course_picture`, the chart of one patient.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from bot.charts.course import NEWS, Course
from bot.charts.course_picture import PHONE_WIDTH, opening
from bot.charts.panels import (
    ADVICE_MARKS,
    KEY,
    PALE,
    key,
    key_rows,
    limit_line,
    morning_marks,
    usual_shapes,
)  # fmt: skip
from bot.charts.shapes import Axis, Frame, line, mark, text
from dialogs.lines import chart_day, chart_line, word_for

# Charts side by side, and on one page [count, at most]. Convention: what a phone's width holds, and
# a picture that a phone need not be scrolled through.
COLUMNS, CELLS_MAX = 2, 12

# Margins and heights [pixels]. Convention.
TOP, CELL_HEIGHT, CHART_HEIGHT, GAP, TICKS = 88, 142, 52, 10, 18

# Letters of a line over a chart [characters, at most, plain and bold]: what its width holds.
LETTERS_MAX, LETTERS_BOLD_MAX = 27, 20

MORNING_KEYS = (("over", "over"), ("ring", "above"))


@dataclass(frozen=True)
class Cell:
    """One patient: a name, why they stand here, the verdict in a few words, and the course."""

    name: str
    why: str
    verdict: str
    course: Course


def many_svgs(cells: Sequence[Cell], title: str, language: str = "en") -> list[str]:
    """The pictures, each as wide as a phone, of at most `CELLS_MAX` patients."""
    pages = [cells[first : first + CELLS_MAX] for first in range(0, len(cells), CELLS_MAX)]
    return [
        _page(page, _titled(title, number, len(pages), language), language)
        for number, page in enumerate(pages, 1)
    ]


def _titled(title: str, number: int, count: int, language: str) -> str:
    if count == 1:
        return title
    return chart_line("page", language, title=title, number=number, count=count)


def _page(cells: Sequence[Cell], title: str, language: str) -> str:
    height = TOP + -(-len(cells) // COLUMNS) * CELL_HEIGHT + 4
    told = "; ".join(f"{cell.name}: {cell.why}, {cell.verdict}" for cell in cells)
    parts = [
        *opening(title, told, PHONE_WIDTH, height),
        text(8, 39, chart_line("cell-key", language), size=12),
        *_key(language),
    ]
    for number, cell in enumerate(cells):
        parts += _cell(cell, number, language)
    return "\n".join([*parts, "</svg>"])


def _key(language: str) -> Iterator[str]:
    marks = [(shape, chart_line(f"key-{name}", language)) for shape, name in MORNING_KEYS]
    marks += [(ADVICE_MARKS[one], word_for("action", one, language)) for one in NEWS]
    for number, row in enumerate(key_rows(marks, PHONE_WIDTH - 24)):
        yield from key(57 + number * KEY, row)


def _cell(cell: Cell, number: int, language: str) -> Iterator[str]:
    wide = (PHONE_WIDTH - GAP * (COLUMNS + 1)) // COLUMNS
    left = GAP + number % COLUMNS * (wide + GAP)
    top = TOP + number // COLUMNS * CELL_HEIGHT
    course, days = cell.course, cell.course.days
    axis = Axis(days[0].on, len(days), left + TICKS, wide - TICKS)
    frame = Frame(top + 54, CHART_HEIGHT, 10.0)
    yield text(left, top + 12, _cut(cell.name, LETTERS_BOLD_MAX), bold=True)
    yield text(left, top + 27, _cut(cell.why, LETTERS_MAX), size=12)
    yield text(left, top + 42, _cut(cell.verdict, LETTERS_MAX), size=12)
    yield from usual_shapes(days, axis, frame)
    for tick in (0, 5, 10):
        colour = PALE if tick else "#000000"
        ends = [(axis.left, frame.y(tick)), (axis.right, frame.y(tick))]
        yield line(ends, width=0.8, colour=colour)
        yield text(axis.left - 4, frame.y(tick) + 4, str(tick), anchor="end", size=11)
    yield from limit_line(course, axis, frame)
    yield from morning_marks(course, axis, frame, 0.55)
    for action in NEWS:
        marked = (d for d in days if action in d.advised)
        shape = ADVICE_MARKS[action]
        yield from (mark(shape, axis.x(d.on), frame.bottom + 7, 0.6) for d in marked)
    ends_at = frame.bottom + 25
    yield text(axis.left, ends_at, chart_day(days[0].on, language), size=11)
    yield text(axis.right, ends_at, chart_day(days[-1].on, language), anchor="end", size=11)


def _cut(words: str, letters: int) -> str:
    return words if len(words) <= letters else f"{words[: letters - 3].rstrip()}..."
