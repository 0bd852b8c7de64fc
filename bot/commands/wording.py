"""`nextmorning wording`: what the bot says, for a clinic to read, and what the clinic changed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

import typer

from bot.operations.custom_wording import Wording, read_wording, wording_problems
from bot.settings import read_settings
from dialogs.catalogues import key, languages
from dialogs.own_wording import Message, messages
from rules.protocol_reader import SHIPPED, shipped_protocol


def wording(
    list_: Annotated[
        bool, typer.Option("--list", help="Print the messages. This is done without it, too.")
    ] = False,
    language: Annotated[
        str, typer.Option(help="Only this language: en or es. Without it, all of them.")
    ] = "",
    changed: Annotated[
        bool, typer.Option("--changed", help="Only the messages that the clinic words itself.")
    ] = False,
    config: Annotated[
        Path | None, typer.Option(help="The clinic's configuration, for its own wording.")
    ] = None,
) -> None:
    """Print every message with sample values and its size as a text message.

    Of a message with several forms the longest is printed. Parts are what a phone company charges
    for. A clinic's own wording is marked "own"; it stands in the folder that [wording] names, in
    a TOML file of a folder en or es, under the same key as here: skipped = "Fine, {{ name }}."

    Example: nextmorning wording --list --language es

    Example: nextmorning wording --changed --config clinic.toml
    """
    del list_  # it is what the command does
    if language and language not in languages():
        expected = ", ".join(languages())
        raise typer.BadParameter(f"expected one of {expected}, found {language!r}")
    own, problems = _own(config)
    for problem in problems:
        typer.echo(problem, err=True)
    if problems:
        raise typer.Exit(2)
    for one in (language,) if language else languages():
        for line in _lines(one, own, changed=changed):
            typer.echo(line)


def _own(config: Path | None) -> tuple[Wording, tuple[str, ...]]:
    """The clinic's own wording and what is wrong with it; none without a configuration."""
    folder = read_settings(config).wording.folder if config is not None else None
    if folder is None:
        return {}, ()
    found, unread = read_wording(folder)
    protocols = [shipped_protocol(name) for name in SHIPPED]
    return found, (*unread, *wording_problems(folder, found, protocols))


def _lines(language: str, own: Wording, *, changed: bool) -> Iterator[str]:
    """Each message: its name and size on one line, its text below, an empty line after."""
    shown = list(messages(language, own.get(language, {}), changed=changed))
    for one in shown:
        yield _head(one)
        yield from (f"    {line}" for line in one.text.split("\n"))
        yield ""
    parts = sum(one.size.count > 1 for one in shown)
    yield f"{language}: {len(shown)} messages, {parts} of more than one part"


def _head(one: Message) -> str:
    size = one.size
    parts = "1 part" if size.count == 1 else f"{size.count} parts"
    mark = ", own" if one.own else ""
    return f"{one.language}/{key(one.name)}  {size.encoding}, {size.units} units, {parts}{mark}"
