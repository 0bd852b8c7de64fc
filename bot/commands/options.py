"""Options that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from bot.errors import RefusedError
from dialogs.catalogues import languages

ConfigOption = Annotated[
    Path, typer.Option(help="The clinic's configuration; see deploy/clinic.example.toml.")
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print one JSON object, for scripts.")]


def known_language(language: str) -> str:
    """The language, where it ships. Raises RefusedError."""
    if language not in languages():
        known = ", ".join(languages())
        raise RefusedError(f"expected a language of {known}; found {language!r}")
    return language
