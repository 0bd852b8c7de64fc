"""Nothing outgrows its reader: functions, files and nesting stay small.

The limits are our own convention.
"""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from house.source_tree import code_files, functions, name_of, parsed

FUNCTION_LINES_MAX = 40  # the docstring counts, decorators do not
FILE_LINES_MAX = 400
NESTING_MAX = 3

_BLOCKS = (
    ast.If, ast.For, ast.AsyncFor, ast.While, ast.With, ast.AsyncWith, ast.Try, ast.TryStar,
    ast.Match,
)  # fmt: skip
_SCOPES = (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef, ast.Lambda)


def function_lines(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """From `def` to the last line."""
    assert function.end_lineno is not None
    return function.end_lineno - function.lineno + 1


def deepest(node: ast.AST, depth: int = 0) -> int:
    """Blocks within blocks. An `elif` is as deep as its `if`; an inner function starts afresh."""
    found = depth
    for child in ast.iter_child_nodes(node):
        if isinstance(child, _SCOPES):
            continue
        is_elif = isinstance(node, ast.If) and isinstance(child, ast.If) and node.orelse == [child]
        is_block = isinstance(child, _BLOCKS) and not is_elif
        found = max(found, deepest(child, depth + is_block))
    return found


def test_no_function_is_over_forty_lines() -> None:
    """Every function of ours can be seen at once."""
    too_long = [
        f"{name_of(path)}:{function.lineno} {function.name}: {function_lines(function)}"
        for path in code_files()
        for function in functions(parsed(path))
        if function_lines(function) > FUNCTION_LINES_MAX
    ]

    assert too_long == []


def test_no_file_is_over_four_hundred_lines() -> None:
    """Every file of ours can be read in one sitting."""
    lengths = {path: len(path.read_text(encoding="utf-8").splitlines()) for path in code_files()}

    too_long = [f"{name_of(path)}: {lines}" for path, lines in lengths.items()]
    too_long = [entry for entry in too_long if int(entry.split(": ")[1]) > FILE_LINES_MAX]

    assert too_long == []


def test_no_function_nests_over_three_levels() -> None:
    """Branches stay in the parent, and the leaves are functions of their own."""
    too_deep = [
        f"{name_of(path)}:{function.lineno} {function.name}: {deepest(function)}"
        for path in code_files()
        for function in functions(parsed(path))
        if deepest(function) > NESTING_MAX
    ]

    assert too_deep == []


@pytest.mark.parametrize(
    ("source", "depth"),
    [
        pytest.param("def f():\n return 1", 0, id="straight down"),
        pytest.param("def f():\n if a:\n  pass\n elif b:\n  pass\n elif c:\n  pass", 1, id="elifs"),
        pytest.param("def f():\n for a in b:\n  if a:\n   with a:\n    pass", 3, id="at the limit"),
        pytest.param(
            "def f():\n for a in b:\n  try:\n   pass\n  except E:\n   while a:\n    if a: pass",
            4,
            id="over the limit, in a handler",
        ),
        pytest.param("def f():\n if a:\n  def g():\n   if b: pass", 1, id="inner function apart"),
    ],
)
def test_nesting_is_counted_as_a_reader_sees_it(source: str, depth: int) -> None:
    """The measure itself tells three levels from four."""
    function = next(functions(ast.parse(source)))

    assert deepest(function) == depth


@pytest.mark.parametrize(
    ("body_lines", "is_over"),
    [
        pytest.param(38, False, id="one under the limit"),
        pytest.param(39, False, id="at the limit"),
        pytest.param(40, True, id="one over the limit"),
    ],
)
def test_the_line_of_def_counts(body_lines: int, is_over: bool) -> None:
    """A function of `def` and 39 more lines is the longest allowed."""
    source = "@wrapped\ndef f():\n" + " a = 1\n" * body_lines

    function = next(functions(ast.parse(source)))

    assert (function_lines(function) > FUNCTION_LINES_MAX) is is_over


def test_there_is_something_to_measure() -> None:
    """The walk finds the files of all three packages."""
    found = {Path(name_of(path)).parts[0] for path in code_files()}

    assert found == {"bot", "dialogs", "rules"}
