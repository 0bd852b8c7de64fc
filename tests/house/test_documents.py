"""The documents name what there is: the roles, the commands, the reasons for each advice."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from bot.clinicians.roles import MAY, Right
from bot.commands import COMMANDS
from bot.store.people import Role
from rules.protocol_reader import SHIPPED, shipped_text

ROOT = Path(__file__).parents[2]
README = ROOT / "README.md"
GUIDE = sorted((ROOT / "deploy" / "guide").glob("*.md"))


def test_the_table_of_roles_is_the_one_in_the_code() -> None:
    """Who may do what, word by word."""
    told = (ROOT / "deploy" / "guide" / "clinician.md").read_text()
    rows = [
        f"| {right.value} | "
        + " | ".join("yes" if right in MAY[role] else "" for role in Role)
        + " |"
        for right in Right
    ]

    assert [row for row in rows if row not in told] == []


@pytest.mark.parametrize("document", [README, *GUIDE], ids=lambda path: path.stem)
def test_every_command_a_document_names_exists(document: Path) -> None:
    """`nextmorning WORD` is a command of the program."""
    known = {name for name, _file, _what in COMMANDS}

    named = set(re.findall(r"`nextmorning ([a-z-]+)", document.read_text()))

    assert {name for name in named if name not in known} == set()


@pytest.mark.parametrize(
    "document", [README, ROOT / "DEVELOPERS.md", *GUIDE], ids=lambda path: path.stem
)
def test_every_file_a_document_names_is_there(document: Path) -> None:
    """Paths in backticks exist."""
    text = document.read_text()
    paths = re.findall(r"`((?:bot|rules|dialogs|deploy|tests)/[\w./-]+?)`", text)

    assert [path for path in paths if not (ROOT / path).exists()] == []


@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_protocol_is_never_changed_under_the_same_version(name: str) -> None:
    """Each says its version; a decision kept years ago must find the numbers it was made by."""
    assert re.search(r'^version = "\d+"', shipped_text(name), re.M)
