"""Draws the course of one patient under its verdict, in the reader's language.

For a phone or paper. Grey alone, so that a copy in black and white can be read. Days without an
answer stay empty, and nothing is joined over them. Read next: `panels`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from textwrap import wrap

from bot.charts.course import Course, course_words
from bot.charts.panels import PANELS, View, dates
from bot.charts.shapes import Axis, text
from dialogs.verdict import HEAD_LINES

# Widths of a picture [pixels]: of a narrow phone, and of the text on A4 paper. Convention.
PHONE_WIDTH, PAPER_WIDTH = 390, 680

# Margins, and a line of the verdict [pixels]; a letter takes so much [pixels, plain and bold].
# Convention.
LEFT, RIGHT, EDGE, LINE = 34, 10, 8, 18
LETTER, LETTER_BOLD = 6.8, 8.0

TYPEFACES = "DejaVu Sans, Liberation Sans, Noto Sans, Arial, sans-serif"


@dataclass(frozen=True)
class Heading:
    """What stands over a picture. `verdict`: its first lines hold it, the others its figures."""

    title: str
    verdict: tuple[str, ...] = ()


def course_svg(
    course: Course, heading: Heading, language: str = "en", width: int = PHONE_WIDTH
) -> str:
    """The picture, `width` pixels wide."""
    axis = Axis(course.days[0].on, len(course.days), LEFT, width - LEFT - RIGHT)
    view = View(course, axis, language)
    head, first = _head(heading, width)
    drawn: list[str] = []
    top, last = first, first
    for number, panel in enumerate(PANELS):
        parts, top = panel(view, top)
        drawn += parts
        last = top if parts else last
        if number == 0:
            drawn += dates(view, top)
            top += LINE
    drawn += dates(view, last)
    told = (*(f"{one}." for one in heading.verdict), course_words(course, language))
    return "\n".join(
        (
            *opening(heading.title, " ".join(told), width, last + 24),
            *head,
            *drawn,
            "</svg>",
        )
    )


def opening(title: str, words: str, width: int, height: int) -> Iterator[str]:
    """The beginning of a picture, which is told in words for whoever cannot see it."""
    yield (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{width}" height="{height}"'
        f' viewBox="0 0 {width} {height}" font-family="{TYPEFACES}" font-size="13"'
        f' fill="#000000" aria-label="{escape(title)}. {escape(words)}">'
    )
    yield f'<rect width="{width}" height="{height}" fill="#ffffff"/>'
    yield text(EDGE, 20, title, size=15, bold=True)


def _head(heading: Heading, width: int) -> tuple[list[str], int]:
    """The verdict, in lines that have room, and where it ends."""
    parts, y = [], 24
    for number, told in enumerate(heading.verdict):
        bold = number < HEAD_LINES
        letters = int((width - 2 * EDGE) / (LETTER_BOLD if bold else LETTER))
        for part in wrap(told, letters):
            y += LINE
            parts.append(text(EDGE, y, part, bold=bold))
    return parts, y + 6
