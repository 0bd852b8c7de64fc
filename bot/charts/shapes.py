"""The shapes a picture is made of: axes, lines, marks, words, as SVG text. Knows no patient."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from html import escape

Point = tuple[float, float]


@dataclass(frozen=True)
class Axis:
    """Days from left to right: `days` of them from `first`, over `width` pixels from `left`."""

    first: date
    days: int
    left: int
    width: int

    @property
    def right(self) -> int:
        """Its right end [pixels]."""
        return self.left + self.width

    def x(self, on: date) -> float:
        """The middle of a day [pixels]."""
        return self.x_of_index((on - self.first).days)

    def x_of_index(self, index: int) -> float:
        """The middle of a day counted from 0 [pixels]."""
        return self.left + (index + 0.5) * self.width / self.days

    def date_of_index(self, index: int) -> date:
        """The date of a day counted from 0."""
        return self.first + timedelta(days=index)


@dataclass(frozen=True)
class Frame:
    """Values from 0 at the bottom to `highest` at the top, over `height` pixels from `top`."""

    top: int
    height: int
    highest: float

    @property
    def bottom(self) -> int:
        """Its lower edge [pixels]."""
        return self.top + self.height

    def y(self, value: float) -> float:
        """Where a value stands [pixels]."""
        return self.bottom - value * self.height / self.highest


def text(
    x: float, y: float, words: str, *, anchor: str = "start", size: int = 13, bold: bool = False
) -> str:
    """Words, whatever characters they hold."""
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="{size}"{weight}>'
        f"{escape(words)}</text>"
    )


def line(points: Sequence[Point], *, width: float, colour: str = "#000000") -> str:
    """A line through points."""
    return (
        f'<polyline points="{_spelled(points)}" fill="none" stroke="{colour}"'
        f' stroke-width="{width}"/>'
    )


def dashes(left: float, right: float, y: float) -> str:
    """A dashed line across."""
    return (
        f'<line x1="{left:.1f}" y1="{y:.1f}" x2="{right:.1f}" y2="{y:.1f}" stroke="#000000"'
        ' stroke-width="1.2" stroke-dasharray="6 4"/>'
    )


def dots(left: float, right: float, y: float) -> str:
    """A dotted line across."""
    return (
        f'<line x1="{left:.1f}" y1="{y:.1f}" x2="{right:.1f}" y2="{y:.1f}" stroke="#000000"'
        ' stroke-width="1" stroke-dasharray="1 4"/>'
    )


def area(points: Sequence[Point]) -> str:
    """A light grey area."""
    return f'<polygon points="{_spelled(points)}" fill="#d9d9d9"/>'


def mark(shape: str, x: float, y: float, scale: float = 1.0) -> str:
    """One mark about a point: dot, ring, square, diamond, over (a filled diamond), bar, up, down,
    less (down, not filled) or cross. `scale` 1: 10 pixels; a diamond stands about a dot.
    """
    half = 5 * scale
    outline = f'fill="none" stroke="#000000" stroke-width="{max(1.0, 1.6 * scale):.1f}"'
    if shape == "dot":
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{3.4 * scale:.1f}"/>'
    if shape == "ring":
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{half:.1f}" {outline}/>'
    if shape == "square":
        side = f'width="{2 * half:.1f}" height="{2 * half:.1f}"'
        return f'<rect x="{x - half:.1f}" y="{y - half:.1f}" {side} {outline}/>'
    if shape in ("over", "diamond"):
        wide = (6.2 if shape == "over" else 7.5) * scale
        round_it = f"l{wide:.1f} {wide:.1f}l{wide:.1f} {-wide:.1f}l{-wide:.1f} {-wide:.1f}z"
        filled = "" if shape == "over" else f" {outline}"
        return f'<path d="M{x - wide:.1f} {y:.1f}{round_it}"{filled}/>'
    if shape == "bar":
        thick = 3 * scale
        side = f'width="{2 * half:.1f}" height="{thick:.1f}"'
        return f'<rect x="{x - half:.1f}" y="{y - thick / 2:.1f}" {side}/>'
    if shape == "cross":
        across = f"l{2 * half:.1f} {2 * half:.1f}m0 {-2 * half:.1f}l{-2 * half:.1f} {2 * half:.1f}"
        return (
            f'<path d="M{x - half:.1f} {y - half:.1f}{across}" stroke="#000000"'
            f' stroke-width="{3 * scale:.1f}"/>'
        )
    rise = {"up": -scale, "down": scale, "less": scale}[shape]
    wide = 6 * scale
    tip = f"M{x:.1f} {y + 6 * rise:.1f}"
    filled = outline if shape == "less" else 'fill="#000000"'
    return f'<path d="{tip}l{wide:.1f} {-11 * rise:.1f}h{-2 * wide:.1f}z" {filled}/>'


def _spelled(points: Sequence[Point]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
