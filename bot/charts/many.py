"""Draws a whole caseload: one small chart a patient, all on the same scale, in the order given.

Words say what each is there for; steps down and a stop have their shapes. Computes nothing.
Read next: `course`, the chart of one patient.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from itertools import groupby

from bot.charts.course import PHONE_WIDTH, TYPEFACES, CourseDay, course_band, day_text
from bot.charts.shapes import Axis, Frame, line, mark, text
from rules.reasons import Action

# Charts side by side, and shown at most [count]. Convention: what a phone's width and a minute of
# reading hold.
COLUMNS, CELLS_MAX = 2, 20

# Margins and heights [pixels]. Convention.
TOP, CELL_HEIGHT, CHART_HEIGHT, GAP, TICKS = 74, 124, 52, 10, 18

# Letters of a line over a chart [characters, at most]: what its width holds. Convention.
LETTERS_MAX = 25

MARKED = ((Action.DO_LESS, "less"), (Action.STEP_BACK, "down"), (Action.STOP, "cross"))
"""Words of advice that are marked under a chart, each with its shape."""


@dataclass(frozen=True)
class Cell:
    """One patient: a name, why they stand here, and consecutive days, at least one."""

    name: str
    why: str
    days: tuple[CourseDay, ...]


def many_svg(cells: Sequence[Cell], title: str) -> str:
    """The picture, as wide as a phone; more than `CELLS_MAX` patients are counted, not drawn."""
    shown, more = cells[:CELLS_MAX], len(cells) - CELLS_MAX
    rows = -(-len(shown) // COLUMNS)
    height = TOP + rows * CELL_HEIGHT + (24 if more > 0 else 4)
    told = "; ".join(f"{cell.name}: {cell.why}" for cell in shown)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{PHONE_WIDTH}"'
        f' height="{height}" viewBox="0 0 {PHONE_WIDTH} {height}" font-family="{TYPEFACES}"'
        f' font-size="13" fill="#000000" aria-label="{escape(title)}. {escape(told)}">',
        f'<rect width="{PHONE_WIDTH}" height="{height}" fill="#ffffff"/>',
        text(8, 20, title, size=15, bold=True),
        text(8, 39, "First-step pain, 0 to 10. Grey: usual and its variation.", size=12),
        mark("down", 13, 53, 0.8),
        text(24, 57, "step back", size=12),
        mark("less", 103, 53, 0.8),
        text(114, 57, "do less", size=12),
        mark("cross", 173, 53, 0.8),
        text(184, 57, "stop: a warning sign", size=12),
    ]
    for number, cell in enumerate(shown):
        parts += _cell(cell, number)
    if more > 0:
        parts.append(text(8, height - 8, f"And {more} more, who need less.", size=12))
    return "\n".join([*parts, "</svg>"])


def _cell(cell: Cell, number: int) -> Iterator[str]:
    wide = (PHONE_WIDTH - GAP * (COLUMNS + 1)) // COLUMNS
    left = GAP + number % COLUMNS * (wide + GAP)
    top = TOP + number // COLUMNS * CELL_HEIGHT
    axis = Axis(cell.days[0].on, len(cell.days), left + TICKS, wide - TICKS)
    frame = Frame(top + 38, CHART_HEIGHT, 10.0)
    yield text(left, top + 12, _cut(cell.name), bold=True)
    yield text(left, top + 27, _cut(cell.why), size=12)
    yield from course_band(cell.days, axis, frame)
    for tick in (0, 5, 10):
        colour = "#bbbbbb" if tick else "#000000"
        yield line([(axis.left, frame.y(tick)), (axis.right, frame.y(tick))], width=0.8,
                   colour=colour)  # fmt: skip
        yield text(axis.left - 4, frame.y(tick) + 4, str(tick), anchor="end", size=11)
    for answered, run in groupby(cell.days, lambda d: d.first_step_pain is not None):
        points = [(axis.x(d.on), frame.y(d.first_step_pain or 0)) for d in run]
        if answered:
            yield line(points, width=1)
            yield from (mark("dot", x, y, 0.5) for x, y in points)
    for action, shape in MARKED:
        marked = (d for d in cell.days if action in d.advised)
        yield from (mark(shape, axis.x(d.on), frame.bottom + 7, 0.6) for d in marked)
    yield text(axis.left, frame.bottom + 24, day_text(cell.days[0].on), size=11)
    yield text(axis.right, frame.bottom + 24, day_text(cell.days[-1].on), anchor="end", size=11)


def _cut(words: str) -> str:
    return words if len(words) <= LETTERS_MAX else f"{words[: LETTERS_MAX - 3].rstrip()}..."
