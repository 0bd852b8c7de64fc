"""No number of the rules without a source or a mark, and no source that nothing rests on."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from house.source_tree import ROOT, code_files, name_of, parsed

from rules.protocol_reader import SHIPPED, shipped_protocol
from rules.sources import MARKS, SOURCES

A_KEY = r"[a-z]+(?:-[a-z]+)*-(?:19|20)\d\d"
SAYS_WHENCE = re.compile(
    rf"(?i)\bsource: |\bconvention\b|\bcommon practice\b|\bown-simulation\b|\b{A_KEY}\b"
)


def keys_in(text: str) -> set[str]:
    """Keys of sources that a text names: one or more names and a year, joined by hyphens."""
    return set(re.findall(rf"\b{A_KEY}\b", text))


def rules_texts() -> dict[str, str]:
    """The text of each file of the rules but the register; protocols and signs are among them."""
    paths = [*code_files("rules"), *sorted((ROOT / "rules").rglob("*.toml"))]
    return {
        name_of(path): path.read_text(encoding="utf-8")
        for path in paths
        if path.name != "sources.py"
    }


@pytest.mark.parametrize("name", SHIPPED)
def test_each_number_of_a_protocol_has_a_known_source(name: str) -> None:
    """Whatever a shipped protocol cites is in the register or is a mark."""
    cited = {one.source for one in shipped_protocol(name).cited}

    assert cited - set(SOURCES) - set(MARKS) == set()
    assert cited & set(SOURCES)


def test_each_source_named_in_the_rules_is_in_the_register() -> None:
    """A key in a docstring, a comment, a protocol or a warning sign leads to an entry."""
    unknown = {name: keys_in(text) - set(SOURCES) for name, text in rules_texts().items()}

    assert {name: keys for name, keys in unknown.items() if keys} == {}


def test_no_source_is_unused() -> None:
    """Each entry of the register carries a number of a protocol or is named in the rules."""
    text = "\n".join(rules_texts().values())

    assert [key for key in SOURCES if not re.search(rf"\b{key}\b", text)] == []


def test_each_entry_is_complete() -> None:
    """A key ends with the year, where there is one, and authors, subject and place are told."""
    for key, source in SOURCES.items():
        assert source.key == key
        assert source.year is None or key.endswith(f"-{source.year}")
        assert all(part.strip() for part in (source.authors, source.about, source.place))


def numbers_without_source(path: Path) -> Iterator[str]:
    """Module-level names for a number that no comment or docstring beside them accounts for."""
    lines = path.read_text(encoding="utf-8").splitlines()
    body = parsed(path).body
    for index, node in enumerate(body):
        names = _constants(node)
        if not names:
            continue
        following = body[index + 1] if index + 1 < len(body) else None
        beside = [lines[node.lineno - 1 : node.end_lineno], _comment_above(lines, node.lineno)]
        told = "\n".join(line for part in beside for line in part)
        if isinstance(following, ast.Expr) and isinstance(following.value, ast.Constant):
            told += f"\n{following.value.value}"
        if not SAYS_WHENCE.search(told):
            yield f"{path.parent.name}/{path.name}:{node.lineno} {names[0]}"


def _constants(node: ast.stmt) -> list[str]:
    """The capital names that a statement gives a plain number, or a span of time."""
    if not isinstance(node, ast.Assign | ast.AnnAssign) or node.value is None:
        return []
    targets = node.targets if isinstance(node, ast.Assign) else [node.target]
    names = [one.id for one in targets if isinstance(one, ast.Name) and one.id.isupper()]
    value = node.value
    is_number = isinstance(value, ast.Constant) and type(value.value) in (int, float)
    is_span = isinstance(value, ast.Call) and ast.unparse(value.func) in ("timedelta", "time")
    return names if is_number or is_span else []


def _comment_above(lines: list[str], lineno: int) -> list[str]:
    """The comment directly above a line, or above the constants that stand directly above it."""
    above: list[str] = []
    for line in reversed(lines[: lineno - 1]):
        if line.startswith("#"):
            above.append(line)
        elif above or not re.match(r"[A-Z_]+\b.* = ", line):
            break
    return above


def test_each_constant_of_the_rules_says_whence_it_comes() -> None:
    """A number at the head of a file has its source, "convention" or "common practice" beside."""
    unaccounted = [entry for path in code_files("rules") for entry in numbers_without_source(path)]

    assert unaccounted == []


@pytest.mark.parametrize(
    ("source", "is_found"),
    [
        pytest.param("LIMIT = 5", True, id="bare number"),
        pytest.param("LIMIT = 5  # Convention.", False, id="comment beside"),
        pytest.param("# Source: beyer-2015.\nLIMIT = 5", False, id="comment above"),
        pytest.param('LIMIT = 5\n"""Common practice, no source."""', False, id="docstring below"),
        pytest.param("# Convention.\nLEAST = 3\nMOST = 5", False, id="comment above a block"),
        pytest.param("# Convention.\nLEAST = 3\n\nMOST = 5", True, id="not of the block"),
        pytest.param("SPAN = timedelta(days=3)", True, id="span of time"),
        pytest.param('NAME = "five"', False, id="no number"),
        pytest.param("# Convention.\n\nLIMIT = 5", True, id="comment too far away"),
    ],
)
def test_a_number_without_source_is_found(source: str, is_found: bool, tmp_path: Path) -> None:
    """The measure itself tells a number with a source from one without."""
    path = tmp_path / "rules.py"
    path.write_text(source, encoding="utf-8")

    assert bool(list(numbers_without_source(path))) is is_found
