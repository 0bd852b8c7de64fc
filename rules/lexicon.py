"""The lexicon: which words show which warning sign, read from `warning_signs/<language>*.toml`.

It checks the file and finds wordings in a text. Whether what was found is meant (and not denied,
feared or someone else's) it does not decide: that is `sense`, and then `screening`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from typing import Any

from rules.errors import LexiconError
from rules.history import Tier
from rules.line import Line
from rules.phrase import ANY_START, Phrase, compile_phrase
from rules.plain_text import Pause, Word, words_of
from rules.second_reading import SecondReader, languages_read_twice, shipped_second_reader
from rules.spelling import Speller
from rules.warning_sign import Sign
from rules.wordings import Entry, Found, Kind, Past, SignRules, Together

_FILE_KEYS = {
    "about", "written_as", "left_alone", "groups", "context", "clues", "signs", "together",
}  # fmt: skip
_SIGN_KEYS = {
    "tier", "title", "source", "closed_question", "past", "wordings", "near_misses", "ask",
    "ask_instead", "raised", "family", "past_raised",
}  # fmt: skip


# What a language's lexicon is put together from: see `part_of_shipped`.
_PARTS = ("", "_words", "_left_alone")

_LISTS_MAY_LACK = ("time_words", "asking", "towards", "turning_words", "not_because")
_MAY_LACK = (Kind.HEALED,)
_TELLING = (Kind.WORDING, Kind.ASK, Kind.CLUE, Kind.NEGATOR)
_BLANKING = (Kind.IDIOM, Kind.ASK_INSTEAD, Kind.NEAR_MISS)


OTHER_LANGUAGE_MIN = 2.0
"""How much more familiar a text must be in another language to be read in it too [natural logarithm
of odds]. Source: measured on `tests/decides/messages`. Of 1,611 messages 3 are taken for another
language, and of 100 that are in another 98 are seen to be.
"""


@dataclass(frozen=True)
class Lexicon:
    """All of one language's wordings. Frozen; made by `read_lexicon`.

    `second_reader`: reads each message again, by its likeness to labelled ones; None: nobody does.
    `others`: the other languages in which a message may be read.
    """

    signs: Mapping[str, SignRules]
    together: tuple[Together, ...]
    speller: Speller
    clause_words: frozenset[str]
    subjects: frozenset[str]
    first_person: frozenset[str]
    third_person: frozenset[str]
    reporting: frozenset[str]
    thinking: frozenset[str]
    list_words: frozenset[str]
    time_words: frozenset[str]
    asking: frozenset[str]
    towards: frozenset[str]
    turning_words: frozenset[str]
    not_because: frozenset[str]
    either_words: frozenset[str]
    verbs: frozenset[str]
    denials: frozenset[str]
    index: Mapping[Kind | None, Mapping[str, tuple[Entry, ...]]]
    second_reader: SecondReader | None = None
    others: tuple[str, ...] = ()

    def sign(self, key: str) -> Sign:
        """The sign of this key. Raises LexiconError where the lexicon has none."""
        if key not in self.signs:
            raise LexiconError(f"there is no sign {key!r}; found {', '.join(sorted(self.signs))}")
        return self.signs[key].sign

    def other_language_of(self, text: str) -> str | None:
        """Another language, where a text is plainly written in it."""
        if self.second_reader is None or not self.others:
            return None
        familiar = {one: shipped_second_reader(one).familiarity(text) for one in self.others}
        likest = max(familiar, key=familiar.__getitem__)
        more = familiar[likest] - self.second_reader.familiarity(text)
        return likest if more >= OTHER_LANGUAGE_MIN else None

    def words(self, text: str) -> tuple[tuple[Word, ...], Pause]:
        """The words of a text, spelled as the lexicon spells them, and the last pause."""
        words, last_pause = words_of(text)
        return self.speller.corrected(words), last_pause

    def found_in(self, words: tuple[Word, ...]) -> tuple[Found, ...]:
        """Every entry that the words hold. Some blank what they cover before the rest is looked
        for: idioms for all signs, near-misses and `ask_instead` for their own.
        """
        line = Line(words, self.turning_words)
        found: list[Found] = []
        for kind in (Kind.IDIOM, Kind.ASK_INSTEAD):
            here = self._pass(kind, line)
            line.blank((one.entry.key, one.start, one.end) for one in here)
            found.extend(here)
        telling = self._pass(None, line)
        # A near-miss takes away and adds nothing: it is looked for where its sign was seen.
        seen = {one.entry.key for one in telling}
        misses = [
            one for one in self._pass(Kind.NEAR_MISS, line, seen) if not self._denied(one, words)
        ]
        line.blank((one.entry.key, one.start, one.end) for one in misses)
        again = {one.entry.key for one in misses}
        found.extend(misses)
        found.extend(one for one in telling if one.entry.key not in again)
        found.extend(self._pass(None, line, again))
        return tuple(sorted(found, key=lambda one: (one.start, one.end)))

    def _denied(self, here: Found, words: tuple[Word, ...]) -> bool:
        """Whether an explanation is denied within itself: "numb bottom and it is not the chair"."""
        held = {word.text for word in words[here.start + 1 : here.end - 1]}
        return not self.not_because.isdisjoint(held - here.entry.phrase.words)

    def _pass(self, kind: Kind | None, line: Line, keys: set[str] | None = None) -> list[Found]:
        """What the line holds of one kind, as in `index`; of these keys only, if any are given."""
        index = self.index[kind]
        possible = {
            id(entry): entry
            for word in (*line.distinct, ANY_START)
            for entry in index.get(word, ())
            if keys is None or entry.key in keys
        }
        return [
            Found(entry, start, end)
            for entry in possible.values()
            if line.may_hold(entry.phrase)
            for start, end in line.spans(
                entry.phrase, entry.key, in_turn=entry.kind is Kind.NEAR_MISS
            )
        ]


@cache
def shipped_lexicon(language: str = "en") -> Lexicon:
    """The lexicon that ships for a language, with its second reading. Raises LexiconError where
    there is none, or where the second reading knows a sign that the wordings have not.
    """
    wordings, reader = shipped_wordings(language), shipped_second_reader(language)
    for key in reader.signs:
        wordings.sign(key)
    others = tuple(sorted(set(languages_read_twice()) - {language}))
    return replace(wordings, second_reader=reader, others=others)


@cache
def shipped_wordings(language: str) -> Lexicon:
    """The lexicon that ships for a language, without a second reader. Raises LexiconError where
    there is none.
    """
    return read_lexicon("\n".join(part_of_shipped(language, part) for part in _PARTS))


def part_of_shipped(language: str, part: str) -> str:
    """The text of one of a language's files: "" the signs, "_words" how they are written and
    meant, "_left_alone" the words that are no
    slips. All may stand in the first; the others are then empty. Raises LexiconError where there
    is no first.
    """
    path = resources.files("rules").joinpath("warning_signs", f"{language}{part}.toml")
    if part and not path.is_file():
        return ""
    if not path.is_file():
        raise LexiconError(f"there is no warning signs file for the language {language!r}")
    return path.read_text(encoding="utf-8")


def read_lexicon(text: str) -> Lexicon:
    """A lexicon from the text of its file. Raises LexiconError, with what was expected."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise LexiconError(f"the warning signs file is not TOML: {error}") from error
    _only_keys("the file", data, _FILE_KEYS)
    try:
        return _lexicon_of(data)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise LexiconError(f"the warning signs file lacks or misspells {error}") from error


