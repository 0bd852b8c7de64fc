"""`nextmorning screen`: reads messages, a line each, and says which warning sign each holds."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from bot.commands.options import known_language
from rules.lexicon import shipped_lexicon
from rules.screening import screen as screened


def screen(
    language: Annotated[str, typer.Option(help="Language they are written in, such as es.")] = "en",
) -> None:
    """Read messages from standard input, one a line; print tier, sign and line.

    Tabs stand between the three. The tier is emergency, same day or next
    working day; "none" where nothing is found; "ask" where the bot would put
    one closed question to be sure. Of several signs the most urgent is printed.

    Example: echo "heard a pop and cannot push off" | nextmorning screen

    Example: nextmorning screen < messages.txt | cut -f 1 | sort | uniq -c

    Without a pipe, type a message and press Enter; Ctrl-D ends it.
    """
    known_language(language)
    for line in sys.stdin.buffer:
        # A message in another encoding is screened as far as it can be read.
        message = line.rstrip(b"\r\n").decode("utf-8", errors="replace")
        typer.echo(f"{verdict(message, language)}\t{message}".encode())


def verdict(message: str, language: str = "en") -> str:
    """Tier and sign of a message, with a tab between."""
    screening = screened(message, shipped_lexicon(language))
    if screening.found:
        match = screening.found[0]
        return f"{match.tier.value}\t{match.sign.key}"
    if screening.ask:
        return f"ask\t{screening.ask[0].key}"
    return "none\tnone"
