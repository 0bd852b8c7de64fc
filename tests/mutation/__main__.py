"""Changes rules/ one comparison, number, word or argument at a time and counts what no test sees.

A copy of `rules` and `tests/decides` is made in a folder of its own, so the checkout is never
touched. mutmut makes the changes; it leaves out constants, defaults and decorated functions
(properties). Each file is tried on the tests of `GROUPS` and no others: small and quick ones, as
they run some thousand times.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from rich.console import Console
from rich.table import Table

ROOT = Path(__file__).resolve().parents[2]
KILLED_MIN_PERCENT = 90
"""Mutants of a file that tests must notice [percent, at least]. Convention."""


@dataclass(frozen=True)
class Group:
    """Files of rules/ and the tests of tests/decides that they are tried on."""

    files: tuple[str, ...]
    tests: tuple[str, ...]


GROUPS = {
    "decisions": Group(
        (
            "advice", "brake", "dose_less", "hold", "ladder", "reading", "rest_day", "startling",
            "stay", "step_back", "stop", "usual",
        ),
        ("advice", "clinicians_word", "evidence", "worked_cases"),
    ),
    "times and measures": Group(
        (
            "activity_load", "alerts", "escalation", "history", "outcomes", "prompt_times",
            "quantities", "variation", "working_hours",
        ),
        (
            "activity_load", "alerts", "escalation", "evidence", "history", "outcomes",
            "prompt_times", "variation",
        ),
    ),
    "notices": Group(
        ("distance", "first_level", "follow_up", "fortnight", "notices", "weeks"),
        ("alerts", "evidence", "first_level", "follow_up", "fortnight", "notices", "weeks"),
    ),
    "protocols": Group(
        ("protocol_checks", "protocol_lines", "protocol_reader"),
        ("protocol_reader", "published"),
    ),
    "spelling": Group(("plain_text", "spelling"), ("spelling",)),
    "screening": Group(
        ("lexicon", "line", "phrase", "screening", "sense"),
        ("double_reading", "phrase", "screening", "screening_es"),
    ),
    "second reading": Group(("double_reading", "second_reading"), ("double_reading",)),
}  # fmt: skip
SLOW = ("screening", "second reading")
"""Groups that are tried only when a file of theirs is named."""

# Numbers of mutants end in these; `--tenths 3` tries those of the first three.
LAST_DIGITS = "3719502468"

# Left out: what reads thousands of messages would take a minute a mutant.
LEFT_OUT = ("tests/decides/test_screening.py::test_the_words_left_alone_are_near_the_lexicon",)
MESSAGE_SETS = "not remember and not kept_apart and not ordinary_talk"
PYTEST = ["-p", "no:cacheprovider", "-k", MESSAGE_SETS, *(f"--deselect={t}" for t in LEFT_OUT)]

CONFTEST = '''"""The same few invented examples each time, and nothing kept from before a change.

