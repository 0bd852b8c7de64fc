"""Reads a message a second time: by its likeness to messages whose meaning is known.

It counts in how many told messages each word and each pair of neighbours stands, in those that show
a warning sign and in the harmless ones, and adds up what the words of a new message say for either.
It knows no wording and no language, finds no sign by itself, and says nothing to anybody: where the
two readings differ, a closed question decides. Read next: `screening`.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Hashable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from itertools import pairwise
from typing import Generic, TypeVar

from rules.errors import LexiconError
from rules.history import Tier
from rules.plain_text import words_of

HARMLESS, UNCLEAR = "none", "ask"
"""Labels of told messages beside the tiers: no sign at all; the words alone cannot tell."""

NO_SIGN = "-"
"""What stands for the sign of a harmless message."""

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

Class = TypeVar("Class", bound=Hashable)

SignTier = tuple[str, Tier]
"""A sign, and how soon it needs a person as it is told."""


@dataclass(frozen=True)
class Told:
    """A message whose meaning is known. `label`: a tier, `HARMLESS` or `UNCLEAR`.

    `sign`: the key of what it shows, or of what would have to be asked; or `NO_SIGN`.
    """

    label: str
    sign: str
    message: str


@dataclass(frozen=True)
class Likeness:
    """How a message reads beside the told ones, in the stretch that looks most like a sign.

    `odds`: natural logarithm of the odds that it shows a sign. Over 0: rather yes.
    `sign`, `tier`: the likest sign, and how soon it would need a person as it is told.
    """

    odds: float
    sign: str
    tier: Tier


@dataclass
class Tally:
    """Of so many messages that were told alike, in how many each feature stands."""

    features: Counter[str] = field(default_factory=Counter)
    messages: int = 0


class NaiveBayes(Generic[Class]):
    """Weighs classes by the features of the messages that were told of each.

    Each feature counts once a message and as if no other stood beside it. Source: manning-2008,
    chapter 13 (multinomial model, features counted once).
    """

    def __init__(self, tallies: Iterable[tuple[Class, Tally]]) -> None:
        self._counts: dict[Class, Counter[str]] = {}
        self._messages: Counter[Class] = Counter()
        for one, tally in tallies:
            self._counts.setdefault(one, Counter()).update(tally.features)
            self._messages[one] += tally.messages
        self._known = frozenset[str]().union(*self._counts.values())
        unseen = UNSEEN_COUNT * len(self._known)
        self._whole = {one: held.total() + unseen for one, held in self._counts.items()}

    def weights(self, features: Features) -> dict[Class, float]:
        """Logarithm of each class's share, up to a constant. Features never told say nothing."""
        heard = features & self._known
        # fsum, since the order of a set differs between runs, and what is decided must not.
        return {
            one: math.log(self._messages[one])
            + math.fsum(math.log(held[feature] + UNSEEN_COUNT) for feature in heard)
            - len(heard) * math.log(self._whole[one])
            for one, held in self._counts.items()
        }


class SecondReader:
    """Reads messages by their likeness to told ones: at least one harmless, one that shows a sign.

    Raises LexiconError where either lacks.
    """

    def __init__(self, told: Iterable[Told]) -> None:
        tallies: dict[tuple[str, str], Tally] = {}
        for one in told:
            tally = tallies.setdefault((one.label, one.sign), Tally())
            tally.features.update(_features(_words(one.message)))
            tally.messages += 1
        signs = {
            (sign, Tier(label)): tally
            for (label, sign), tally in tallies.items()
            if label not in (HARMLESS, UNCLEAR)
        }
        if not signs or (HARMLESS, NO_SIGN) not in tallies:
            raise LexiconError("told messages: harmless ones and such as show a sign were expected")
        self._shows = NaiveBayes((label != HARMLESS, held) for (label, _), held in tallies.items())
        self._signs = NaiveBayes(signs.items())
        self._tiers = NaiveBayes((tier, held) for (_, tier), held in signs.items())
        self.signs = frozenset(sign for sign, _ in signs)

    def likeness(self, text: str) -> Likeness:
        """How a text reads. Any text at all is taken; an empty one is as likely as messages are."""
        odds, stretch = max(
            ((self._odds(stretch), stretch) for stretch in _stretches(_words(text))),
            key=lambda weighed: weighed[0],
        )
        return Likeness(odds, *self._likest(stretch))

    def _likest(self, stretch: Features) -> SignTier:
        """The likest sign; of those of the likest tier, where that is sooner than the sign's."""
        signs, tiers = self._signs.weights(stretch), self._tiers.weights(stretch)
        likest, tier = max(signs, key=signs.__getitem__), max(tiers, key=tiers.__getitem__)
        if tier.urgency >= likest[1].urgency:
            return likest
        return max((one for one in signs if one[1] is tier), key=signs.__getitem__)

    def _odds(self, stretch: Features) -> float:
        weights = self._shows.weights(stretch)
        return weights[True] - weights[False]


@cache
def shipped_second_reader(language: str) -> SecondReader:
    """The reader of the messages that ship for a language. Raises LexiconError where none do."""
    return SecondReader(shipped_told(language))


def shipped_told(language: str) -> tuple[Told, ...]:
    """All told messages of a language. Raises LexiconError where there are none."""
    folder = resources.files("rules").joinpath("warning_signs", "told", language)
    if not folder.is_dir():
        raise LexiconError(f"there are no told messages for the language {language!r}")
    files = sorted(folder.iterdir(), key=lambda file: file.name)
    texts = (file.read_text(encoding="utf-8") for file in files)
    return tuple(one for text in texts for one in told_messages(text))


def told_messages(text: str) -> Iterator[Told]:
    """The messages of a file: label, sign and message, with tabs between; `#` opens a comment.

    Raises LexiconError, with the line, where one has not these three or an unknown label.
    """
    labels = (*(tier.value for tier in Tier), UNCLEAR, HARMLESS)
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip() or line.startswith("#"):
            continue
        label, _, rest = line.partition("\t")
        sign, _, message = rest.partition("\t")
        if label not in labels or not message:
            expected = f"one of {', '.join(labels)}, then sign and message, with tabs between,"
            raise LexiconError(f"line {number}: {expected} were expected; found {line!r}")
        yield Told(label, NO_SIGN if label == HARMLESS else sign, message)


def _words(text: str) -> list[str]:
    return [word.text[:STEM_LETTERS] for word in words_of(text)[0]]


def _features(words: list[str]) -> Features:
    pairs = (f"{first} {second}" for first, second in pairwise(words))
    return frozenset((*words, *pairs))


def _stretches(words: list[str]) -> Iterator[Features]:
    """Stretches that overlap and reach to the end; one, where the text is no longer."""
    last = max(0, len(words) - STRETCH_WORDS)
    starts = [*range(0, last, STRETCH_STEP_WORDS), last]
    return (_features(words[start : start + STRETCH_WORDS]) for start in starts)
