"""Reads a clinic's own wording: a folder with one folder a language, files named as the templates.

    our-wording/en/skipped.txt.j2
    our-wording/es/advice/ready.txt.j2

Whether the texts can be used is `dialogs.own_wording`'s to say.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from dialogs.own_wording import problems
from dialogs.wording import SUFFIX, languages
from rules.protocol import Protocol

Wording = Mapping[str, Mapping[str, str]]
"""The clinic's own templates: language to name (without suffix) to text."""


def read_wording(folder: Path) -> tuple[Wording, tuple[str, ...]]:
    """The templates in a folder, and what could not be read: a sentence each, with the file."""
    if not folder.is_dir():
        return {}, (f"wording.folder: there is no folder {folder}",)
    found: dict[str, dict[str, str]] = {}
    wrong: list[str] = []
    for file in sorted(path for path in folder.rglob("*") if path.is_file()):
        where = file.relative_to(folder)
        language = where.parts[0]
        if language not in languages():
            expected = ", ".join(languages())
            wrong.append(f"{file}: expected a folder for each language ({expected}) with files")
        elif not file.name.endswith(SUFFIX):
            wrong.append(f"{file}: expected a name that ends in {SUFFIX}")
        else:
            name = where.relative_to(language).as_posix().removesuffix(SUFFIX)
            try:
                found.setdefault(language, {})[name] = file.read_text(encoding="utf-8")
            except (OSError, UnicodeDecodeError) as error:
                wrong.append(f"{file}: cannot be read: {error}")
    return found, tuple(wrong)


def wording_problems(
    folder: Path, wording: Wording, protocols: Iterable[Protocol]
) -> tuple[str, ...]:
    """What is wrong with the texts: a sentence each, with the file."""
    used = tuple(protocols)
    return tuple(
        f"{folder / language}/{name}{SUFFIX}: {problem}"
        for language, own in wording.items()
        for name, problem in problems(language, own, used)
    )
