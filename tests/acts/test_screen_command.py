"""`nextmorning screen`: one line in, one line out, whatever the line holds."""

from __future__ import annotations

import os
import selectors
import subprocess
import sys
from pathlib import Path

import pytest
from acts.typing_commands import typed
from stand_ins.patience import PATIENCE_SECONDS

ROOT = Path(__file__).resolve().parents[2]
POP = "heard a pop and cannot push off"


@pytest.mark.parametrize(
    ("line", "verdict"),
    [
        pytest.param(POP, "emergency\ttendon-rupture", id="emergency"),
        pytest.param("my calf is swollen and hot on one side", "same day\tleg-clot", id="same day"),
        pytest.param("both heels are stiff for over an hour", "next working day\tinflammatory",
                     id="next working day"),
        pytest.param("I had a clot in my leg years ago", "ask\tleg-clot", id="to ask"),
        pytest.param("3 10", "none\tnone", id="an answer"),
        pytest.param("", "none\tnone", id="nothing"),
        pytest.param("a\tb", "none\tnone", id="a tab of its own"),
        pytest.param("no pop, all is well", "none\tnone", id="denied"),
    ],
)  # fmt: skip
def test_a_line_is_printed_behind_its_tier_and_sign(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], line: str, verdict: str
) -> None:
    """Tier, sign and the line itself, with tabs between."""
    ended = typed(monkeypatch, capsys, "screen", fed=f"{line}\n".encode())

    assert ended.status == 0
    assert ended.out == f"{verdict}\t{line}\n"


def test_each_line_has_its_own(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """As many lines come out as went in, in their order, whatever ends them."""
    ended = typed(monkeypatch, capsys, "screen", fed=f"3 10\r\n\n{POP}".encode())

    assert ended.out.splitlines() == [
        "none\tnone\t3 10", "none\tnone\t", f"emergency\ttendon-rupture\t{POP}",
    ]  # fmt: skip


def test_bytes_that_are_no_text_do_not_stop_it(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """What can be read of a line in another encoding is screened."""
    ended = typed(monkeypatch, capsys, "screen", fed=b"\xff\xfe\n" + POP.encode() + b" \xe9\n")

    assert ended.status == 0
    assert ended.out.splitlines()[1].startswith("emergency\ttendon-rupture\t")


def test_a_verdict_does_not_wait_for_the_next_line() -> None:
    """The answer to a line comes while standard input is still open."""
    command = [sys.executable, "-m", "bot", "screen"]
    environment = os.environ | {"LC_ALL": "C"}

    with subprocess.Popen(
        command, cwd=ROOT, env=environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as running:
        assert running.stdin is not None
        assert running.stdout is not None
        running.stdin.write(f"{POP} caf\u00e9\n".encode())
        running.stdin.flush()
        with selectors.DefaultSelector() as waiting:
            waiting.register(running.stdout, selectors.EVENT_READ)
            came = waiting.select(timeout=PATIENCE_SECONDS)
        line = running.stdout.readline() if came else b""
        running.stdin.close()

    assert line == f"emergency\ttendon-rupture\t{POP} caf\u00e9\n".encode()
