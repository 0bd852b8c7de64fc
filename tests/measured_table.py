"""What `nextmorning measure` says of the shipped protocols, beside what was aimed at.

    python tests/measured_table.py [PATIENTS CLIMBERS]

plays each shipped protocol, those after the first with a third of the patients, and writes the
table into deploy/guide/measured.md, what misses its aim in bold. Aims are the project's own, for
the mid-portion ladder; the patients are invented.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
DOCUMENT = ROOT / "deploy" / "guide" / "measured.md"
BLOCK = re.compile(r"<!-- measured -->\n.*?\n<!-- end -->", re.S)
PROTOCOLS = ("mid-portion-ladder", "insertional-ladder", "heavy-slow")

Found = Mapping[tuple[str, str, str], Mapping[str, Any]]
"""Each cell of the command's tables by title, group and column."""

MEANS = tuple(f"mean {n}" for n in (1, 2, 3, 4))
LIMIT_5 = "Stable patients, limit 5, set by the clinician: percent of weeks with"
STABLE = "Stable patients, {}: percent of weeks with"
AS_ASSUMED, LATER, VARIED = (
    STABLE.format(world)
    for world in ("as assumed", "24 and 48 h answers a point higher", "SD 1.2 to 1.6")
)
TROUBLE = "Trouble met: percent"
CLIMB = "Recovering patients, with flares from outside or quiet: weeks to, and in all"
FLARES, QUIET = ("level 1, flares, ", "level 3, flares, "), ("level 1, quiet, ", "level 3, quiet, ")


@dataclass(frozen=True)
class Line:
    """A line of the table: one cell of each group. `under`, `least`: the aim of each, if any."""

    says: str
    title: str
    groups: Sequence[str]
    column: str
    under: Sequence[float] = ()
    least: Sequence[float] = ()
    brackets: bool = False


def climbing(says: str, speed: str, column: str, lives: Sequence[str], *under: float) -> Line:
    """A line of recovering patients, from level 1 and from level 3; 0: nothing aimed at."""
    return Line(says, CLIMB, [life + speed for life in lives], column, under, brackets=True)


PARTS: Mapping[str, Sequence[Line]] = {
    "of 100 weeks of a stable patient, mean pain 1 / 2 / 3 / 4": (
        Line("told to go a whole level back", AS_ASSUMED, MEANS, "step back", (1.5, 1.5, 1.5, 3)),
        Line("a level back, 24 and 48 hour answers a point higher", LATER, MEANS, "step back",
             (1.5, 1.5, 1.5, 3)),
        Line("a level back, answers that vary more (SD 1.2 to 1.6)", VARIED, MEANS, "step back"),
        Line("told to do a dose less", AS_ASSUMED, MEANS, "do less", (4, 4, 6)),
        Line("a dose less at mean 4, limit 5", LIMIT_5, MEANS[3:], "do less", (15,), brackets=True),
        Line("a level back at mean 4, limit 5", LIMIT_5, MEANS[3:], "step back", (3,),
             brackets=True),
        Line("a session lost to a rest day", AS_ASSUMED, MEANS, "session lost", (5.5, 5.5, 5.5)),
        Line("the clinician told", AS_ASSUMED, MEANS, "notice", (2, 2, 2, 2)),
        Line("told that usual pain is at the limit", AS_ASSUMED, MEANS, "usual at limit"),
    ),
    "of 100 patients with trouble": (
        Line("a flare of 3 points is met within two days", TROUBLE, ["flare of 3, in 2 days"],
             "all", least=(97,), brackets=True),
        Line("one that a session caused", TROUBLE, ["flare from a session of 3, in 2 days"], "all",
             least=(94,), brackets=True),
        Line("a slow worsening, half a point a week, within four weeks", TROUBLE,
             ["drift of 0.5, in 28 days"], "all", least=(95,), brackets=True),
    ),
    "a recovering patient begins at level 1; at level 3": (
        climbing("well, with flares: weeks to single-leg raises", "well", "single-leg raises",
                 FLARES, 22, 10),
        climbing("well, with flares: weeks to hops", "well", "hops", FLARES, 0, 32),
        climbing("well, with flares: weeks to the last dose", "well", "last dose", FLARES),
        climbing("sessions far too heavy a year: well, with flares", "well", "overloads", FLARES),
        climbing("middling, with flares", "middling", "overloads", FLARES, 1, 1),
        climbing("slow, with flares", "slow", "overloads", FLARES, 13, 13),
        climbing("middling, without flares", "middling", "overloads", QUIET),
        climbing("slow, without flares", "slow", "overloads", QUIET, 28, 28),
        climbing("the same, days between raises doubled once told", "slowed late",
                 "overloads", QUIET),
        climbing("the same, doubled from the start", "slowed", "overloads", QUIET),
    ),
}  # fmt: skip
"""Weeks are told for half of them. Well below 55, which is asked of the slow, is read as half."""


