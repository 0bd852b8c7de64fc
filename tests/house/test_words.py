"""The words of the house: names that say something, and nothing that does not belong here.

Strings that must stand nowhere are put together here from pieces, so that this file, too, is
searched.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
import smsutil
from house.source_tree import code_files, committed_files, name_of, parsed

from dialogs.catalogues import shipped_messages

EMPTY_WORDS = {
    "manager", "helper", "helpers", "util", "utils", "common", "base", "misc", "abstract", "impl",
}  # fmt: skip
EMPTY_BEGINNINGS = ("get_", "do_")

# A host of a registry, a place on one machine, or a word about how this was made. The project
# is installed from wherever its user installs from, and explains itself.
OUT_OF_PLACE = {
    "a registry's host": r"py" + r"pi\.org|python" + r"hosted|npm" + r"js\.org|deb\.deb" + r"ian\.",
    "another registry's host": r"docker" + r"\.io|ghcr" + r"\.io|quay" + r"\.io",
    "a path of one machine": r"/opt" + r"/(pypi|wheels)|/root" + r"/|\.pye" + r"nv|file:/" + r"//",
    "a work folder": r"(?<![\w.])/wo" + r"rk(/|\b)",
    "a paper kept elsewhere": r"\bshar" + r"ed/|\b(design|clinical|engineering|style)\.m" + r"d",
    "an issue's number": r"(?i)\bissue #?" + r"\d|\bissues? #" + r"\d",
}
BINARY = {".png", ".ttf", ".woff2", ".ico", ".sqlite"}


def words_of(name: str) -> set[str]:
    """The words of a name, from snake_case, kebab-case and CamelCase."""
    parts = re.findall(r"[A-Z]?[a-z]+|[A-Z]+(?![a-z])", name)
    return {part.lower() for part in parts}


def definitions(path: Path) -> Iterator[str]:
    """What a file is called and what it defines: classes and functions."""
    yield path.stem
    for node in ast.walk(parsed(path)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            yield node.name


def says_nothing(name: str) -> bool:
    """A word that would fit anything, or a beginning that tells no result and no act. A name
    between double underscores is a library's.
    """
    if name.startswith("__") and name.endswith("__"):
        return False
    return bool(words_of(name) & EMPTY_WORDS) or name.lstrip("_").startswith(EMPTY_BEGINNINGS)


def test_every_name_says_something() -> None:
    """No file, class or function has a name that would fit any other."""
    empty = [
        f"{name_of(path)}: {name}"
        for path in code_files()
        for name in definitions(path)
        if says_nothing(name)
    ]

    assert empty == []


@pytest.mark.parametrize(
    ("name", "is_empty"),
    [
        pytest.param("OutboxManager", True, id="class of anything"),
        pytest.param("date_utils", True, id="file of anything"),
        pytest.param("AbstractChannel", True, id="kind of a kind"),
        pytest.param("get_usual", True, id="get says nothing"),
        pytest.param("_get_usual", True, id="private get says nothing"),
        pytest.param("usual", False, id="named by its result"),
        pytest.param("settle", False, id="named by its act"),
        pytest.param("baseline", False, id="a word that only starts like an empty one"),
        pytest.param("getting_up", False, id="a beginning that only looks empty"),
    ],
)
def test_an_empty_name_is_told_from_a_full_one(name: str, is_empty: bool) -> None:
    """The measure itself knows which names say nothing."""
    assert says_nothing(name) is is_empty


@pytest.mark.parametrize("kind", OUT_OF_PLACE)
def test_nothing_out_of_place_is_written_anywhere(kind: str) -> None:
    """No file that git keeps holds a host, a path or a word that does not belong to it."""
    pattern = re.compile(OUT_OF_PLACE[kind])
    texts = [path for path in committed_files() if path.suffix not in BINARY]

    found = [
        f"{name_of(path)}:{number} {line.strip()[:80]}"
        for path in texts
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if pattern.search(line)
    ]

    assert found == []


@pytest.mark.parametrize(
    ("kind", "line"),
    [
        pytest.param("a registry's host", "--index-url https://py" + "pi.org/simple", id="index"),
        pytest.param("another registry's host", "FROM docker" + ".io/debian", id="image"),
        pytest.param("a path of one machine", "--find-links /opt" + "/wheels", id="wheels"),
        pytest.param("a work folder", "cd /wo" + "rk/main", id="work folder"),
        pytest.param("a paper kept elsewhere", "see design.m" + "d", id="paper"),
        pytest.param("an issue's number", "fixes issue #" + "12", id="issue"),
    ],
)
def test_what_is_out_of_place_is_found(kind: str, line: str) -> None:
    """Each pattern finds what it is there to find."""
    assert re.search(OUT_OF_PLACE[kind], line)


def test_every_english_template_fits_the_short_alphabet_of_sms() -> None:
    """One character outside GSM-7 would more than halve what a message holds."""
    foreign = {
        name: sorted({c for c in text if not smsutil.is_valid_gsm(c)})
        for name, text in shipped_messages("en").items()
    }

    assert {name: found for name, found in foreign.items() if found} == {}
    assert foreign != {}
