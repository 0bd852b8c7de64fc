"""The words for a patient's own days: `wording/<language>/requests.toml`. Decides nothing.

Beside `words`: these are not answers but wishes, corrections by name, and reports out of turn.
Read next: `preferences`, `amending`, `reporting`, `late`.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from dialogs.catalogues import text_of
from dialogs.errors import WordsError

SECTIONS = (
    "commands", "amend", "answers", "days", "mornings", "report", "time", "languages", "channels",
    "zone", "pause", "sheet", "language", "goal",
)  # fmt: skip


LISTS = ("amend", "mornings", "report", "time", "zone", "pause", "sheet", "language", "goal")


@dataclass(frozen=True, eq=False)
class RequestWords:
    """A language's words for life. Mappings go from a phrase, in plain form, to what it means.

    `commands`: to "again", "progress", "stop"; `answers`: to a question's code; `days`: to days
    ago; `languages`: to a code; `channels`: to "chat" or "text". `lists`: phrases by their place
    in the file ("amend.openings"), longest first.
    """

    commands: Mapping[str, str]
    answers: Mapping[str, str]
    days: Mapping[str, int]
    languages: Mapping[str, str]
    channels: Mapping[str, str]
    lists: Mapping[str, tuple[str, ...]]


def read_request_words(text: str) -> RequestWords:
    """The words of a file. Raises `WordsError` where it is no TOML or a table is missing."""
    try:
        kept = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise WordsError(f"the words for life are not TOML: {error}") from error
    missing = [name for name in SECTIONS if not isinstance(kept.get(name), dict)]
    if missing:
        raise WordsError(f"expected the tables {', '.join(SECTIONS)}; missing {missing}")
    plain_lists = {
        f"{table}.{name}": tuple(sorted(phrases, key=len, reverse=True))
        for table in LISTS
        for name, phrases in kept[table].items()
    }
    return RequestWords(
        commands=_turned(kept["commands"]),
        answers=_turned(kept["answers"]),
        days=dict(sorted(kept["days"].items(), key=lambda pair: len(pair[0]), reverse=True)),
        languages=_turned(kept["languages"]),
        channels=_turned(kept["channels"]),
        lists=plain_lists,
    )


@lru_cache(maxsize=8)
def request_words(language: str = "en") -> RequestWords:
    """The words that ship for a language. Raises `WordsError` where there are none."""
    return read_request_words(text_of(language, "requests"))


def after_phrase(line: str, phrases: Iterable[str]) -> str | None:
    """What follows the longest phrase that a line begins with; None where it begins with none.

    A phrase ends where a word ends. Punctuation and spaces after it are dropped.
    """
    for phrase in phrases:
        if not line.startswith(phrase):
            continue
        following = line[len(phrase) : len(phrase) + 1]
        if not following or not (following.isalnum() and phrase[-1].isalnum()):
            return line[len(phrase) :].strip(" ,.:;!-")
    return None


def before_phrase(line: str, phrases: Iterable[str]) -> str | None:
    """What stands before the longest phrase that a line ends with; None where it ends with none."""
    for phrase in phrases:
        found = re.search(rf"(?:^|[\s,.:;]){re.escape(phrase)}$", line)
        if found:
            return line[: found.start()].strip(" ,.:;!-")
    return None


def _turned(table: Mapping[str, Iterable[str]]) -> dict[str, str]:
    """From meaning -> phrases to phrase -> meaning, longest phrases first."""
    pairs = [(phrase, meaning) for meaning, phrases in table.items() for phrase in phrases]
    return dict(sorted(pairs, key=lambda pair: len(pair[0]), reverse=True))
