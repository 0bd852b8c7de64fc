"""A small language for wordings, so that a clinician can read and extend the lexicon.

    heard a pop            these words, side by side
    heard|felt             one of these; in brackets where one of them has several words
    (a|the|my)?            may be there or not
    {leg}                  one of a named group of words, see [groups]; it may name others in turn
    ..                     up to two words of any kind; does not reach over a full stop
    ...                    up to five words of any kind; a full stop counts as three of them
    calf & swollen         both in one sentence, in either order, up to six words between; or three
    *floxacin  swell*      any word that ends, or begins, so
    #38-42                 a number in this range, decimals allowed
    ##38-42                the same, and it has decimals: nobody counts raises so
    #20-60 and =           a number, and behind it the same again; of several, the first

It only translates: a wording becomes a regular expression over words parted by single spaces.
Spelling is settled before (`spelling`); what a wording means is settled after (`sense`).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property

from rules.errors import LexiconError

STOP_MARK = "/ / /"
"""Stands for the end of a sentence in the text that is matched: three words, for the gaps."""

ANY_START = "*"
"""Index key of wordings that may start with any word."""

TOGETHER_WORDS_MAX = 6
"""Words that may stand between the parts that `&` joins [words, at most]. Convention."""

_TOGETHER_MAX = 3  # convention: more would say nothing about what belongs to what
_GROUP_DEPTH_MAX = 3  # convention: a reader has to follow it
_NAME = re.compile(r"\{([a-z_]+)\}")
_ELEMENT = re.compile(r"\.\.\.|\.\.|\(|\)|\||\?|##?\d+-\d+|=|[a-z0-9*]+")
_NO_WORDS = frozenset({"|", "?", ")", "..", "..."})
_GAPS = {"..": r"(?: (?!/)[^ ]+){0,2}?", "...": r"(?: [^ ]+){0,5}?"}
_RANGE_MAX = 400  # convention: each number is written out in the expression
# Outside brackets `|` stands between single words; this looks as if more was meant.
_AMBIGUOUS = re.compile(r"\|[^ |.]+(?: [^ |.]+)+\|")


@dataclass(frozen=True)
class Part:
    """What stands side by side: words it can start with, all words it names, its expression.

    The expression is compiled when it is first wanted: most wordings never are.
    """

    starts: frozenset[str]
    words: frozenset[str]
    expression: str

    @cached_property
    def pattern(self) -> re.Pattern[str]:
        """The expression, ready to match."""
        return re.compile(self.expression)


@dataclass(frozen=True)
class Phrase:
    """A wording: its one part, or those that `&` joins."""

    source: str
    parts: tuple[Part, ...]

    @cached_property
    def words(self) -> frozenset[str]:
        """All words that it names."""
        return frozenset[str]().union(*(part.words for part in self.parts))


def compile_phrase(source: str, groups: Mapping[str, str], spelled: Callable[[str], str]) -> Phrase:
    """A phrase from its source.

    `groups`: named groups by name. `spelled`: the spelling that the text will have after
    correction, so that a wording may be written either way.
    Raises LexiconError where the source cannot be read, or starts with something optional.
    """
    parts = source.split(" & ")
    if len(parts) > _TOGETHER_MAX:
        raise LexiconError(f"wording {source!r}: & joins at most {_TOGETHER_MAX} parts")
    return Phrase(source, tuple(_read(part, source, groups, spelled) for part in parts))


def _read(part: str, source: str, groups: Mapping[str, str], spelled: Callable[[str], str]) -> Part:
    """One part of a wording, with all of it read."""
    expanded = part
    for _ in range(_GROUP_DEPTH_MAX):
        expanded = re.sub(_NAME, lambda name: _group(name[1], groups, source), expanded)
    elements = _ELEMENT.findall(expanded)
    if not elements or "".join(elements) != expanded.replace(" ", ""):
        raise LexiconError(f"wording {source!r}: only words, | ? ( ) {{}} .. ... & * # = are read")
    if _AMBIGUOUS.search(_without_brackets(part)):
        raise LexiconError(f"wording {source!r}: of 'a|b c|d' it cannot tell; use brackets")
    reader = _Reader(source, elements, spelled)
    body = reader.sequence()
    if reader.place != len(elements):
        raise LexiconError(f"wording {source!r}: a bracket is closed that was not opened")
    return Part(frozenset(reader.starts), frozenset(reader.words), f"(?:{body})(?= |$)")


def _without_brackets(source: str) -> str:
    outside, depth = "", 0
    for mark in source:
        depth += (mark == "(") - (mark == ")")
        outside += mark if depth == 0 else ""
    return outside


def _group(name: str, groups: Mapping[str, str], source: str) -> str:
    if name not in groups:
        raise LexiconError(f"wording {source!r}: there is no group {name!r}")
    return f"({groups[name]})"


class _Reader:
    """Reads elements from left to right."""

    def __init__(self, source: str, elements: list[str], spelled: Callable[[str], str]) -> None:
        self.source = source
        self.elements = elements
        self.spelled = spelled
        self.place = 0
        self.numbered = False
        self.starts: set[str] = set()
        self.words: set[str] = set()

    def sequence(self, *, bracketed: bool = False, at_start: bool = True) -> str:
        """Elements side by side, up to the end; in a bracket, up to its next option or its end."""
        parts: list[str] = []
        while self.place < len(self.elements) and not self._ends(bracketed):
            element = self.elements[self.place]
            first = at_start and not parts
            if element in _GAPS:
                self.place += 1
                part, optional = _GAPS[element], True
            else:
                part, optional = self.choice(bracketed=bracketed, at_start=first)
            if first and optional:
                raise LexiconError(f"wording {self.source!r}: it cannot start with an option")
            parts.append(part)
        if not parts:
            raise LexiconError(f"wording {self.source!r}: a word is missing in a bracket")
        return "".join(parts)

    def choice(self, *, bracketed: bool, at_start: bool) -> tuple[str, bool]:
        """A word, a bracket, or several of them with `|` between; and whether it is optional."""
        options = [self.option(at_start=at_start)]
        while not bracketed and self._next_is("|"):
            options.append(self.option(at_start=at_start))
        optional = self._next_is("?")
        body = options[0] if len(options) == 1 else f"(?:{'|'.join(options)})"
        return (f"(?:{body})?" if optional else body), optional

    def option(self, *, at_start: bool) -> str:
        """One word, one number, or a bracket with what it offers."""
        if not self._next_is("("):
            return self._word(at_start=at_start)
        options = [self.sequence(bracketed=True, at_start=at_start)]
        while self._next_is("|"):
            options.append(self.sequence(bracketed=True, at_start=at_start))
        if not self._next_is(")"):
            raise LexiconError(f"wording {self.source!r}: a bracket is not closed")
        return f"(?:{'|'.join(options)})"

    def _ends(self, bracketed: bool) -> bool:
        element = self.elements[self.place]
        return element == ")" or (bracketed and element == "|")

    def _word(self, *, at_start: bool) -> str:
        if self.place == len(self.elements):
            raise LexiconError(f"wording {self.source!r}: a word is missing at the end")
        word = self.elements[self.place]
        if word in _NO_WORDS:
            raise LexiconError(f"wording {self.source!r}: a word is missing before {word}")
        self.place += 1
        if word.startswith("#"):
            return self._number(word, at_start=at_start)
        if word == "=":
            if not self.numbered:
                raise LexiconError(f"wording {self.source!r}: before = no number stands")
            return " (?P=same)"
        if "*" in word:
            if at_start:
                self.starts.add(ANY_START)
            return " " + re.escape(word).replace(r"\*", "[a-z]*")
        spelled = self.spelled(word)
        self.words.update(spelled.split())
        if at_start:
            self.starts.add(spelled.split()[0])
        return " " + spelled

    def _number(self, element: str, *, at_start: bool) -> str:
        low, high = map(int, element.lstrip("#").split("-"))
        if not 0 <= high - low <= _RANGE_MAX:
            raise LexiconError(f"wording {self.source!r}: a range spans 0 to {_RANGE_MAX}")
        if at_start:
            self.starts.add(ANY_START)
        decimals = r"\.[0-9]+" if element.startswith("##") else r"(?:\.[0-9]+)?"
        number = f"(?:{'|'.join(map(str, range(low, high + 1)))}){decimals}"
        if self.numbered or "=" not in self.elements:
            return f" {number}"
        self.numbered = True
        return f" (?P<same>{number})"

    def _next_is(self, element: str) -> bool:
        if self.place < len(self.elements) and self.elements[self.place] == element:
            self.place += 1
            return True
        return False
