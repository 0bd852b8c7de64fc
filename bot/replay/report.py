"""Prints what a replay found: as aligned text for people, as JSON for programs.

It adds nothing to the advice. Reasons stand as their codes, which are what is kept with every
decision of the bot.
"""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator, Sequence
from itertools import zip_longest
from typing import Any

from bot.replay.dose_text import WIDTH, dose_text
from bot.replay.walk import DayAdvice
from rules.protocol import Protocol

REASONS_WIDTH = 31
NOTICES_WIDTH = WIDTH - 47 - REASONS_WIDTH
"""Columns beside the four short ones, which take 47 together [characters]."""

_KEPT_ALONG = ("sets_done", "sets_prescribed", "load_kg")


def _row(date: str, advice: str, level: str, dose: str, reasons: str, notices: str) -> str:
    short = f"{date:<12}{advice:<11}{level:<7}{dose:<17}"
    return f"{short}{reasons:<{REASONS_WIDTH}}{notices}".rstrip()


HEAD = _row("date", "advice", "level", "dose", "reasons, the deciding first", "clinician is told")


def plain_day(found: DayAdvice) -> dict[str, Any]:
    """One row's advice as plain values."""
    day = found.day
    inputs: dict[str, Any] = {
        finding.reason.value: dict(finding.evidence) for finding in found.findings
    }
    kept = {name: getattr(day, name) for name in _KEPT_ALONG if getattr(day, name) is not None}
    if kept:
        inputs["diary"] = kept
    if found.asked:
        inputs["asked"] = list(found.asked)
    return {
        "date": day.on.isoformat(),
        "level": found.advice.position.level,
        "dose": dose_text(found.dose),
        "action": found.advice.action.value,
        "reasons": [finding.reason.value for finding in found.findings],
        "tier": None if found.tier is None else found.tier.value,
        "sign": found.sign,
        "inputs": inputs,
        "notices": [key.value for key in found.notices],
    }


def json_text(days: Sequence[DayAdvice]) -> str:
    """The whole replay: a list of objects, one a row."""
    return json.dumps([plain_day(day) for day in days], indent=1)


def table_lines(days: Sequence[DayAdvice], protocol: Protocol) -> Iterator[str]:
    """The whole replay as lines, with the names of the levels below."""
    yield HEAD
    for day in days:
        yield from _day_lines(day)
    yield ""
    seen = sorted({day.advice.position.level for day in days})
    names = "; ".join(f"{number} {protocol.levels[number - 1].name}" for number in seen)
    yield from textwrap.wrap(f"Levels of {protocol.name}: {names}", WIDTH)


def differences(
    days: Sequence[DayAdvice], others: Sequence[DayAdvice]
) -> list[tuple[DayAdvice, DayAdvice]]:
    """The rows on which two replays of one diary tell the patient something different."""
    return [
        (one, other) for one, other in zip(days, others, strict=True) if _told(one) != _told(other)
    ]


def difference_lines(
    days: Sequence[DayAdvice],
    others: Sequence[DayAdvice],
    protocol: Protocol,
    against: Protocol,
) -> Iterator[str]:
    """The rows on which they differ, one under the other."""
    differing = differences(days, others)
    yield f"The advice of {protocol.name}, version {protocol.version},"
    yield f"against that of {against.name}, version {against.version}:"
    if not differing:
        yield f"no difference on any of {len(days)} days."
        return
    yield f"{len(differing)} of {len(days)} days differ."
    yield HEAD
    for one, other in differing:
        yield from _day_lines(one)
        yield from _day_lines(other, date="  against")


def difference_json(days: Sequence[DayAdvice], others: Sequence[DayAdvice]) -> str:
    """The rows on which they differ, the other's advice under `against`."""
    plain = [
        plain_day(one) | {"against": plain_day(other)} for one, other in differences(days, others)
    ]
    return json.dumps(plain, indent=1)


def _told(day: DayAdvice) -> tuple[object, ...]:
    """What reaches the patient: the word, the level, the dose. Reasons may differ without it."""
    return day.advice.action, day.level.name, day.dose


def _day_lines(found: DayAdvice, date: str = "") -> Iterator[str]:
    """One row; its reasons and notices go on below where they do not fit."""
    reasons = ", ".join(finding.reason.value for finding in found.findings)
    if found.sign is not None and found.tier is not None:
        reasons = f"{found.sign} ({found.tier.value}); {reasons}"
    if found.asked:
        reasons += f"; would ask about {', '.join(found.asked)}"
    lines = textwrap.wrap(reasons, REASONS_WIDTH - 1, break_on_hyphens=False)
    notices = textwrap.wrap(", ".join(key.value for key in found.notices), NOTICES_WIDTH)
    position = found.advice.position
    first = (
        date or found.day.on.isoformat(),
        found.advice.action.value,
        str(position.level),
        dose_text(found.dose),
    )
    for number, (line, notice) in enumerate(zip_longest(lines, notices, fillvalue="")):
        yield _row(*(first if number == 0 else ("", "", "", "")), line, notice)
