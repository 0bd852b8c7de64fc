"""Reads a clinic's own wording: a folder with one folder a language, and catalogues in it.

    our-wording/en/ours.toml        skipped = "Fine, {{ name }}."
                                    advice.ready = "..."

The keys are those of `dialogs/wording`; a catalogue holds only what the clinic says otherwise, and
has any name. Whether the texts can be used is `dialogs.own_wording`'s to say.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from dialogs.catalogues import key, languages, read_messages
from dialogs.errors import WordingError
from dialogs.own_wording import problems
from rules.protocol import Protocol

Wording = Mapping[str, Mapping[str, str]]
"""The clinic's own messages: language to name to text."""


def read_wording(folder: Path) -> tuple[Wording, tuple[str, ...]]:
    """The messages in a folder, and what could not be read: a sentence each, with the file."""
    if not folder.is_dir():
        return {}, (f"wording.folder: there is no folder {folder}",)
    found: dict[str, dict[str, str]] = {}
    wrong: list[str] = []
    for file in sorted(path for path in folder.rglob("*") if path.is_file()):
        try:
            language = _language(file, folder)
            new = read_messages(file.read_text(encoding="utf-8"))
            own = found.setdefault(language, {})
            if twice := ", ".join(map(key, sorted(new.keys() & own.keys()))):
                raise WordingError(f"{twice} stands in another file as well")
            own.update(new)
        except (OSError, UnicodeDecodeError) as error:
            wrong.append(f"{file}: cannot be read: {error}")
        except WordingError as error:
            wrong.append(f"{file}: {error}")
    return found, tuple(wrong)


def _language(file: Path, folder: Path) -> str:
    """The language that a file of the folder is in. Raises `WordingError` where it has none."""
    where = file.relative_to(folder)
    if where.parts[0] not in languages():
        expected = ", ".join(languages())
        raise WordingError(f"expected a folder for each language ({expected}) with catalogues")
    if len(where.parts) != 2 or file.suffix != ".toml":
        raise WordingError(
            "expected a catalogue, such as en/ours.toml, with lines such as "
            'advice.ready = "..."; `nextmorning wording --list` shows the keys'
        )
    return where.parts[0]


def wording_problems(
    folder: Path, wording: Wording, protocols: Iterable[Protocol]
) -> tuple[str, ...]:
    """What is wrong with the texts: a sentence each, with the folder and the key."""
    used = tuple(protocols)
    return tuple(
        f"{folder / language}: {key(name)}: {problem}"
        for language, own in wording.items()
        for name, problem in problems(language, own, used)
    )
