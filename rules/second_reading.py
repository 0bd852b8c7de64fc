"""Reads a message a second time: by its likeness to messages whose meaning is known.

A table that ships holds in how many labelled messages each word and each pair of neighbours stands,
in those that show a warning sign and in the harmless ones. What it says of the words of a new
message is added up for either. It knows no wording and no language. What follows from its odds:
`double_reading`. How the table is made: `tests/likeness_table.py`.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections import Counter
from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from itertools import pairwise
from typing import Generic, NamedTuple, TypeVar

from rules.errors import LexiconError
from rules.history import Tier
from rules.plain_text import words_of

HARMLESS, UNCLEAR = "none", "ask"
"""Labels of messages beside the tiers: no sign at all; the words alone cannot tell."""

UNSEEN_COUNT = 0.5
"""Added to each count, so that a word seen on one side only decides nothing alone [messages].

Source: manning-2008, chapter 13, adds one; half of it is a convention.
"""

STRETCH_WORDS, STRETCH_STEP_WORDS = 16, 4
"""What is weighed at once, and how far on the next stretch begins [words]. Convention: a sign told
in passing must not drown in a long friendly message.
"""

STEM_LETTERS = 6
"""Letters of a word that count, so that its ending does not [letters]. Convention."""

Features = frozenset[str]
"""Words of a stretch and pairs of neighbours, each once."""

Counts = Mapping[int, int]
"""Of the labelled messages that hold a feature: how many of each class, by the class's number."""

Class = TypeVar("Class", bound=Hashable)

SignTier = tuple[str, Tier]
"""A sign, and how soon it needs a person as it is told."""


class LabelledClass(NamedTuple):
    """Messages of one label and sign: how many, and how many features they hold in all.

    `label`: a tier, `HARMLESS` or `UNCLEAR`. `sign`: the key of what they show, or of what would
    have to be asked; "-" where harmless.
    """

    label: str
    sign: str
    messages: int
    features: int


@dataclass(frozen=True)
class Likeness:
    """How a message reads beside the labelled ones, in the stretch that looks most like a sign.

    `odds`: natural logarithm of the odds that it shows a sign. Over 0: rather yes.
    `sign`, `tier`: the likest sign, and how soon it would need a person as it is told.
    """

    odds: float
    sign: str
    tier: Tier


class NaiveBayes(Generic[Class]):
    """Weighs classes by the features of the messages labelled so.

    Each feature counts once a message and as if no other stood beside it. Source: manning-2008,
    chapter 13 (multinomial model, features counted once).
    """

    def __init__(
        self, merged: Mapping[int, Class], classes: list[LabelledClass], vocabulary: int
    ) -> None:
        """`merged`: what each class of the table counts as. `vocabulary`: distinct features."""
        self._merged = merged
        self._messages: Counter[Class] = Counter()
        self._whole: dict[Class, float] = {}
        for number, one in merged.items():
            self._messages[one] += classes[number].messages
            whole = self._whole.get(one, UNSEEN_COUNT * vocabulary)
            self._whole[one] = whole + classes[number].features

    def weights(self, told: Iterable[Counts]) -> dict[Class, float]:
        """Logarithm of each class's share, up to a constant. `told`: what is known of features."""
        heard: list[Counter[Class]] = []
        for counts in told:
            merged: Counter[Class] = Counter()
            for number, count in counts.items():
                if number in self._merged:
                    merged[self._merged[number]] += count
            if merged:
                heard.append(merged)
        # fsum, since the order of a set differs between runs, and what is decided must not.
        return {
            one: math.log(self._messages[one])
            + math.fsum(math.log(counts[one] + UNSEEN_COUNT) for counts in heard)
            - len(heard) * math.log(whole)
            for one, whole in self._whole.items()
        }


