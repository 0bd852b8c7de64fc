"""Whatever a reader meets says what it is: modules, public doors, and every test."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator

import pytest
from house.source_tree import ROOT, code_files, files_of_tests, functions, name_of, parsed


def without_docstring(body: list[ast.stmt], owner: str = "") -> Iterator[str]:
    """Public functions, classes and methods that say nothing about themselves."""
    for node in body:
        if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            continue
        if node.name.startswith("_"):
            continue
        if not ast.get_docstring(node):
            yield f"{node.lineno} {owner}{node.name}"
        if isinstance(node, ast.ClassDef):
            yield from without_docstring(node.body, f"{node.name}.")


def is_one_sentence(docstring: str) -> bool:
    """One paragraph that ends with a full stop and holds no other end of a sentence."""
    if "\n\n" in docstring or not docstring.endswith("."):
        return False
    return re.search(r"[.?!]\s+[A-Z]", docstring) is None


def test_every_module_says_what_it_is() -> None:
    """Each Python file, the tests included, starts with a docstring."""
    every_file = code_files() + sorted((ROOT / "tests").rglob("*.py"))

    silent = [name_of(path) for path in every_file if not ast.get_docstring(parsed(path))]

    assert silent == []


def test_every_public_door_of_the_pure_packages_is_described() -> None:
    """Each public function, class and method in rules and dialogs has a docstring."""
    silent = [
        f"{name_of(path)}:{place}"
        for path in code_files("rules", "dialogs")
        for place in without_docstring(parsed(path).body)
    ]

    assert silent == []


def test_every_test_says_in_one_sentence_what_must_hold() -> None:
    """Each test function has a docstring of one sentence."""
    silent = [
        f"{name_of(path)}:{function.lineno} {function.name}"
        for path in files_of_tests()
        for function in functions(parsed(path))
        if function.name.startswith("test_")
        if not is_one_sentence(ast.get_docstring(function) or "")
    ]

    assert silent == []


@pytest.mark.parametrize(
    ("docstring", "is_one"),
    [
        pytest.param("A second tick adds nothing.", True, id="one sentence"),
        pytest.param("A second tick, after\nthe first, adds nothing.", True, id="over two lines"),
        pytest.param("A limit of 4.5 holds.", True, id="a number with a point"),
        pytest.param("", False, id="nothing"),
        pytest.param("A second tick adds nothing", False, id="no full stop"),
        pytest.param("A tick. It adds nothing.", False, id="two sentences"),
        pytest.param("A tick adds nothing.\n\nIt is so.", False, id="two paragraphs"),
    ],
)
def test_one_sentence_is_told_from_more(docstring: str, is_one: bool) -> None:
    """The measure itself knows a sentence when it sees one."""
    assert is_one_sentence(docstring) is is_one


def test_a_public_method_without_a_docstring_is_found() -> None:
    """The walk looks into classes and leaves what is private alone."""
    source = "class A:\n  'A.'\n  def b(self): ...\n  def _c(self): ...\ndef _d(): ..."

    found = list(without_docstring(ast.parse(source).body))

    assert found == ["3 A.b"]
