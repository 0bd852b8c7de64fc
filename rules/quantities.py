"""The quantities a patient reports, checked at birth.

A value out of range never exists: making one raises, so no rule has to wonder.
Read next: `history`, which holds them.
"""

from __future__ import annotations

from typing import Any, Self

from rules.errors import QuantityRangeError


class _Scale(int):
    """A whole number between two ends, both included."""

    lowest = 0
    highest = 10
    unit = "points"

    def __new__(cls, value: int) -> Self:
        if isinstance(value, bool) or not cls.lowest <= value <= cls.highest:
            raise QuantityRangeError(cls.__name__, value, cls.lowest, cls.highest, cls.unit)
        return super().__new__(cls, value)

    @classmethod
    def __get_pydantic_core_schema__(cls, _source: object, _handler: object) -> dict[str, Any]:
        """How pydantic reads one from a kept history: as a number that is checked again."""
        made = {"type": "no-info", "function": cls}
        return {"type": "function-after", "function": made, "schema": {"type": "int"}}

    def __repr__(self) -> str:
        return f"{type(self).__name__}({int(self)})"


class Pain(_Scale):
    """Pain on the 0-10 numeric rating scale [points, 0-10, both ends included].

    Stored as the integer itself, never as a coded answer.
    Source: farrar-2001, the scale as used there.
    """


class Effort(_Scale):
    """Perceived effort of a session on the 0-10 category-ratio scale [points, 0-10].

    Source: foster-2001, session rating.
    """


class Minutes(_Scale):
    """A span a patient reports: stiffness after getting up, or an activity [minutes, 0-1440].

    The ceiling is one day: convention, to catch a slip of the finger.
    """

    highest = 1440
    unit = "minutes"


class Count(_Scale):
    """A number of sets or of repetitions [count, 0-500]. The ceiling is a convention."""

    highest = 500
    unit = "count"