class SecondReader:
    """Reads messages by their likeness to labelled ones."""

    def __init__(self, table: str) -> None:
        """`table`: the classes, a blank line, and the features in order with their counts."""
        head, _, rows = table.partition("\n\n")
        vocabulary, *lines = (line for line in head.split("\n") if not line.startswith("#"))
        classes = [_class(line) for line in lines]
        self._messages = sum(one.messages for one in classes)
        self._rows = rows.split("\n")
        signs = {
            number: (one.sign, Tier(one.label))
            for number, one in enumerate(classes)
            if one.label not in (HARMLESS, UNCLEAR)
        }
        shows = {number: one.label != HARMLESS for number, one in enumerate(classes)}
        tiers = {number: tier for number, (_, tier) in signs.items()}
        whole, of_signs = map(int, vocabulary.split())
        self._shows = NaiveBayes(shows, classes, whole)
        self._signs = NaiveBayes(signs, classes, of_signs)
        self._tiers = NaiveBayes(tiers, classes, of_signs)
        self.signs = frozenset(sign for sign, _ in signs.values())

    def likeness(self, text: str) -> Likeness:
        """How a text reads. Any text at all is taken; an empty one is as likely as messages are."""
        odds, stretch = self._most_like_a_sign(text)
        return Likeness(odds, *self._likest(stretch))

    def odds(self, text: str) -> float:
        """The odds alone, as in `Likeness`: a quick look for worry."""
        return self._most_like_a_sign(text)[0]

    def familiarity(self, text: str) -> float:
        """Logarithm of how likely its distinct words stand in labelled messages: in which language
        a text is written shows by whose reader finds it more familiar.
        """
        held = (sum(self._told(word).values()) for word in set(stems(text)))
        return math.fsum(math.log((one + UNSEEN_COUNT) / self._messages) for one in held)

    def _most_like_a_sign(self, text: str) -> tuple[float, list[Counts]]:
        stretches = list(stretches_of(stems(text)))
        told = {one: self._told(one) for one in frozenset[str]().union(*stretches)}
        weighed = []
        for stretch in stretches:
            known = [told[one] for one in stretch if told[one]]
            weights = self._shows.weights(known)
            weighed.append((weights[True] - weights[False], known))
        return max(weighed, key=lambda one: one[0])

    def _likest(self, stretch: list[Counts]) -> SignTier:
        """The likest sign; of those of the likest tier, where that is sooner than the sign's."""
        signs, tiers = self._signs.weights(stretch), self._tiers.weights(stretch)
        likest, tier = max(signs, key=signs.__getitem__), max(tiers, key=tiers.__getitem__)
        if tier.urgency >= likest[1].urgency:
            return likest
        return max((one for one in signs if one[1] is tier), key=signs.__getitem__)

    def _told(self, feature: str) -> Counts:
        """What the table says of a feature; nothing, where no labelled message holds it."""
        start = f"{feature}\t"
        place = bisect_left(self._rows, start)
        if place == len(self._rows) or not self._rows[place].startswith(start):
            return {}
        pairs = (pair.partition(":") for pair in self._rows[place][len(start) :].split(" "))
        return {int(number): int(count or 1) for number, _, count in pairs}


@cache
def shipped_second_reader(language: str) -> SecondReader:
    """The reader with the table that ships for a language. Raises LexiconError where none does."""
    table = resources.files("rules").joinpath("warning_signs", f"{language}_likeness.tsv")
    if not table.is_file():
        raise LexiconError(f"there is no table of likeness for the language {language!r}")
    return SecondReader(table.read_text(encoding="utf-8"))


def languages_read_twice() -> list[str]:
    """The languages that ship a table."""
    files = (file.name for file in resources.files("rules").joinpath("warning_signs").iterdir())
    return [name.removesuffix("_likeness.tsv") for name in files if "_likeness" in name]


def stems(text: str) -> list[str]:
    """The words of a text as they count."""
    return [word.text[:STEM_LETTERS] for word in words_of(text)[0]]


def features(words: list[str]) -> Features:
    """Words and pairs of neighbours."""
    pairs = (f"{first} {second}" for first, second in pairwise(words))
    return frozenset((*words, *pairs))


def stretches_of(words: list[str]) -> Iterator[Features]:
    """Stretches that overlap and reach to the end; one, where the text is no longer."""
    last = max(0, len(words) - STRETCH_WORDS)
    starts = [*range(0, last, STRETCH_STEP_WORDS), last]
    return (features(words[start : start + STRETCH_WORDS]) for start in starts)


def _class(line: str) -> LabelledClass:
    label, sign, messages, held = line.split("\t")
    return LabelledClass(label, sign, int(messages), int(held))
