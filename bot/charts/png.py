"""Writes a picture as a PNG file, where the extra that draws it is installed."""

from __future__ import annotations

from pathlib import Path

from bot.errors import RefusedError


def write_png(svg: str, file: Path) -> None:
    """Draw SVG text into a file. Raises RefusedError where that cannot be done."""
    try:
        from resvg_py import svg_to_bytes
    except ImportError:
        raise RefusedError(
            "a picture needs the extra of that name: install nextmorning[pictures]"
        ) from None
    png = bytes(svg_to_bytes(svg_string=svg, background="#ffffff"))
    try:
        file.write_bytes(png)
    except OSError as error:
        raise RefusedError(f"{file} cannot be written: {error.strerror}") from None
