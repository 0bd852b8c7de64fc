"""Imports run one way, and what is pure stays pure. The contracts stand in pyproject.toml."""

from __future__ import annotations

import ast
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from house.source_tree import PACKAGES, ROOT, code_files, functions, imported, name_of, parsed

# The script's own door: the command need not be on the PATH.
CHECK = "from importlinter.cli import lint_imports_command as check; check()"

# The working rooms of bot: each file one or more transactions and nothing that waits.
WORKING = ("patient_record", "patients", "clinicians", "escalations", "delivery", "operations")
NOT_FOR_WORK = {"apscheduler", "asyncio", "bot.clock", "telegram"}
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


def forbidden_for_work(tree: ast.AST) -> set[str]:
    """What a working file imports though it must not; a part of a library counts as the whole."""
    names = imported(tree)
    return {
        forbidden
        for forbidden in NOT_FOR_WORK
        if any(name == forbidden or name.startswith(f"{forbidden}.") for name in names)
    }


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


def test_every_contract_is_kept() -> None:
    """No file of ours imports what it must not."""
    result = checked(ROOT)

    assert result.returncode == 0, result.stdout + result.stderr
    assert "0 broken" in result.stdout


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


def test_working_files_wait_for_nothing_and_know_no_channel() -> None:
    """A working file imports no clock, no scheduler, no channel's library and no event loop."""
    rooms = [ROOT / "bot" / name for name in WORKING]
    working = [path for room in rooms for path in room.glob("*.py")]

    wrong = {name_of(path): sorted(forbidden_for_work(parsed(path))) for path in working}

    assert {name: found for name, found in wrong.items() if found} == {}


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


@pytest.mark.parametrize(
    ("source", "found"),
    [
        pytest.param("import asyncio", {"asyncio"}, id="plain"),
        pytest.param("from telegram.error import Forbidden", {"telegram"}, id="part of a library"),
        pytest.param("from bot import clock", {"bot.clock"}, id="module from its package"),
        pytest.param("def f():\n    import asyncio", {"asyncio"}, id="inside a function"),
        pytest.param("import telegrams", set(), id="a name that only starts alike"),
        pytest.param("from bot import store", set(), id="the store"),
    ],
)
def test_a_forbidden_import_is_told_from_an_allowed_one(source: str, found: set[str]) -> None:
    """The measure itself sees every way to write an import."""
    assert forbidden_for_work(ast.parse(source)) == found
