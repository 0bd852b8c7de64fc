"""Labelled messages: read from their files, screened, and counted by how they came out.

Used by the tests of the warning signs in either language. It asserts nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from importlib import resources
from itertools import chain
from pathlib import Path

from scipy.stats import binomtest

from rules.history import Tier
from rules.lexicon import Lexicon
from rules.screening import screen
from rules.second_reading import HARMLESS, UNCLEAR
from rules.warning_sign import Screening

KEPT_APART = Path(__file__).parent / "messages"

URGENT = ("emergency", "same day")

BUILT_ON = {"en": 8, "es": 4}
"""How many of the first sets the wordings were built on. The second reading learned from all."""


@dataclass(frozen=True)
class Labelled:
    """A message whose meaning is known. `label`: a tier, `HARMLESS` or `UNCLEAR`.

    `sign`: the key of what it shows, or of what would have to be asked; "-" where harmless.
    """

    label: str
    sign: str
    message: str


@dataclass(frozen=True)
class Read:
    """A labelled message, and what the screen makes of it."""

    labelled: Labelled
    screening: Screening

    @property
    def named(self) -> set[str]:
        """The signs found or asked about."""
        return {match.sign.key for match in self.screening.found} | {
            sign.key for sign in self.screening.ask
        }


def labelled_messages(text: str) -> Iterator[Labelled]:
    """The messages of a file: label, sign and message, with tabs between; `#` opens a comment."""
    for line in text.splitlines():
        if line.strip() and not line.startswith("#"):
            label, sign, message = line.split("\t", 2)
            if label not in (*Tier, UNCLEAR, HARMLESS) or not message:
                raise ValueError(f"label, sign and message were expected; found {line!r}")
            yield Labelled(label, sign, message)


def kept_apart(name: str) -> tuple[Labelled, ...]:
    """A set that nothing was built on and no reading has learned from."""
    return tuple(labelled_messages((KEPT_APART / f"{name}.tsv").read_text(encoding="utf-8")))


def shipped_sets(language: str) -> list[tuple[Labelled, ...]]:
    """The sets of a language that the second reading learned from, in order, an author each."""
    folder = resources.files("rules").joinpath("warning_signs", "labelled", language)
    files = sorted(folder.iterdir(), key=lambda file: file.name)
    return [tuple(labelled_messages(file.read_text(encoding="utf-8"))) for file in files]


def shipped_labelled(language: str) -> Iterator[Labelled]:
    """All of them."""
    return chain.from_iterable(shipped_sets(language))


def read(messages: Iterable[Labelled], lexicon: Lexicon) -> tuple[Read, ...]:
    """Each message, screened."""
    return tuple(Read(one, screen(one.message, lexicon)) for one in messages)


def outcome(one: Read) -> str:
    """How a message came out.

    For a sign: `found` means at its tier or a more urgent one, by whichever sign, since the patient
    is then told in time; `asked` means a closed question stands in its place; `below` means found
    only at a less urgent tier; `missed` is nothing at all. For `ask`: `found` or `asked` about that
    sign, else `missed`. For `none`: `passed`, `asked` without need, or `alarm`.
    """
    screening, label = one.screening, one.labelled.label
    if label == HARMLESS:
        return "alarm" if screening.found else "asked" if screening.ask else "passed"
    if label == UNCLEAR:
        found = {match.sign.key for match in screening.found}
        sign = one.labelled.sign
        return "found" if sign in found else "asked" if sign in one.named else "missed"
    if screening.tier is not None and screening.tier.urgency <= Tier(label).urgency:
        return "found"
    if any(sign.tier.urgency <= Tier(label).urgency for sign in screening.ask):
        return "asked"
    return "below" if screening.found else "missed"


def too_late(reads: Iterable[Read]) -> list[str]:
    """The emergency and same-day messages neither found at their tier nor asked about."""
    return [
        one.labelled.message
        for one in reads
        if one.labelled.label in URGENT and outcome(one) in ("below", "missed")
    ]


def counted(reads: Iterable[Read]) -> dict[str, Counter[str]]:
    """Counts of outcomes by label."""
    counts: dict[str, Counter[str]] = {}
    for one in reads:
        counts.setdefault(one.labelled.label, Counter())[outcome(one)] += 1
    return counts


def printed(title: str, counts: dict[str, Counter[str]]) -> dict[str, Counter[str]]:
    """The counts, printed as a table with intervals."""
    whole = sum(counter.total() for counter in counts.values())
    print(f"\n{title}: {whole} messages; in brackets the 95 % interval (Wilson)")
    for label in (*(tier.value for tier in Tier), UNCLEAR):
        counter = counts.get(label, Counter())
        if not counter:
            continue
        print(f"  {label:<17} found          {_share(counter['found'], counter.total())}")
        caught = counter["found"] + counter["asked"]
        print(f"  {'':<17} found or asked {_share(caught, counter.total())}")
    harmless = counts.get(HARMLESS, Counter())
    if not harmless:
        return counts
    print(f"  {HARMLESS:<17} false alarm    {_share(harmless['alarm'], harmless.total())}")
    print(f"  {'':<17} needless ask   {_share(harmless['asked'], harmless.total())}")
    return counts


def _share(part: int, whole: int) -> str:
    """A count, its share and the interval, for the table."""
    interval = binomtest(part, whole).proportion_ci(method="wilson")
    low, high = 100 * interval.low, 100 * interval.high
    return f"{part:>4} of {whole:>4}  {100 * part / whole:5.1f} %  ({low:.1f} to {high:.1f} %)"
