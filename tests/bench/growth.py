"""Draws how costs grow with patients, both scales by powers of ten. Only SVG text."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from bot.charts.shapes import dashes, line, mark, text

WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 760, 440, 90, 500, 40, 380
"""All measures: pixels."""
MARKS = ("dot", "square", "diamond", "cross")


def growth_svg(growth: Mapping[str, Sequence[tuple[int, float]]]) -> str:
    """A line for each name: (patients, milliseconds)."""
    values = [figure for points in growth.values() for _, figure in points]
    sizes = [size for points in growth.values() for size, _ in points]
    low, high = math.floor(math.log10(min(values))), math.ceil(math.log10(max(values)))
    first, last = math.log10(min(sizes)), math.log10(max(sizes))

    def x(size: float) -> float:
        return LEFT + (math.log10(size) - first) / max(last - first, 1) * (RIGHT - LEFT)

    def y(figure: float) -> float:
        return BOTTOM - (math.log10(figure) - low) / (high - low) * (BOTTOM - TOP)

    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" '
        f'width="{WIDTH}" height="{HEIGHT}" font-family="DejaVu Sans, sans-serif">',
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>',
        line([(LEFT, TOP), (LEFT, BOTTOM), (RIGHT, BOTTOM)], width=1.2),
        text((LEFT + RIGHT) / 2, BOTTOM + 44, "patients", anchor="middle"),
        text(LEFT - 60, TOP - 16, "milliseconds"),
    ]
    for power in range(low, high + 1):
        parts += [text(LEFT - 8, y(10**power) + 4, f"{10.0**power:g}", anchor="end", size=12)]
        parts += [dashes(LEFT, RIGHT, y(10**power))]
    for size in sorted(set(sizes)):
        parts += [text(x(size), BOTTOM + 20, f"{size:,}", anchor="middle", size=12)]
    for shape, (name, points) in zip(MARKS, growth.items(), strict=False):
        spots = [(x(size), y(figure)) for size, figure in points]
        parts += [line(spots, width=1.6), *(mark(shape, *spot) for spot in spots)]
        parts += [text(spots[-1][0] + 12, spots[-1][1] + 4, name, size=13)]
    return "\n".join([*parts, "</svg>\n"])
