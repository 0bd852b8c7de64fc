"""The line of words that wordings are looked for on, and where they stand on it.

It knows no sign and no language. What was found and explained away is blanked, so that nothing
else reads it. Read next: `phrase` (what a wording is), `lexicon` (who looks for what).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from rules.phrase import ANY_START, STOP_MARK, TOGETHER_WORDS_MAX, Part, Phrase
from rules.plain_text import Pause, Word

Span = tuple[int, int]
"""A stretch of words: the first, and the one after the last."""


class Line:
    """Words parted by spaces, sentence ends marked. Blanked words keep their length."""

    def __init__(
        self, words: tuple[Word, ...], turning_words: frozenset[str] = frozenset()
    ) -> None:
        """`turning_words`: those that turn to something else, such as "but": see `spans`."""
        self.distinct = {word.text for word in words}
        self._words = words
        self._places: dict[str, list[int]] = {ANY_START: list(range(len(words)))}
        self._starts: list[int] = []
        self._ends: dict[int, int] = {}
        self._sentence: list[int] = []
        self._turn: list[int] = []
        pieces: list[str] = []
        length = sentence = turn = 0
        for place, word in enumerate(words):
            if word.pause >= Pause.QUESTION:
                pieces.append(STOP_MARK)
                length += len(STOP_MARK) + 1
                sentence += 1
            turn += word.text in turning_words
            self._sentence.append(sentence)
            self._turn.append(turn)
            self._places.setdefault(word.text, []).append(place)
            self._starts.append(length)
            pieces.append(word.text)
            length += len(word.text) + 1
            self._ends[length] = place + 1
        self._texts = {"": "".join(f" {piece}" for piece in pieces)}  # by who reads them
        self._found: dict[tuple[str, str], tuple[Span, ...]] = {}

    def may_hold(self, phrase: Phrase) -> bool:
        """Whether each part of the phrase can begin with some word of the line."""
        return all(
            ANY_START in part.starts or not part.starts.isdisjoint(self.distinct)
            for part in phrase.parts
        )

    def blank(self, covered: Iterable[tuple[str, int, int]]) -> None:
        """Make stretches unreadable to one sign each; to all where the key is empty."""
        blanked: set[str] = set()
        for key, start, end in covered:
            blanked.add(key)
            low = self._starts[start] + 1
            high = self._starts[end - 1] + 1 + len(self._words[end - 1].text)
            for name in [key] if key else list(self._texts):
                text = self._texts.get(name, self._texts[""])
                self._texts[name] = text[:low] + re.sub(r"[^ /]", "_", text[low:high]) + text[high:]
        for stale in [held for held in self._found if "" in blanked or held[1] in blanked]:
            del self._found[stale]

    def spans(self, phrase: Phrase, key: str, *, in_turn: bool = False) -> Iterator[Span]:
        """Where the phrase stands, as this sign reads the line. Of those that begin at one word
        the shortest. `in_turn`: between parts that `&` joins no word turns to something else.
        """
        turn = self._turn if in_turn else [0] * len(self._words)
        if len(phrase.parts) == 1:
            yield from self._spans_of(phrase.parts[0], key)
            return
        pieces: list[tuple[int, int, int]] = []
        for number, part in enumerate(phrase.parts):
            spans = self._spans_of(part, key)
            if not spans:
                return
            pieces.extend((start, end, number) for start, end in spans)
        pieces.sort()
        for at, (start, end, number) in enumerate(pieces):
            last = self._joined(pieces[at + 1 :], end, {number}, len(phrase.parts), turn)
            if last is not None:
                yield start, last

    def _joined(
        self,
        pieces: list[tuple[int, int, int]],
        end: int,
        held: set[int],
        wanted: int,
        turn: list[int],
    ) -> int | None:
        """Where the nearest stretch ends that holds the missing parts too; None: nowhere."""
        if len(held) == wanted:
            return end
        best: int | None = None
        for at, (start, piece_end, number) in enumerate(pieces):
            if start - end > TOGETHER_WORDS_MAX or self._sentence[start] != self._sentence[end - 1]:
                break
            if turn[start - 1] != turn[end - 1]:
                break
            if number in held or start < end:
                continue
            last = self._joined(pieces[at + 1 :], piece_end, held | {number}, wanted, turn)
            if last is not None and (best is None or last < best):
                best = last
        return best

    def _spans_of(self, part: Part, key: str) -> tuple[Span, ...]:
        """Where one part stands; looked for once, however many phrases share it."""
        sees = key if key in self._texts else ""
        held = self._found.get((part.expression, sees))
        if held is None:
            held = self._found[part.expression, sees] = tuple(self._look_for(part, sees))
        return held

    def _look_for(self, part: Part, sees: str) -> Iterator[Span]:
        text = self._texts[sees]
        match = part.pattern.match
        starts = (ANY_START,) if ANY_START in part.starts else part.starts & self.distinct
        for place in sorted(place for start in starts for place in self._places[start]):
            found = match(text, self._starts[place])
            if found is not None:
                yield place, self._ends[found.end()]
