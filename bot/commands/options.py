"""Options that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

ConfigOption = Annotated[
    Path, typer.Option(help="The clinic's configuration; see deploy/clinic.example.toml.")
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print one JSON object, for scripts.")]
