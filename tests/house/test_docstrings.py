"""Whatever a reader meets says what it is: modules, public doors, and every test."""

from __future__ import annotations

import ast
from collections.abc import Iterator

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


def test_every_test_says_what_must_hold() -> None:
    """Each test function has a docstring."""
    silent = [
        f"{name_of(path)}:{function.lineno} {function.name}"
        for path in files_of_tests()
        for function in functions(parsed(path))
        if function.name.startswith("test_") and not ast.get_docstring(function)
    ]

    assert silent == []


def test_a_public_method_without_a_docstring_is_found() -> None:
    """The walk looks into classes and leaves what is private alone."""
    source = "class A:\n  'A.'\n  def b(self): ...\n  def _c(self): ...\ndef _d(): ..."

    found = list(without_docstring(ast.parse(source).body))

    assert found == ["3 A.b"]
