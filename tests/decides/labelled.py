"""Reads the labelled messages and counts how the screen does on them. It asserts nothing.

A line of a set: tier, sign, message, with tabs between; `#` opens a comment. The tier may also be
`ask` (the words alone cannot tell) or `none` (harmless; the sign is then `-` or `none`).
Used by the tests of the warning signs in either language.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from scipy.stats import binomtest

from rules.history import Tier
from rules.lexicon import Lexicon
from rules.screening import screen

MESSAGES = Path(__file__).parent / "messages"

URGENT = ("emergency", "same day")


@dataclass(frozen=True)
class Labelled:
    """One line of a set. `tier`: as in the file, among them `ask` and `none`."""

    tier: str
    sign: str
    message: str


def labelled(name: str) -> list[Labelled]:
    """The lines of a set, without comments."""
    lines = (MESSAGES / name).read_text(encoding="utf-8").splitlines()
    rows = [line.split("\t") for line in lines if line.strip() and not line.startswith("#")]
    return [Labelled(tier, "-" if tier == "none" else sign, text) for tier, sign, text in rows]


def outcome(row: Labelled, lexicon: Lexicon) -> str:
    """How a message came out.

    For a sign: `found` means at its tier or a more urgent one, by whichever sign, since the patient
    is then told in time; `asked` means a closed question stands in its place; `below` means found
    only at a less urgent tier; `missed` is nothing at all. For `ask`: `found` or `asked` about that
    sign, else `missed`. For `none`: `passed`, `asked` without need, or `alarm`.
    """
    screening = screen(row.message, lexicon)
    asked = {sign.key for sign in screening.ask}
    if row.tier == "none":
        return "alarm" if screening.found else "asked" if asked else "passed"
    if row.tier == "ask":
        found = {match.sign.key for match in screening.found}
        return "found" if row.sign in found else "asked" if row.sign in asked else "missed"
    if screening.tier is not None and screening.tier.urgency <= Tier(row.tier).urgency:
        return "found"
    if any(sign.tier.urgency <= Tier(row.tier).urgency for sign in screening.ask):
        return "asked"
    return "below" if screening.found else "missed"


def unnamed(name: str, lexicon: Lexicon) -> list[str]:
    """The messages of a set whose own sign is neither found nor asked about."""
    messages = []
    for row in labelled(name):
        screening = screen(row.message, lexicon)
        named = {match.sign.key for match in screening.found} | {one.key for one in screening.ask}
        if row.sign != "-" and row.sign not in named:
            messages.append(row.message)
    return messages


def too_late(name: str, lexicon: Lexicon) -> list[str]:
    """The emergency and same-day messages of a set neither found at their tier nor asked about."""
    return [
        row.message
        for row in labelled(name)
        if row.tier in URGENT and outcome(row, lexicon) in ("below", "missed")
    ]


def measured(name: str, lexicon: Lexicon) -> dict[str, Counter[str]]:
    """Counts of outcomes by tier, printed as a table with intervals."""
    rows = labelled(name)
    counts: dict[str, Counter[str]] = {}
    for row in rows:
        counts.setdefault(row.tier, Counter())[outcome(row, lexicon)] += 1
    print(f"\n{name}: {len(rows)} messages; in brackets the 95 % interval (Wilson)")
    for tier in ("emergency", "same day", "next working day", "ask"):
        counted = counts.get(tier, Counter())
        whole, found = counted.total(), counted["found"]
        print(f"  {tier:<17} found          {_share(found, whole)}")
        print(f"  {'':<17} found or asked {_share(found + counted['asked'], whole)}")
    harmless = counts.get("none", Counter())
    print(f"  {'none':<17} false alarm    {_share(harmless['alarm'], harmless.total())}")
    print(f"  {'':<17} needless ask   {_share(harmless['asked'], harmless.total())}")
    return counts


def _share(part: int, whole: int) -> str:
    """A count, its share and the interval, for the table."""
    if not whole:
        return "none of this kind"
    interval = binomtest(part, whole).proportion_ci(method="wilson")
    low, high = 100 * interval.low, 100 * interval.high
    return f"{part:>4} of {whole:>4}  {100 * part / whole:5.1f} %  ({low:.1f} to {high:.1f} %)"