def measured(protocol: str, patients: int, climbers: int) -> Found:
    """Every cell that the command prints about one protocol."""
    sizes = ["--patients", str(patients), "--climbers", str(climbers)]
    command = [sys.executable, "-m", "bot", "measure", "--json", "--protocol", protocol, *sizes]
    tables = json.loads(subprocess.check_output(command, cwd=ROOT))["tables"]
    return {
        (table["title"], row["group"], column): cell
        for table in tables
        for row in table["rows"]
        for column, cell in zip(table["columns"], row["cells"], strict=True)
    }


def table(found: Sequence[Found]) -> str:
    """The lines of all parts, a column a protocol."""
    return "\n\n".join("\n".join(_part(head, lines, found)) for head, lines in PARTS.items())


def _part(head: str, lines: Sequence[Line], found: Sequence[Found]) -> Iterator[str]:
    yield f"| {head} | mid-portion | insertional | heavy slow | aim |"
    yield "|---|---|---|---|---|"
    for line in lines:
        cells = " | ".join(_cells(line, one) for one in found)
        yield f"| {line.says} | {cells} | {_aim(line)} |"


def _cells(line: Line, found: Found) -> str:
    told = []
    for index, group in enumerate(line.groups):
        cell = found.get((line.title, group, line.column))
        told.append("none" if cell is None else _cell(line, index, cell))
    return ("; " if line.brackets else " / ").join(told)


def _cell(line: Line, index: int, cell: Mapping[str, Any]) -> str:
    times = 100 if cell["percent"] else 1
    value, low, high = (
        None if cell[end] is None else round(times * cell[end], 1)
        for end in ("value", "low", "high")
    )
    under = line.under[index] if index < len(line.under) else 0
    least = line.least[index] if index < len(line.least) else 0
    missed = (under and (value is None or value >= under)) or (value is not None and value < least)
    told = f"**{_number(value)}**" if missed else _number(value)
    if line.brackets and value is not None:
        told += f" ({_number(low)} to {_number(high)})"
    return told


def _number(value: float | None) -> str:
    if value is None:
        return "over 52"
    return f"{value:.0f}" if value >= 10 or value == int(value) else f"{value:.1f}"


def _aim(line: Line) -> str:
    if line.least:
        return f"at least {line.least[0]:g}"
    return f"under {' / '.join(f'{one:g}' if one else '-' for one in line.under)}" * bool(
        line.under
    )


if __name__ == "__main__":
    sizes = [int(one) for one in sys.argv[1:3]] or [50, 12]
    thirds = [size // 3 for size in sizes]
    first, *others = PROTOCOLS
    made = table([measured(first, *sizes), *(measured(name, *thirds) for name in others)])
    document = DOCUMENT.read_text(encoding="utf-8")
    DOCUMENT.write_text(
        BLOCK.sub(f"<!-- measured -->\n{made}\n<!-- end -->", document), encoding="utf-8"
    )
    print(made)
