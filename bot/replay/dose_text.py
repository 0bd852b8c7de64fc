"""A dose in short, as replays, reports and protocols print it, and how wide they print."""

from __future__ import annotations

from rules.protocol import Dose, DoseUnit

WIDTH = 98
"""Widest line [characters]. Convention: fits a terminal of 100 columns."""


def dose_text(dose: Dose) -> str:
    """A dose in short: `3 x 15 + 5 kg`, or `3 x 40 s` where it is held."""
    held = " s" if dose.unit is DoseUnit.SECONDS else ""
    load = f" + {dose.added_load_kg:g} kg" if dose.added_load_kg else ""
    return f"{dose.sets} x {dose.amount}{held}{load}"
