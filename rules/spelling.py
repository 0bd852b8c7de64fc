"""Brings a word to the spelling that the lexicon uses, or leaves it alone.

In this order: a spelling the lexicon lists, a doubled letter too many, an s behind it, a slip of
one letter, two words in one, two slips in a long word. It never turns a known word into another,
which is what the list of words to leave alone is for: "thumb" stays a thumb and does not go numb.
Read next: `lexicon`, which holds the lists.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from functools import cache, lru_cache

from rapidfuzz import process
from rapidfuzz.distance import OSA

from rules.plain_text import Pause, Word

ONE_SLIP_LETTERS_MIN = 5
"""Letters a known word needs before one slip is forgiven [letters, at least]. Convention."""

TWO_SLIPS_LETTERS_MIN = 9
"""Letters a known word needs before two slips are forgiven [letters, at least]. Convention."""

FIRST_LETTER_SLIP_LETTERS_MIN = 8
"""Letters a known word needs before its first one may be the slip [letters, at least]. Convention:
a slip there is rare, and makes another word of it ("manic" is no "panic")."""

_STEM_LETTERS_MIN = 4
"""Letters a known word needs before an s behind it falls away [letters, at least]. Convention."""

# Words run together [letters]. Convention: more than two words need so many letters each in the
# mean, since shorter ones would be chance; a short form of two letters ("th") would cut any word.
_RUN_TOGETHER_LETTERS_MIN = 4
_RUN_TOGETHER_LETTERS_MAX = 160
_PART_LETTERS_MAX = 16
_PART_LETTERS_MEAN = 2.5
_PART_VARIANT_LETTERS_MIN = 3
_SHORT_PARTS = frozenset({"im"})
# Words of one letter that stand alone in plain writing; others would cut any word to pieces.
_LONE_LETTERS = frozenset("aiu")
_DOUBLED = re.compile(r"([a-z])\1+")
_DRAWN_OUT = re.compile(r"([a-z])\1{2,}")


def _begins_alike(typed: str, word: str) -> bool:
    """Whether a slip may lie between two words: the first letter is seldom the wrong one."""
    swapped = typed[:2] == word[1::-1]
    return typed[0] == word[0] or swapped or len(word) >= FIRST_LETTER_SLIP_LETTERS_MIN


class Speller:
    """Knows how words are written. Made once with the lexicon, never changed after."""

    def __init__(
        self,
        words: Iterable[str],
        targets: Iterable[str],
        variants: Mapping[str, str],
        left_alone: Iterable[str],
    ) -> None:
        """`words`: those the lexicon uses. `targets`: those of them that a slip is corrected to.
        Each as often as a wording uses it.
        `variants`: other spelling -> the one it uses, where either may be two words.
        `left_alone`: ordinary words that are close to a target.
        """
        self._variants = dict(variants)
        spellings = {part for text in variants for part in text.split()}
        proper = frozenset(words) | {part for text in variants.values() for part in text.split()}
        self._words = proper | spellings
        # Of two words equally close the one that more wordings use is meant, so it comes first.
        uses = Counter(targets)
        self._targets = sorted(uses.keys() | spellings, key=lambda word: (-uses[word], word))
        self._left_alone = frozenset(left_alone)
        self._parts_allowed = (
            proper
            | _SHORT_PARTS
            | {part for part in spellings if len(part) >= _PART_VARIANT_LETTERS_MIN}
            | {word for word in self._left_alone if len(word) >= _PART_VARIANT_LETTERS_MIN}
        )

    @cache  # noqa: B019 - one speller a language, for as long as the process lives
    def _candidates(self, letters_min: int, letters_max: int) -> tuple[str, ...]:
        """Words that a slip is corrected to, of so many letters, the most used first."""
        return tuple(
            word
            for word in self._targets
            if letters_min <= len(word) <= letters_max and word.isalpha()
        )

    def spelled(self, word: str) -> str:
        """The spelling of one listed word; any other word comes back as it is."""
        return self._variants.get(word, word)

    def corrected(self, words: tuple[Word, ...]) -> tuple[Word, ...]:
        """The words as the lexicon spells them. Their number may change, their pauses do not."""
        known = [
            Word(part, word.pause if place == 0 else Pause.NONE)
            for word in words
            for place, part in enumerate(self._known(word.text))
        ]
        corrected: list[Word] = []
        for word in known:
            if corrected and word.pause is Pause.NONE:
                pair = self._variants.get(f"{corrected[-1].text} {word.text}")
                if pair is not None:
                    corrected[-1] = Word(pair, corrected[-1].pause)
                    continue
            corrected.append(word)
        return tuple(
            Word(part, word.pause if place == 0 else Pause.NONE)
            for word in corrected
            for place, part in enumerate(self.spelled(word.text).split())
        )

    @lru_cache(maxsize=4096)  # noqa: B019 - as above; patients repeat themselves
    def _known(self, typed: str) -> tuple[str, ...]:
        """The word as one or more known words; an unknown word as it is."""
        text = _DRAWN_OUT.sub(r"\1\1", typed)
        single = _DOUBLED.sub(r"\1", text)
        if text in self._words or text.isdigit():
            return (text,)
        if text != typed and single in self._words:
            return (single,)
        if text in self._left_alone:
            return (text,)
        stem = text.removesuffix("s")
        if stem in self._words and len(stem) >= _STEM_LETTERS_MIN:
            return (stem,)  # "the boilers gone", "my foots numb": a plural, or 's without its mark
        if single in self._words:
            return (single,)
        close = self._close(text, slips=1) or self._close(single, slips=1)
        parts = None if close else self._parts(text)
        return tuple(parts or (close or self._close(text, slips=2) or text,))

    def _close(self, text: str, *, slips: int) -> str | None:
        """The known word within so many slips; None where there is none or the word is short."""
        if not text.isalpha():
            return None
        letters_min = ONE_SLIP_LETTERS_MIN if slips == 1 else TWO_SLIPS_LETTERS_MIN
        candidates = self._candidates(max(letters_min, len(text) - slips), len(text) + slips)
        near = process.extract(
            text, candidates, scorer=OSA.distance, score_cutoff=slips, limit=None
        )
        return next((str(word) for word, *_ in near if _begins_alike(text, word)), None)

    def _parts(self, text: str) -> list[str] | None:
        """Known words that were written as one, the fewest; None where they do not fill it."""
        if not _RUN_TOGETHER_LETTERS_MIN <= len(text) <= _RUN_TOGETHER_LETTERS_MAX:
            return None
        best: list[list[str] | None] = [[]] + [None] * len(text)
        for end in range(1, len(text) + 1):
            for start in range(max(0, end - _PART_LETTERS_MAX), end):
                before, part = best[start], text[start:end]
                if before is None or not self._is_part(part):
                    continue
                held = best[end]
                if held is None or len(before) + 1 < len(held):
                    best[end] = [*before, part]
        parts = best[-1]
        if not parts or (len(parts) > 2 and len(text) < _PART_LETTERS_MEAN * len(parts)):
            return None
        return parts

    def _is_part(self, part: str) -> bool:
        return part in self._parts_allowed and (len(part) > 1 or part in _LONE_LETTERS)
