"""What can be wrong with an input or a protocol. Each message says what was expected.

RulesError
+-- QuantityRangeError      a reading outside its range
+-- HistoryError            a history that contradicts itself
+-- ProtocolError           a protocol that cannot be used; knows file and line
+-- LexiconError            warning signs that cannot be read
+-- ScheduleError           times of asking or of work that do not fit together
+-- ScoreError              points that an outcome measure does not have
"""

from __future__ import annotations


class RulesError(Exception):
    """Something handed to the rules cannot be used."""


class QuantityRangeError(RulesError):
    """A reading is outside the range of its quantity."""

    def __init__(self, quantity: str, found: object, lowest: int, highest: int, unit: str) -> None:
        super().__init__(
            f"{quantity} takes a whole number from {lowest} to {highest} {unit}; found {found!r}"
        )


class HistoryError(RulesError):
    """A history contradicts itself, so no advice can stand on it."""


class ProtocolError(RulesError):
    """A protocol cannot be used.

    `line` is counted from 1 in the file; None when the file as a whole is at fault.
    """

    def __init__(self, message: str, *, line: int | None = None) -> None:
        super().__init__(message if line is None else f"line {line}: {message}")
        self.line = line


class LexiconError(RulesError):
    """The warning signs file cannot be read."""


class ScheduleError(RulesError):
    """Times of asking or of work do not fit together, so nothing can be planned on them."""


class ScoreError(RulesError):
    """Points were given that an item of an outcome measure does not have."""
