"""Reads sets of told messages with the screen and counts how it does on them. It asserts nothing.

Used by the tests of the warning signs in either language. How a line of a set is written:
`rules.second_reading.told_messages`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

from scipy.stats import binomtest

from rules.history import Tier
from rules.lexicon import Lexicon
from rules.screening import screen
from rules.second_reading import HARMLESS, UNCLEAR, Told, told_messages
from rules.warning_sign import Screening

KEPT_APART = Path(__file__).parent / "messages"

URGENT = ("emergency", "same day")

BUILT_ON = {
    "en": ("first", "more", "wide", "third", "fourth", "fifth", "sixth", "seventh"),
    "es": ("first", "more", "sixth", "seventh"),
}
"""The sets that the wordings were built on. The second reader learned from all that ship."""


@dataclass(frozen=True)
class Read:
    """A told message, and what the screen makes of it."""

    told: Told
    screening: Screening

    @property
    def named(self) -> set[str]:
        """The signs found or asked about."""
        return {match.sign.key for match in self.screening.found} | {
            sign.key for sign in self.screening.ask
        }


def kept_apart(name: str) -> tuple[Told, ...]:
    """A set that nothing was built on and no reading has learned from."""
    return tuple(told_messages((KEPT_APART / f"{name}.tsv").read_text(encoding="utf-8")))


def told_set(language: str, name: str) -> tuple[Told, ...]:
    """One of the sets that ship."""
    folder = resources.files("rules").joinpath("warning_signs", "told", language)
    return tuple(told_messages(folder.joinpath(f"{name}.tsv").read_text(encoding="utf-8")))


def set_names(language: str) -> set[str]:
    """The sets that ship for a language."""
    folder = resources.files("rules").joinpath("warning_signs", "told", language)
    return {file.name.removesuffix(".tsv") for file in folder.iterdir()}


def read(told: Iterable[Told], lexicon: Lexicon) -> tuple[Read, ...]:
    """Each message, screened."""
    return tuple(Read(one, screen(one.message, lexicon)) for one in told)


def outcome(one: Read) -> str:
    """How a message came out.

    For a sign: `found` means at its tier or a more urgent one, by whichever sign, since the patient
    is then told in time; `asked` means a closed question stands in its place; `below` means found
    only at a less urgent tier; `missed` is nothing at all. For `ask`: `found` or `asked` about that
    sign, else `missed`. For `none`: `passed`, `asked` without need, or `alarm`.
    """
    screening, label = one.screening, one.told.label
    if label == HARMLESS:
        return "alarm" if screening.found else "asked" if screening.ask else "passed"
    if label == UNCLEAR:
        found = {match.sign.key for match in screening.found}
        sign = one.told.sign
        return "found" if sign in found else "asked" if sign in one.named else "missed"
    if screening.tier is not None and screening.tier.urgency <= Tier(label).urgency:
        return "found"
    if any(sign.tier.urgency <= Tier(label).urgency for sign in screening.ask):
        return "asked"
    return "below" if screening.found else "missed"


def too_late(reads: Iterable[Read]) -> list[str]:
    """The emergency and same-day messages neither found at their tier nor asked about."""
    return [
        one.told.message
        for one in reads
        if one.told.label in URGENT and outcome(one) in ("below", "missed")
    ]


def unnamed(reads: Iterable[Read]) -> list[str]:
    """The messages whose own sign is neither found nor asked about."""
    return [
        one.told.message
        for one in reads
        if one.told.label != HARMLESS and one.told.sign not in one.named
    ]


def counted(reads: Iterable[Read]) -> dict[str, Counter[str]]:
    """Counts of outcomes by label."""
    counts: dict[str, Counter[str]] = {}
    for one in reads:
        counts.setdefault(one.told.label, Counter())[outcome(one)] += 1
    return counts


def printed(title: str, counts: dict[str, Counter[str]]) -> dict[str, Counter[str]]:
    """The counts, printed as a table with intervals."""
    whole = sum(counter.total() for counter in counts.values())
    print(f"\n{title}: {whole} messages; in brackets the 95 % interval (Wilson)")
    for label in (*(tier.value for tier in Tier), UNCLEAR):
        counter = counts.get(label, Counter())
        print(f"  {label:<17} found          {_share(counter['found'], counter.total())}")
        caught = counter["found"] + counter["asked"]
        print(f"  {'':<17} found or asked {_share(caught, counter.total())}")
    harmless = counts.get(HARMLESS, Counter())
    print(f"  {HARMLESS:<17} false alarm    {_share(harmless['alarm'], harmless.total())}")
    print(f"  {'':<17} needless ask   {_share(harmless['asked'], harmless.total())}")
    return counts


def _share(part: int, whole: int) -> str:
    """A count, its share and the interval, for the table."""
    if not whole:
        return "none of this kind"
    interval = binomtest(part, whole).proportion_ci(method="wilson")
    low, high = 100 * interval.low, 100 * interval.high
    return f"{part:>4} of {whole:>4}  {100 * part / whole:5.1f} %  ({low:.1f} to {high:.1f} %)"
