"""What a decision was made from, kept small and read again, so that it can be made once more.

Answers are never changed, and none about a day long past is corrected: so a decision keeps the last
weeks as the rules saw them, and what is older is in the record still. Read next: `decide`.
"""

from __future__ import annotations

import zlib
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from pydantic import TypeAdapter

from bot.patient_record.record import PatientRecord
from bot.store import decisions
from rules.advice import advise
from rules.history import History
from rules.protocol_reader import read_protocol
from rules.reasons import Advice

# How far back a decision keeps the days itself [days]. Convention: an answer is corrected within a
# few days of the day it is about.
KEPT_DAYS = 28

# Of what a day is: the rest of a history is kept whole.
DAYS = ("mornings", "sessions", "activities", "heel_raises", "rest_days", "visa_a")

_HISTORY = TypeAdapter(History)


def packed(history: History, today: date) -> bytes:
    """The history with its last days alone, as packed JSON."""
    since = today - timedelta(days=KEPT_DAYS)
    recent: dict[str, Any] = {
        name: tuple(day for day in getattr(history, name) if _on(day) >= since) for name in DAYS
    }
    return zlib.compress(
        _HISTORY.dump_json(replace(history, **recent), exclude_defaults=True), level=9
    )


def unpacked(kept: bytes) -> History:
    """The history that a decision has kept, its last days alone."""
    return _HISTORY.validate_json(zlib.decompress(kept))


def made_again(record: PatientRecord, decision: int) -> Advice:
    """The same advice from what the decision has kept and what the record has from before, by the
    protocol as it was. Raises NotFoundError."""
    row = decisions.kept_with(record.store, decision)
    today = date.fromisoformat(row["on_date"])
    recent = unpacked(row["history"])
    since = today - timedelta(days=KEPT_DAYS)
    whole: dict[str, Any] = {
        name: (
            *(day for day in getattr(record.history, name) if _on(day) < since),
            *getattr(recent, name),
        )
        for name in DAYS
    }
    return advise(replace(recent, **whole), read_protocol(row["text"]), today)


def _on(day: Any) -> date:
    """The date of a day's row, of a rest day, or of a score."""
    if isinstance(day, date):
        return day
    on: date = day[0] if isinstance(day, tuple) else day.on
    return on
