"""Puts the conversation into the documents as the bot really says it.

Run it with `PYTHONPATH=.:tests python tests/readme.py`.

Blocks stand behind a comment, `<!-- played: from TEXT to TEXT -->`, and hold what
`nextmorning rehearse --play` prints from the first line with the one to the next with the other.
`tests/house/test_readme.py` fails when they are out of date.
"""

from __future__ import annotations

import asyncio
import re
from pathlib import Path

from bot.rehearsal.play import play

ROOT = Path(__file__).parents[1]
DOCUMENTS = (ROOT / "README.md", ROOT / "deploy" / "conversations" / "three-weeks.md")
BLOCK = re.compile(r"<!-- played: from (?P<first>.+?) to (?P<last>.+?) -->\n```text\n.*?```", re.S)


def played() -> list[str]:
    """All lines of the play."""
    lines: list[str] = []
    asyncio.run(play(lambda text: lines.extend(text.splitlines())))
    return lines


def filled(document: str, lines: list[str]) -> str:
    """A document with each block as it was played."""

    def block(match: re.Match[str]) -> str:
        first, last = match["first"], match["last"]
        start = next(n for n, line in enumerate(lines) if first in line)
        end = next(n for n, line in enumerate(lines) if n >= start and last in line)
        shown = "\n".join(line.rstrip() for line in lines[start : end + 1])
        return f"<!-- played: from {first} to {last} -->\n```text\n{shown}\n```"

    return BLOCK.sub(block, document)


if __name__ == "__main__":
    once = played()
    for document in DOCUMENTS:
        document.write_text(filled(document.read_text(), once))