def _lexicon_of(data: Mapping[str, Any]) -> Lexicon:
    variants = _variants(data["written_as"])
    groups: dict[str, str] = data["groups"]

    def compiled(source: str) -> Phrase:
        return compile_phrase(source, groups, lambda word: variants.get(word, word))

    entries = list(_entries(data, compiled))
    context = data["context"]
    lists = {
        name: frozenset(variants.get(word, word) for word in _listed(context, name).split())
        for name in (
            "clause_words", "subjects", "first_person", "third_person", "reporting", "thinking",
            "list_words", "time_words", "asking", "towards", "turning_words",
            "not_because", "either_words", "verbs", "denials",
        )
    }  # fmt: skip
    signs = {key: _sign_rules(key, table) for key, table in data["signs"].items()}
    words = {word for entry in entries for word in entry.phrase.words}.union(*lists.values())
    # A slip is not corrected to what only an idiom or a near-miss is made of.
    targets = [word for entry in entries if entry.kind in _TELLING for word in entry.phrase.words]
    speller = Speller(words, targets, variants, data["left_alone"]["words"].split())
    together = tuple(_together(table, signs, data["clues"]) for table in data["together"])
    return Lexicon(
        signs,
        together,
        speller,
        index=_index(entries),
        second_reader=None,
        others=(),
        **lists,
    )


