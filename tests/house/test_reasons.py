"""Every reason of a decision stands in the order, is spelled as its rule, and has its examples."""

from __future__ import annotations

import ast

import pytest
from decides.examples import EXAMPLES
from house.source_tree import ROOT, parsed

from rules import brake, dose_less, hold, rest_day, step_back, stop
from rules.advice import ORDER
from rules.reasons import FORMER, Action, Reason

ASKED = [reason for reason in Reason if reason not in FORMER]


def test_each_reason_stands_in_the_order_once() -> None:
    """The rows are the reasons, each once, in the order in which they are listed."""
    assert [rule.reason for rule in ORDER] == ASKED


def test_each_rule_is_spelled_as_its_reason() -> None:
    """The code in kebab-case is the predicate's name in snake_case."""
    assert [rule.applies.__name__ for rule in ORDER] == [
        reason.value.replace("-", "_") for reason in ASKED
    ]


def test_the_order_goes_from_careful_to_bold() -> None:
    """Apart from what people said, which stands above the numbers, no row is bolder than a later
    one."""
    said = {Reason.PAUSED, Reason.CLINICIAN_SAYS_REST, Reason.CLINICIAN_SAYS_GO_ON}
    boldness = [rule.action.boldness for rule in ORDER if rule.reason not in said]

    assert boldness == sorted(boldness)


def test_the_last_rule_advances() -> None:
    """Only the last row advances, when none before it applies."""
    assert [rule.reason for rule in ORDER if rule.action is Action.ADVANCE] == [Reason.READY]
    assert ORDER[-1].reason is Reason.READY


@pytest.mark.parametrize("reason", ASKED)
@pytest.mark.parametrize("applies", [True, False])
def test_each_reason_has_examples_on_both_sides(reason: Reason, applies: bool) -> None:
    """Each reason is shown where it applies and where it does not."""
    assert any(one.reason is reason and one.applies is applies for one in EXAMPLES)


def test_no_two_examples_have_one_name() -> None:
    """Each row of the table can be told from every other in a report."""
    names = [one.id for one in EXAMPLES]

    assert sorted({name for name in names if names.count(name) > 1}) == []


@pytest.mark.parametrize("module", [stop, step_back, dose_less, rest_day, hold, brake])
def test_each_predicate_of_a_rule_file_is_in_the_order(module: object) -> None:
    """A predicate that nobody asks is found: whatever returns evidence is a row."""
    name = getattr(module, "__name__", "").split(".")[-1]
    asked = {rule.applies.__name__ for rule in ORDER}

    predicates = {
        node.name
        for node in parsed(ROOT / "rules" / f"{name}.py").body
        if isinstance(node, ast.FunctionDef)
        if not node.name.startswith("_") and ast.unparse(node.returns or node) == "Evidence | None"
    }

    assert predicates != set()
    assert predicates <= asked
