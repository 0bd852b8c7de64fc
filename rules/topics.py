"""Finds what a message is about by its likeness to labelled ones: a question, a wish, a courtesy.

As in `second_reading`, each word counts once and as if no other stood beside it. What differs is
that a topic has a dozen messages and no more, so what it does not hold is taken from all topics
together. It knows no language: the messages and the words that count as one come with it. It looks
for no warning sign; that comes first (`screening`).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from itertools import pairwise
from typing import NamedTuple

from rules.plain_text import words_of

NONE = "none"
"""The label of messages that must find no topic."""

SMOOTHING_FEATURES = 5.0
"""How many features of all topics together are added to those of one [count].

Source: manning-2008, chapter 12 (Dirichlet smoothing); the number by leaving each message out.
"""

PAIR_WEIGHT = 0.5
"""What two neighbours weigh beside one word; they only speak for a topic, for most pairs are new.
Convention, by leaving each message out.
"""

ODDS_MIN = 3.0
"""Natural logarithm of the odds from which a topic is found: 20 to 1. A wrong reply costs more than
none. Convention, by leaving each message out: figures in `tests/talks/test_questions.py`.
"""

_THING = "@thing"

Words = tuple[str, ...]


class Topic(NamedTuple):
    """A topic, and the natural logarithm of its odds against all others and none."""

    key: str
    odds: float


class TopicReader:
    """Reads messages by their likeness to labelled ones of one language."""

    def __init__(
        self,
        labelled: Mapping[str, Iterable[str]],
        things: Mapping[str, Iterable[str]],
        same: Mapping[str, Iterable[str]],
        never: Iterable[str],
        needs: Mapping[str, str] | None = None,
    ) -> None:
        """`labelled`: messages by topic, and those of `NONE`. `things`: topics that differ by a
        thing alone, the most telling first, with its words. `same`: words that count as one.
        `never`: words with which nothing is found. `needs`: topics that are found only where one
        word of these stands there, for much follows from them.
        """
        self._order = list(things)
        named = {**{f"@{key}": ones for key, ones in same.items()}, **things}
        self._names = {_plain(phrase): name for name, ones in named.items() for phrase in ones}
        self._longest = max(map(len, self._names), default=1)
        self._needs = dict(needs or {})
        self._never = {_plain(word) for word in never}
        held: dict[str, Counter[str]] = {}
        for topic, messages in labelled.items():
            features = held.setdefault(_THING if topic in things else topic, Counter())
            for message in messages:
                features.update(_features(self._counted(message)[0]))
        everything: Counter[str] = sum(held.values(), Counter())
        total = everything.total()
        # What a feature weighs in a topic that does not hold it, and what it weighs more where one
        # does: how much likelier it is there than in all topics together.
        self._unheld = {
            topic: math.log(SMOOTHING_FEATURES / (ones.total() + SMOOTHING_FEATURES))
            for topic, ones in held.items()
        }
        self._gain: dict[str, dict[str, float]] = {}
        for topic, ones in held.items():
            for feature, count in ones.items():
                usual = (everything[feature] + 0.5) / total
                gain = math.log1p(count / (SMOOTHING_FEATURES * usual))
                self._gain.setdefault(feature, {})[topic] = gain

    def topic(self, text: str) -> Topic | None:
        """What a text is about; None where that is not plain. Any text at all is taken."""
        plain = _plain(text)
        if any(plain[i : i + n] in self._never for n in (1, 2, 3) for i in range(len(plain))):
            return None
        words, things = self._counted(text)
        features = _features(words)
        weights = {topic: self._weight(topic, features) for topic in self._unheld}
        likest = max((one for one in weights if one != NONE), key=weights.__getitem__)
        # A text that is like none of them weighs 0.
        rest = [0.0, *(weight for topic, weight in weights.items() if topic != likest)]
        odds = weights[likest] - math.log(math.fsum(map(math.exp, rest)))
        if odds < ODDS_MIN or (likest == _THING and not things):
            return None
        if likest in self._needs and f"@{self._needs[likest]}" not in words:
            return None
        return Topic(min(things, key=self._order.index) if likest == _THING else likest, odds)

    def _weight(self, topic: str, features: frozenset[str]) -> float:
        """Logarithm of how much likelier the features are in a topic than in all together."""
        unheld = self._unheld[topic]
        weights = []
        for feature in features:
            weight = unheld + self._gain.get(feature, {}).get(topic, 0.0)
            weights.append(PAIR_WEIGHT * max(weight, 0.0) if " " in feature else weight)
        # fsum, since the order of a set differs between runs, and what is found must not.
        return math.fsum(weights)

    def _counted(self, text: str) -> tuple[list[str], list[str]]:
        """The words of a text as they count, and the things that it names."""
        words: list[str] = []
        things: list[str] = []
        left: Words = _plain(text) or (text.strip(),)
        while left:
            name, left = self._next(left)
            if name in self._order:
                things.append(name)
                name = _THING
            if words[-1:] != [name]:
                words.append(name)
        return words, things

    def _next(self, left: Words) -> tuple[str, Words]:
        """The longest phrase with a name that a text begins with, or its first word."""
        for length in range(min(self._longest, len(left)), 0, -1):
            name = self._names.get(left[:length])
            if name is not None:
                return name, left[length:]
        return left[0], left[1:]


def _plain(text: str) -> Words:
    return tuple(word.text for word in words_of(text)[0])


def _features(words: list[str]) -> frozenset[str]:
    """Words and pairs of neighbours; the first and the last have an edge for one."""
    pairs: Iterator[str] = (f"{first} {second}" for first, second in pairwise(["^", *words, "$"]))
    return frozenset((*words, *pairs))
