"""The files of the checkout, as the tests of the house read them. Decides nothing.

Next: any test_*.py beside this file.
"""

from __future__ import annotations

import ast
import subprocess
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ("bot", "dialogs", "rules")

FunctionNode = ast.FunctionDef | ast.AsyncFunctionDef


def name_of(path: Path) -> str:
    """Path from the top of the checkout, for messages."""
    return path.relative_to(ROOT).as_posix()


@cache
def committed_files() -> tuple[Path, ...]:
    """What git keeps, or would keep once added; a build's or a run's left-overs are not in it.

    Without git, or outside a repository: every file whose folders and name do not look like such.
    """
    command = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    try:
        listed = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    except (FileNotFoundError, subprocess.CalledProcessError):
        found = (path for path in ROOT.rglob("*") if not _is_left_over(path))
    else:
        found = (ROOT / name for name in listed.stdout.split("\0") if name)
    return tuple(sorted(path for path in found if path.is_file()))


def _is_left_over(path: Path) -> bool:
    return any(
        part == "__pycache__" or (part.startswith(".") and part != ".ci")
        for part in path.relative_to(ROOT).parts
    )


def code_files(*packages: str) -> list[Path]:
    """The Python files of these packages; of all three where none is named."""
    wanted = packages or PACKAGES
    return [path for package in wanted for path in sorted((ROOT / package).rglob("*.py"))]


@cache
def parsed(path: Path) -> ast.Module:
    """The syntax tree of a file."""
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


def functions(tree: ast.AST) -> Iterator[FunctionNode]:
    """Every function and method, nested ones as well."""
    for node in ast.walk(tree):
        if isinstance(node, FunctionNode):
            yield node
