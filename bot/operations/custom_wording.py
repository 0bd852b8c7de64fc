"""Reads a clinic's own wording: a folder with one folder a language, and catalogues in it.

    our-wording/en/ours.toml        skipped = "Fine, {{ name }}."
                                    advice.ready = "..."

The keys are those of `dialogs/wording`; a catalogue holds only what the clinic says otherwise, and
has any name. Whether the texts can be used is `dialogs.own_wording`'s to say.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from pathlib import Path

from dialogs.catalogues import key, languages, read_messages
from dialogs.errors import WordingError
from dialogs.own_wording import problems
from rules.protocol import Protocol

KEPT_FILE = "page.toml"
"""The file of a language that is written by the clinic page; all others are written by hand."""

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


def keep_wording(folder: Path, language: str, name: str, text: str) -> None:
    """Put one message of the clinic's own into its folder, or take it out where the text is empty.
    Raises WordingError where it stands in a file that is written by hand, or none can be written.
    """
    ours = folder / language / KEPT_FILE
    try:
        for file in sorted((folder / language).glob("*.toml")):
            if file != ours and name in read_messages(file.read_text(encoding="utf-8")):
                raise WordingError(f"{key(name)} stands in {file}: change it there")
        kept = read_messages(ours.read_text(encoding="utf-8")) if ours.exists() else {}
        kept = {one: said for one, said in {**kept, name: text}.items() if said}
        ours.parent.mkdir(parents=True, exist_ok=True)
        lines = (
            f"{key(one)} = {json.dumps(said, ensure_ascii=False)}\n"
            for one, said in sorted(kept.items())
        )
        new = ours.with_suffix(".new")
        new.write_text("".join(lines), encoding="utf-8")
        new.replace(ours)
    except OSError as error:
        raise WordingError(f"{ours} cannot be written: {error.strerror}") from error


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
