"""Measures a replay of a year: `PYTHONPATH=tests python -m bench.replay_year` from the checkout.

What is timed is the work of the replay itself, in a process that has started and imported already:
reading the diary, walking it, and making the table. At most `LIMIT_SECONDS`, else exit status 1.
The year is made up: an answer a morning, a session every other day with all its follow-ups, an
activity every third day. It has no messages; the first of these loads the warning signs as well.
"""

from __future__ import annotations

import sys
from datetime import date, timedelta
from statistics import median
from time import perf_counter

from bot.replay.diary import read_diary
from bot.replay.report import table_lines
from bot.replay.walk import Options, replay
from rules.protocol_reader import shipped_protocol

LIMIT_SECONDS = 0.5  # convention: nobody waits for it
ROUNDS = 5
FIRST = date(2025, 6, 1)
HEADER = (
    "date,morning_pain,morning_stiffness_min,session,sets_done,sets_prescribed,pain_during,"
    "pain_after,pain_24h,pain_48h,effort,painkiller,activity_min,activity_effort,heel_raises"
)


def year_of_answers() -> str:
    """A diary of 365 rows."""
    rows = [HEADER]
    for day in range(365):
        morning = f"{FIRST + timedelta(days=day)},{(day * 7) % 3},{(day * 5) % 16}"
        session = "yes,3,3,2,1,2,2,4,no" if day % 2 == 0 else "no,,,,,,,,"
        activity = f"{30 + day % 20},3" if day % 3 == 0 else ","
        raises = str(8 + day // 30) if day % 7 == 0 else ""
        rows.append(f"{morning},{session},{activity},{raises}")
    return "\n".join(rows) + "\n"


def seconds_of_one(text: str) -> float:
    """How long one replay takes [seconds]."""
    protocol = shipped_protocol("mid-portion-ladder")
    began = perf_counter()
    days = replay(read_diary(text, protocol), Options(protocol))
    lines = list(table_lines(days, protocol))
    took = perf_counter() - began
    assert len(days) == 365
    assert len(lines) > 365
    return took


def main() -> int:
    """Measure, say what was found, and return the exit status."""
    text = year_of_answers()
    seconds_of_one(text)
    took = [seconds_of_one(text) for _ in range(ROUNDS)]
    print(
        f"replay of a year: median {median(took):.3f} s, slowest {max(took):.3f} s of {ROUNDS}"
        f" rounds; limit {LIMIT_SECONDS} s"
    )
    return 0 if median(took) < LIMIT_SECONDS else 1


if __name__ == "__main__":
    sys.exit(main())
