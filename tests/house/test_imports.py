"""Imports run one way, and what is pure stays pure. The contracts stand in pyproject.toml and are
kept by deploy/check; here each is seen to find what breaks it."""

from __future__ import annotations

import ast
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from house.source_tree import PACKAGES, ROOT, code_files, functions, name_of, parsed

# The script's own door: the command need not be on the PATH.
CHECK = "from importlinter.cli import lint_imports_command as check; check()"

MAY_WAIT = (
    "bot/app.py",
    "bot/channels/",
    "bot/clock.py",
    "bot/commands/",
    "bot/ports.py",
    "bot/rehearsal/",
    "bot/scheduler.py",
    "bot/store/database.py",  # the door where the loop awaits the writing thread
    "bot/web/",
)


def checked(folder: Path) -> subprocess.CompletedProcess[str]:
    """The contracts of a checkout, checked in a process of its own that sees no other checkout."""
    return subprocess.run(
        [sys.executable, "-c", CHECK, "--no-logo", "--no-cache"],
        cwd=folder,
        env={"PYTHONPATH": str(folder)},
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture
def checkout(tmp_path: Path) -> Path:
    """A copy of our packages and their contracts that a test may spoil."""
    for package in PACKAGES:
        shutil.copytree(
            ROOT / package,
            tmp_path / package,
            ignore=shutil.ignore_patterns("__pycache__", "*.toml", "templates"),
        )
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    return tmp_path


WRONG_WAYS = (
    ("rules.quantities", "dialogs"),
    ("rules.quantities", "bot"),
    ("rules.quantities", "time"),
    ("rules.quantities", "jinja2"),
    ("dialogs.turn", "bot"),
    ("dialogs.turn", "sqlite3"),
    ("dialogs.turn", "logging"),
    ("bot.store.inbox", "asyncio"),
    ("bot.store.inbox", "telegram"),
    ("bot.errors", "bot.store.inbox"),
    ("bot.delivery.receive", "bot.charts.course"),
    ("bot.delivery.send", "bot.channels.telegram.channel"),
    ("bot.patients.reply", "asyncio"),
    ("bot.clinicians.need", "bot.clock"),
)


def test_an_import_the_wrong_way_is_found(checkout: Path) -> None:
    """Each way in which the layers could be crossed breaks a contract, and so does a new file in
    bot that was given no place."""
    (checkout / "bot" / "newcomer.py").write_text('"""New."""\n', encoding="utf-8")
    for importer, imports in WRONG_WAYS:
        spoilt = checkout / f"{importer.replace('.', '/')}.py"
        spoilt.write_text(f"{spoilt.read_text('utf-8')}\nimport {imports}\n", encoding="utf-8")

    result = checked(checkout)

    assert result.returncode == 1
    unseen = [way for way in WRONG_WAYS if f"{way[0]} -> {way[1]} " not in result.stdout]
    assert unseen == []
    assert "- bot.newcomer" in result.stdout


def test_only_the_edges_may_wait() -> None:
    """No function outside the edges is async, so no await can stand inside a transaction."""
    waiting = [
        f"{name_of(path)}:{function.lineno} {function.name}"
        for path in code_files()
        if not name_of(path).startswith(MAY_WAIT)
        for function in functions(parsed(path))
        if isinstance(function, ast.AsyncFunctionDef)
    ]

    assert waiting == []