def _listed(context: Mapping[str, Any], name: str) -> str:
    """Words of the context in one text; some lists may lack."""
    return str(context.get(name, "") if name in _LISTS_MAY_LACK else context[name])


def _entries(data: Mapping[str, Any], compiled: Callable[[str], Phrase]) -> Iterator[Entry]:
    context = data["context"]
    for source in context["idioms"]:
        yield Entry(Kind.IDIOM, "", None, compiled(source))
    for kind in tuple(Kind)[tuple(Kind).index(Kind.NEGATOR) :]:
        for source in context.get(kind.value, ()) if kind in _MAY_LACK else context[kind.value]:
            yield Entry(kind, "", None, compiled(source))
    for name, sources in data["clues"].items():
        for source in sources:
            yield Entry(Kind.CLUE, name, None, compiled(source))
    for key, table in data["signs"].items():
        _only_keys(f"sign {key!r}", table, _SIGN_KEYS)
        for tier, sources in ((table["tier"], table["wordings"]), *table.get("raised", {}).items()):
            for source in sources:
                yield Entry(Kind.WORDING, key, Tier(tier), compiled(source))
        for source in table.get("ask", ()):
            yield Entry(Kind.ASK, key, None, compiled(source))
        for source in table.get("ask_instead", ()):
            yield Entry(Kind.ASK_INSTEAD, key, None, compiled(source))
        for source in table.get("near_misses", ()):
            yield Entry(Kind.NEAR_MISS, key, None, compiled(source))


def _index(entries: list[Entry]) -> dict[Kind | None, dict[str, tuple[Entry, ...]]]:
    """Entries by a word their first part starts with; by what they blank, None: nothing."""
    index: dict[Kind | None, dict[str, tuple[Entry, ...]]] = {}
    for kind in (*_BLANKING, None):
        held: dict[str, list[Entry]] = {}
        for entry in entries:
            if (entry.kind if entry.kind in _BLANKING else None) is not kind:
                continue
            starts = entry.phrase.parts[0].starts
            for start in {ANY_START} if ANY_START in starts else starts:
                held.setdefault(start, []).append(entry)
        index[kind] = {start: tuple(group) for start, group in held.items()}
    return index


def _sign_rules(key: str, table: Mapping[str, Any]) -> SignRules:
    sign = Sign(key, Tier(table["tier"]), table["title"], table["closed_question"], table["source"])
    past = Past(table["past"])
    return SignRules(
        sign,
        past,
        Past(table.get("past_raised", past)),
        family=table.get("family", False),
    )


def _together(
    table: Mapping[str, Any], signs: Mapping[str, SignRules], clues: Mapping[str, Any]
) -> Together:
    unknown = {table["sign"], *table["parts"]} - set(signs) - set(clues)
    if unknown or table["sign"] not in signs:
        raise LexiconError(f"together: {table['parts']} names no sign or clue: {unknown}")
    return Together(
        frozenset(table["parts"]), table["sign"], Tier(table["tier"]), bool(table.get("ask", False))
    )


def _variants(written_as: Mapping[str, str]) -> dict[str, str]:
    """Other spelling -> the lexicon's. In the file: the lexicon's = "other, other, other"."""
    variants: dict[str, str] = {}
    for spelling, others in written_as.items():
        for other in others.split(","):
            if variants.setdefault(other.strip(), spelling) != spelling:
                raise LexiconError(f"spelling {other.strip()!r} stands for two words")
    return variants


def _only_keys(place: str, table: Mapping[str, Any], keys: set[str]) -> None:
    unknown = set(table) - keys
    if unknown:
        raise LexiconError(f"{place}: {', '.join(sorted(unknown))} is not one of {sorted(keys)}")
