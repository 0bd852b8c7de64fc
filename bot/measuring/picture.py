"""Draws what a protocol costs and what it gives: false alarms against flares met, overload against
weeks. Two protocols are told apart by their marks and lines, never by colour alone. Only SVG text.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, isfinite

from bot.charts.shapes import dashes, line, mark, text
from bot.measuring.estimates import Estimate
from bot.measuring.tables import Measured, Row
from rules.protocol import Protocol

WIDTH, HEIGHT, TOP, LEFT, PANEL, GAP, BOTTOM = 1080, 570, 120, 70, 430, 110, 480
"""All measures: pixels."""
WEEKS_SHOWN = 60.0
MARKS = ("dot", "square")
"""The first protocol's, and that of the other."""


@dataclass(frozen=True)
class Panel:
    """A square with two scales from 0, or from `least` upwards on the vertical one."""

    left: int
    across: str
    most: float
    up: str
    least: float
    highest: float

    def x(self, value: float) -> float:
        """From the left [pixels]."""
        return self.left + min(value, self.most) * PANEL / self.most

    def y(self, value: float) -> float:
        """From the top [pixels]."""
        part = (max(value, self.least) - self.least) / (self.highest - self.least)
        return BOTTOM - part * (BOTTOM - TOP)

    def frame(self) -> Iterator[str]:
        """The axes with their words and five ticks each."""
        yield line([(self.left, TOP), (self.left, BOTTOM), (self.left + PANEL, BOTTOM)], width=1.2)
        yield text(self.left + PANEL / 2, BOTTOM + 44, self.across, anchor="middle")
        yield text(self.left - 46, TOP - 22, self.up)
        for part in range(1, 6):
            value = self.most * part / 5
            yield text(self.x(value), BOTTOM + 20, f"{value:g}", anchor="middle", size=12)
            value = self.least + (self.highest - self.least) * part / 5
            yield text(self.left - 8, self.y(value) + 4, f"{value:g}", anchor="end", size=12)
            yield dashes(self.left, self.left + 6, self.y(value))

    def points(self, which: int, named: Sequence[tuple[str, Estimate, Estimate]]) -> Iterator[str]:
        """Marks with their names and whiskers, joined in their order."""
        spots = [(self.x(x.value), self.y(y.value)) for _name, x, y in named]
        yield line(spots, width=1.0, colour="#8c8c8c")
        for (name, x, y), (across, up) in zip(named, spots, strict=True):
            yield line([(self.x(x.low), up), (self.x(x.high), up)], width=1.0)
            yield line([(across, self.y(y.low)), (across, self.y(y.high))], width=1.0)
            yield mark(MARKS[which], across, up)
            yield text(across + 9, up + 16, name, size=12)


def svg_text(found: Measured, protocols: Sequence[Protocol]) -> str:
    """The picture as SVG."""
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{HEIGHT}"'
        f' viewBox="0 0 {WIDTH} {HEIGHT}" font-family="DejaVu Sans, Liberation Sans, sans-serif"'
        ' font-size="13" fill="#000000">',
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>',
        text(24, 28, "Invented patients, invented load model: nothing measured on people", size=16),
        *_legend(protocols),
        *_alarms(found, len(protocols)),
        *_climbs(found, len(protocols)),
        "</svg>",
    ]
    return "\n".join(parts)


def _legend(protocols: Sequence[Protocol]) -> Iterator[str]:
    for which, protocol in enumerate(protocols):
        yield mark(MARKS[which], 30 + 420 * which, 54)
        yield text(42 + 420 * which, 58, f"{protocol.name}, version {protocol.version}")


def _alarms(found: Measured, protocols: int) -> Iterator[str]:
    """False alarms of stable patients against flares of three points that are met, by mean pain."""
    across = "stable weeks with load or a session taken away, %"
    up = "flares of 3 points met within 2 days, % (1-4: mean pain)"
    named = []
    for which in range(protocols):
        weeks = [row.cells[3] for row in _rows(found.stable[0].rows, which)]
        met = _rows(found.troubles.rows, which)[0].cells
        named.append([(str(n + 1), _hundred(x), _hundred(met[n])) for n, x in enumerate(weeks)])
    low = min(y.value for one in named for _name, _x, y in one)
    panel = Panel(LEFT, across, _round_up(named, 10), up, 50.0 if low >= 50 else 0.0, 100.0)
    yield from panel.frame()
    for which, one in enumerate(named):
        yield from panel.points(which, one)


def _climbs(found: Measured, protocols: int) -> Iterator[str]:
    """Overload sessions against weeks to the first part of the ladder, with flares from outside."""
    named = []
    for which in range(protocols):
        rows = [
            row
            for row in _rows(found.climbs.rows, which)
            if "flares" in row.group and "slowed" not in row.group
        ]
        for level in dict.fromkeys(row.group.split(",")[0] for row in rows):
            those = [row for row in rows if row.group.startswith(level)]
            speeds = [f"{row.group.split(', ', 2)[2]} ({level.split()[-1]})" for row in those]
            xs = [row.cells[-3] for row in those]
            ys = [_at_most(row.cells[0]) for row in those]
            named.append((which, list(zip(speeds, xs, ys, strict=True))))
    across = "overload sessions (in brackets: level at first)"
    up = f"weeks to {found.climbs.columns[0]}; at the top: not by half of them"
    most = _round_up([one for _which, one in named], 10)
    panel = Panel(LEFT + PANEL + GAP, across, most, up, 0.0, WEEKS_SHOWN)
    yield from panel.frame()
    for which, one in named:
        yield from panel.points(which, one)


def _at_most(weeks: Estimate) -> Estimate:
    """The same with never at the top of the scale."""
    value, low, high = (min(end, WEEKS_SHOWN) for end in (weeks.value, weeks.low, weeks.high))
    return Estimate(value, low, high)


def _rows(rows: Sequence[Row], which: int) -> list[Row]:
    return [row for row in rows if row.protocol == which]


def _hundred(share: Estimate) -> Estimate:
    return Estimate(100 * share.value, 100 * share.low, 100 * share.high)


def _round_up(named: Sequence[Sequence[tuple[str, Estimate, Estimate]]], step: int) -> float:
    """The end of a scale that holds every interval."""
    highest = max((x.high for one in named for _name, x, _y in one if isfinite(x.high)), default=0)
    return float(step * max(1, ceil(highest / step)))