Each mutant is tried in a fork of one process that has run the tests already: what they keep was
made by the unchanged code.
"""

import sys

import pytest
from hypothesis import settings

settings.register_profile("few", max_examples=15, derandomize=True, deadline=None, database=None)
settings.load_profile("few")


def pytest_configure() -> None:
    from rules import lexicon, second_reading

    for cached in (
        lexicon.shipped_lexicon,
        lexicon.shipped_wordings,
        second_reading.shipped_second_reader,
    ):
        cached.cache_clear()
    for name in [name for name in sys.modules if name.startswith(("tests.", "decides", "talks"))]:
        del sys.modules[name]


@pytest.fixture(autouse=True)
def nothing_spelled_before() -> None:
    """What one test has spelled must not hide from the next that it spells."""
    from rules.spelling import Speller

    Speller._known.cache_clear()
'''


def main() -> int:
    """Try the files named, or all but those of `SLOW`; 1 where a file stays under the limit."""
    parser = argparse.ArgumentParser(prog="sh deploy/mutate", description=__doc__)
    known = sorted(name for group in GROUPS.values() for name in group.files)
    parser.add_argument(
        "file", nargs="*", help="of rules/, such as hold or usual; otherwise all but the slow ones"
    )
    parser.add_argument("--processes", default="2", help="mutants tried side by side (2)")
    parser.add_argument(
        "--tenths", type=int, choices=range(1, 11), default=10, help="of the mutants (10: all)"
    )
    asked = parser.parse_args()
    named = [Path(name).stem for name in asked.file]
    if strangers := sorted(set(named) - set(known)):
        parser.error(f"expected files of rules/: {', '.join(known)}; found {', '.join(strangers)}")
    counted: dict[str, Counter[str]] = {}
    for title, group in GROUPS.items():
        files = [name for name in group.files if name in named or (not named and title not in SLOW)]
        if files:
            with tempfile.TemporaryDirectory(prefix="mutants-") as folder:
                run = Run(Path(folder), files, group.tests, asked.processes, asked.tenths)
                counted |= tried(run)
    return shown(counted)


@dataclass(frozen=True)
class Run:
    """Files tried on tests in a folder, so many side by side; so many tenths of the mutants."""

    folder: Path
    files: list[str]
    tests: tuple[str, ...]
    processes: str
    tenths: int


def tried(run: Run) -> dict[str, Counter[str]]:
    """Mutants of each file by what became of them; the change of each survivor is printed."""
    folder = run.folder
    shutil.copytree(ROOT / "rules", folder / "rules", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copytree(ROOT / "dialogs", folder / "dialogs")
    for tests_of in ("decides", "talks"):
        shutil.copytree(ROOT / "tests" / tests_of, folder / "tests" / tests_of)
    shutil.copy(ROOT / "tests" / "near_words.py", folder / "tests")
    (folder / "tests" / "conftest.py").write_text(CONFTEST)
    (folder / "pyproject.toml").write_text(settings_of(run.files, run.tests))
    names = [f"rules.{file}.*{digit}" for file in run.files for digit in LAST_DIGITS[: run.tenths]]
    result = subprocess.run(
        [sys.executable, "-m", "mutmut", "run", "--max-children", run.processes, *names],
        cwd=folder,
        env=os.environ | {"PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"},  # a third of a mutant's time
        capture_output=not sys.stdout.isatty(),
        text=True,
        check=False,
    )
    if result.returncode:
        failed = f"{result.stdout or ''}{result.stderr or ''}"
        sys.exit(f"mutmut failed on {', '.join(run.files)}: {failed}")
    counted = {name: Counter[str]() for name in run.files}
    for line in answer_of(folder, "results", "--all", "true").splitlines():
        mutant, _, status = line.strip().partition(": ")
        if not mutant.startswith("rules.") or status == "not checked":
            continue
        name = mutant.split(".")[1]
        counted[name]["killed" if status in ("killed", "timeout") else "survived"] += 1
        if status not in ("killed", "timeout"):
            print(f"{mutant}: {status}\n{answer_of(folder, 'show', mutant)}", flush=True)
    return counted


def settings_of(files: list[str], tests: tuple[str, ...]) -> str:
    """What pytest and mutmut read, as TOML; a list of strings is the same in JSON."""
    return f"""
[tool.pytest.ini_options]
pythonpath = [".", "tests"]
addopts = ["--import-mode=importlib"]

[tool.mutmut]
source_paths = ["rules/"]
also_copy = ["dialogs/"]
timeout_constant = 8 # 15 times so many seconds: on a busy machine slow must not pass for endless
only_mutate = {json.dumps([f"rules/{name}.py" for name in files])}
pytest_add_cli_args = {json.dumps(PYTEST)}
pytest_add_cli_args_test_selection = {json.dumps([f"tests/decides/test_{t}.py" for t in tests])}
"""


def answer_of(folder: Path, *command: str) -> str:
    """What a command of mutmut prints."""
    run = [sys.executable, "-m", "mutmut", *command]
    return subprocess.run(run, cwd=folder, capture_output=True, text=True, check=True).stdout


def shown(counted: dict[str, Counter[str]]) -> int:
    """Print the table. 1 where fewer than `KILLED_MIN_PERCENT` of a file's mutants were killed."""
    table = Table("file", "mutants", "killed", "survived", "percent killed")
    low = []
    for name, found in counted.items():
        percent = 100 * found["killed"] // max(1, found.total())
        if percent < KILLED_MIN_PERCENT and found.total():
            low.append(name)
        row = (found.total(), found["killed"], found["survived"], percent)
        table.add_row(name, *(str(number) for number in row))
    Console().print(table)
    if low:
        print(f"Under {KILLED_MIN_PERCENT} percent: {', '.join(low)}")
    return 1 if low else 0


if __name__ == "__main__":
    sys.exit(main())
