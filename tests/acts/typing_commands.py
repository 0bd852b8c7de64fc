"""Types a command as a person would: the real command line, its exit status and what it printed."""

from __future__ import annotations

import io
import sys
from dataclasses import dataclass

import pytest

from bot.commands import main


@dataclass(frozen=True)
class Ended:
    """How a command ended."""

    status: int
    out: str
    err: str


def typed(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    *words: str,
    fed: bytes = b"",
) -> Ended:
    """Run `nextmorning` with these words and this standard input."""
    monkeypatch.setattr(sys, "argv", ["nextmorning", *words])
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(fed), encoding="utf-8"))
    try:
        main()
        status = 0
    except SystemExit as ended:
        status = int(ended.code or 0)
    printed = capsys.readouterr()
    return Ended(status, printed.out, printed.err)
