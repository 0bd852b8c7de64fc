"""Reads a language: the folder `wording/<language>`, and nothing else.

Catalogues (`asking.toml`, `advice.toml`, ...) hold messages: a key and its text, a template of
Jinja2. A table makes part of the name: `ready` in `[advice]` is the message "advice/ready". The
names are one space over all catalogues; which file a message stands in is for people.
Seven other files hold what is no message: `words` and `requests` are what people write, `questions`
what they ask; `lines` what codes are called, `tips` the tips, `page` what stands on the clinic
page, `charts` what stands in a clinician's pictures. Read next: `rendering`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from functools import lru_cache
from importlib.resources import files
from typing import Any

from dialogs.errors import WordingError

FOLDER = files("dialogs") / "wording"
NO_MESSAGES = frozenset(
    f"{name}.toml" for name in ("words", "requests", "questions", "lines", "tips", "page", "charts")
)


def languages() -> tuple[str, ...]:
    """The languages that ship, by their code."""
    return tuple(sorted(f.name for f in FOLDER.iterdir() if (f / "words.toml").is_file()))


def text_of(language: str, name: str) -> str:
    """A file of a language as it stands. Raises `WordingError` where there is none."""
    file = FOLDER / language / f"{name}.toml"
    if not file.is_file():
        raise WordingError(f"the language {language!r} has no file {name}.toml")
    return file.read_text(encoding="utf-8")


@lru_cache(maxsize=16)
def tables(language: str, name: str) -> Mapping[str, Any]:
    """The tables of a file of a language. Raises `WordingError` where there is no such file."""
    return tomllib.loads(text_of(language, name))


def key(name: str) -> str:
    """How a message's name is written in a catalogue: "advice.ready" for "advice/ready"."""
    return name.replace("/", ".")


@lru_cache(maxsize=8)
def shipped_messages(language: str) -> Mapping[str, str]:
    """Every message of a language by its name. Raises `WordingError` where two have one name."""
    found: dict[str, str] = {}
    for file in sorted((FOLDER / language).iterdir(), key=lambda one: one.name):
        if not file.name.endswith(".toml") or file.name in NO_MESSAGES:
            continue
        new = read_messages(file.read_text(encoding="utf-8"))
        if twice := sorted(new.keys() & found.keys()):
            raise WordingError(f"{language}/{file.name}: {', '.join(twice)} stands twice")
        found |= new
    return found


def read_messages(text: str) -> dict[str, str]:
    """The messages of a catalogue by name. Raises `WordingError` where it is none."""
    try:
        return dict(_messages(tomllib.loads(text), ""))
    except tomllib.TOMLDecodeError as error:
        raise WordingError(f"cannot be read: {error}") from error


def _messages(table: Mapping[str, Any], before: str) -> Iterator[tuple[str, str]]:
    for key, value in table.items():
        if isinstance(value, dict):
            yield from _messages(value, f"{before}{key}/")
        elif isinstance(value, str):
            yield f"{before}{key}", value
        else:
            raise WordingError(f"{before}{key}: expected a text, found {value!r}")
