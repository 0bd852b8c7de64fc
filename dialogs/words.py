"""The words of a language, read from `wording/<language>/words.toml`. Decides nothing.

Another language is another file: no word that a patient writes stands in the code.
Read next: `reading`.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, TypeVar

from dialogs.catalogues import text_of
from dialogs.errors import WordsError

SECTIONS = (
    "commands",
    "answers",
    "numbers",
    "minutes",
    "points",
    "units",
    "labels",
    "small",
    "time",
    "topics",
    "places",
    "buttons",
    "clinician",
    "said",
)

Entry = TypeVar("Entry")

# Straight forms of what phones put in by themselves, and digits that are not decimal digits.
_STRAIGHT = {
    "\u2018": "'", "\u2019": "'", "\u02bc": "'", "`": "'", "\u201c": '"', "\u201d": '"',
    "\u2010": "-", "\u2011": "-", "\u2012": "-", "\u2013": "-", "\u2014": "-", "\u2212": "-",
    "\u2026": " ", "\u00bd": ".5", "\u2264": "<", "\u2265": ">", "\U0001f51f": "10",
    "\u2215": "/", "\u2044": "/", "\ufe0f": "", "\u20e3": "", "\uff0f": "/", "\uff0c": ",",
}  # fmt: skip


@dataclass(frozen=True, eq=False)
class Words:
    """A language's words. Each mapping goes from a phrase, in plain form, to what it means.

    `commands`, `answers`: phrase to meaning ("stop", "yes"). `numbers`, `points`: phrase to
    number; `minutes`: phrase to minutes. `units`, `labels`, `small`: phrase to kind.
    `time`, `clinician`: the tables as they stand. `buttons`: answer to what a button shows.
    `corrections`: what a correction begins or ends with; `swaps`: how a new number stands with the
    old one. `said`: the few words that the code itself puts into a text ("today"), by what they
    mean.
    """

    commands: Mapping[str, str]
    answers: Mapping[str, str]
    numbers: Mapping[str, int]
    minutes: Mapping[str, int]
    points: Mapping[str, int]
    units: Mapping[str, str]
    labels: Mapping[str, str]
    small: Mapping[str, str]
    topics: Mapping[str, str]
    places: Mapping[str, str]
    buttons: Mapping[str, str]
    said: Mapping[str, str]
    time: Mapping[str, Mapping[str, str | int]]
    clinician: Mapping[str, Mapping[str, str]]
    corrections: tuple[str, ...]
    swaps: tuple[str, ...]


# One message is asked for its plain letters a dozen times, and so are the same words [texts].
KEPT_PLAIN = 1024


@lru_cache(maxsize=KEPT_PLAIN)
def plain(text: str, *, accents: bool = False) -> str:
    """Lower case, straight quotes and hyphens, decimal digits of any script as 0-9, one space.

    Accents are dropped, for people write without them; `accents` keeps them, and gives a text of
    the same length. A superscript or a fraction is not a decimal digit and stays as it is, so that
    it is not read. Lines are kept apart.
    """
    letters = []
    for letter in unicodedata.normalize("NFC", text):
        if letter in _STRAIGHT:
            letters.append(_STRAIGHT[letter])
            continue
        digit = unicodedata.decimal(letter, None)
        letters.append(letter if digit is None else str(digit))
    lower = "".join(letters).lower()
    lines = (lower if accents else "".join(map(_without_accent, lower))).splitlines()
    kept = (" ".join(line.split()) for line in lines)
    return "\n".join(line for line in kept if line)


@lru_cache(maxsize=KEPT_PLAIN)
def _without_accent(letter: str) -> str:
    """A Latin letter without its accent; any other letter as it is. One letter for one."""
    base = unicodedata.normalize("NFD", letter)[0]
    return base if base.isascii() and base.isalpha() else letter


def bare(text: str) -> str:
    """Plain, on one line, without punctuation at either end: for whole-message keywords."""
    return re.sub(r"\s+", " ", plain(text)).strip(" .,;:!?\u00a1\u00bf'\"()*-_")


def read_words(text: str) -> Words:
    """The words of a file. Raises `WordsError` where a section is missing or is no table."""
    try:
        kept = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise WordsError(f"the words are not TOML: {error}") from error
    missing = [name for name in SECTIONS if not isinstance(kept.get(name), dict)]
    if missing:
        raise WordsError(f"expected the tables {', '.join(SECTIONS)}; missing {missing}")
    commands = dict(kept["commands"])
    corrections = _folded(dict.fromkeys(commands.pop("correction", []), 0))
    swaps = _folded(dict.fromkeys(commands.pop("swap", []), 0))
    return Words(
        commands=_turned(commands),
        answers=_turned(kept["answers"]),
        numbers=_folded(kept["numbers"]),
        minutes=_folded(kept["minutes"]),
        points=_folded(kept["points"]),
        units=_turned(kept["units"]),
        labels=_turned(kept["labels"]),
        small=_turned(kept["small"]),
        topics=_turned(kept["topics"]),
        places=_folded(kept["places"]),
        buttons=kept["buttons"],
        said=kept["said"],
        time=_time(kept["time"]),
        clinician=_clinician(kept["clinician"]),
        corrections=tuple(corrections),
        swaps=tuple(swaps),
    )


def _time(table: Mapping[str, Any]) -> dict[str, Mapping[str, str | int]]:
    return {
        "marks": _turned({k: v for k, v in table.items() if isinstance(v, list)}),
        "weekdays": _folded(table["weekdays"]),
        "months": _folded(table["months"]),
    }


def _clinician(table: Mapping[str, Any]) -> dict[str, Mapping[str, str]]:
    return {
        "commands": _turned({k: v for k, v in table.items() if isinstance(v, list)}),
        "outcomes": _turned(table["outcomes"]),
        "tendons": _turned(table["tendons"]),
        "small": _turned(table["small"]),
    }


@lru_cache(maxsize=8)
def shipped_words(language: str = "en") -> Words:
    """The words that ship for a language. Raises `WordingError` where there are none."""
    return read_words(text_of(language, "words"))


def _turned(table: Mapping[str, Iterable[str]]) -> dict[str, str]:
    """From meaning -> phrases to phrase -> meaning, longest phrases first."""
    return _folded({phrase: meaning for meaning, phrases in table.items() for phrase in phrases})


def _folded(table: Mapping[str, Entry]) -> dict[str, Entry]:
    """The table with its phrases in plain form, as texts are compared, longest phrases first."""
    pairs = [(plain(phrase), meaning) for phrase, meaning in table.items()]
    return dict(sorted(pairs, key=lambda pair: len(pair[0]), reverse=True))
