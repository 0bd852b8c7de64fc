"""A command imports what it uses only: counted in a process of its own, never timed."""

from __future__ import annotations

import subprocess
import sys

import pytest
from acts.typing_commands import typed

from bot.commands import COMMANDS

CHANNELS = {"apscheduler", "httpx", "starlette", "telegram", "twilio", "uvicorn"}
TALK = {"babel", "jinja2", "phonenumbers"}
KEEPING = {"prometheus_client", "sqlite_utils"}
# Not pydantic: the library of the command line reads its arguments with it.
ALL = CHANNELS | TALK | KEEPING | {"rapidfuzz", "scipy"}

COMMAND = """
import atexit, sys

def tell():
    print(*{name.partition(".")[0] for name in sys.modules}, file=sys.stderr)

atexit.register(tell)
from bot.commands import main
main()
"""


@pytest.mark.parametrize(
    ("words", "never"),
    [
        pytest.param(("--help",), ALL | {"pydantic"}, id="the list of commands"),
        pytest.param(("protocol", "list"), ALL | {"rich"}, id="the protocols"),
        pytest.param(("serve", "--help"), {"scipy", "twilio"}, id="what serve teaches"),
        pytest.param(("caseload", "--help"), CHANNELS | {"scipy"}, id="what caseload teaches"),
        pytest.param(("screen", "--help"), ALL - {"rapidfuzz"}, id="what screen teaches"),
    ],
)
def test_a_command_imports_what_it_uses_only(words: tuple[str, ...], never: set[str]) -> None:
    """None of the large libraries is loaded for what does without."""
    ran = subprocess.run(
        [sys.executable, "-c", COMMAND, *words], capture_output=True, text=True, check=True
    )

    assert set(ran.stderr.split()) & never == set()
    assert ran.stdout


@pytest.mark.parametrize("command", [name for name, _file, _what in COMMANDS])
def test_each_command_in_the_list_is_there(
    command: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The list names each file and command by hand: each explains itself."""
    ended = typed(monkeypatch, capsys, command, "--help")

    assert (ended.status, ended.err) == (0, "")
    assert f"{command} [OPTIONS]" in ended.out
