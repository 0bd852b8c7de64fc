"""Promise: no answer is lost, none counts twice, whenever the process dies."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

TESTS = Path(__file__).parents[1]


@pytest.mark.parametrize(
    ("text", "answers", "escalations"),
    [
        pytest.param(
            "2 10",
            [["first-step-pain", "2"], ["stiffness", "10"]],
            0,
            id="two answers that lead to advice",
        ),
        pytest.param(
            "my whole calf is swollen and tender since yesterday",
            [],
            1,
            id="a warning sign that leads to an escalation",
        ),
    ],
)
def test_killed_after_anything_it_left_behind_a_message_is_handled_exactly_once(
    text: str, answers: list[list[str]], escalations: int
) -> None:
    """After SIGKILL and a restart the rows are those of an undisturbed run; at most the one message
    in flight goes out twice, and is marked. By hand, `kill_at_each_line.py TEXT "every line"` kills
    at every line."""
    script = TESTS / "promises" / "kill_at_each_line.py"
    path = os.pathsep.join((str(TESTS.parent), str(TESTS)))
    environment = {**os.environ, "PYTHONPATH": path}

    done = subprocess.run(
        [sys.executable, str(script), text],
        capture_output=True,
        text=True,
        env=environment,
        check=False,
    )

    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    print(f"\nkilled at {told['killed']} lines")
    assert told["killed"] == told["lines"] > 30
    assert told["expected"]["answers"] == answers
    assert told["expected"]["escalations"] == escalations
    assert told["expected"]["inbox"] == {"n": 1, "handled": 1}
    assert told["different"] == []
