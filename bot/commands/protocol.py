"""`nextmorning protocol`: lists, shows, copies and checks the files that hold every number."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Annotated

import typer

from bot.errors import RefusedError
from bot.replay.dose_text import WIDTH, dose_text
from rules.errors import ProtocolError
from rules.protocol import Cited, Protocol
from rules.protocol_reader import (
    SHIPPED,
    borrowed_name,
    check_protocol,
    read_protocol,
    shipped_protocol,
    shipped_text,
)
from rules.sources import SOURCES

app = typer.Typer(
    name="protocol",
    help="The files that hold every number: list, show, copy, check.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode="rich",
)


@app.command("list")
def list_shipped() -> None:
    """Name the protocols that come with the program.

    Example: nextmorning protocol list
    """
    for name in SHIPPED:
        protocol = shipped_protocol(name)
        typer.echo(f"{name:<22}{_tendon(protocol):<14}{protocol.title}")


@app.command()
def show(
    name: Annotated[str, typer.Argument(help="Name of a shipped protocol, or a file.")],
) -> None:
    """Show a protocol: its ladder, its limits, and where each number comes from.

    Example: nextmorning protocol show mid-portion-ladder

    Example: nextmorning protocol show our-ladder.toml
    """
    protocol = protocol_named(name)
    for line in _shown(protocol):
        typer.echo(line)


@app.command()
def copy(
    name: Annotated[str, typer.Argument(help="Name of a shipped protocol.")],
    file: Annotated[Path, typer.Argument(help="A new file; none is written over.")],
) -> None:
    """Start a protocol of one's own from a shipped one.

    Example: nextmorning protocol copy mid-portion-ladder our-ladder.toml

    Then change its name and version and what is to be different, and say for each number where it
    comes from: nextmorning protocol check our-ladder.toml
    """
    text = shipped_text(name)
    try:
        with file.open("x", encoding="utf-8") as opened:
            opened.write(text)
    except FileExistsError:
        raise RefusedError(f"{file} exists; a new file was expected") from None
    except OSError as error:
        raise RefusedError(f"{file} cannot be written: {error.strerror}") from None
    typer.echo(f"{file}: a copy of {name}. Change its name and version first; then")
    typer.echo(f"nextmorning protocol check {file}")


@app.command()
def check(
    file: Annotated[Path, typer.Argument(help="A protocol in TOML.")],
) -> None:
    """Say all that is wrong with a protocol, each with its line; exit status 2 if anything is.

    Example: nextmorning protocol check our-ladder.toml
    """
    text = _text_of(file)
    problems = check_protocol(text)
    for problem in problems:
        typer.echo(f"{file}: {problem}", err=True)
    if problems:
        raise typer.Exit(2)
    protocol = read_protocol(text)
    if borrowed := borrowed_name(protocol):
        raise RefusedError(f"{file}: {borrowed}")
    doses = sum(len(level.doses) for level in protocol.levels)
    typer.echo(f"{file}: nothing is wrong")
    typer.echo(f"{_head(protocol)}: {len(protocol.levels)} levels, {doses} doses,")
    settings = protocol.settings
    typer.echo(f"pain limit {settings.pain_limit}, comfortable up to {settings.comfort_max}")


def protocol_named(name: str) -> Protocol:
    """The shipped protocol of this name, or the one in this file.

    Raises RefusedError where there is neither, ProtocolError where the file cannot be used.
    """
    if name in SHIPPED:
        return shipped_protocol(name)
    file = Path(name)
    if not file.is_file():
        raise RefusedError(f"{', '.join(SHIPPED)} or a protocol file was expected; found {name!r}")
    try:
        return read_protocol(_text_of(file))
    except ProtocolError as error:
        raise ProtocolError(
            f"{file}: {error} (all that is wrong: nextmorning protocol check {file})"
        ) from None


def _text_of(file: Path) -> str:
    try:
        return file.read_text("utf-8-sig")
    except OSError as error:
        raise RefusedError(f"{file}: a protocol file was expected; {error.strerror}") from None
    except UnicodeDecodeError:
        raise RefusedError(f"{file}: text in UTF-8 was expected; found other bytes") from None


def _tendon(protocol: Protocol) -> str:
    return "either" if protocol.tendon is None else protocol.tendon.value


def _head(protocol: Protocol) -> str:
    return (
        f"{protocol.title} ({protocol.name}), version {protocol.version},"
        f" {_tendon(protocol)} tendon"
    )


def _shown(protocol: Protocol) -> Iterator[str]:
    """The whole protocol as lines."""
    cited = {one.key: one for one in protocol.cited}
    yield _head(protocol)
    yield ""
    for number, level in enumerate(protocol.levels, start=1):
        marks = [mark for mark in ("deficit", "hops", "heavy") if getattr(level, mark)]
        yield f"{number}. {level.name}{' [' + ', '.join(marks) + ']' if marks else ''}"
        yield from textwrap.wrap(
            level.exercise, WIDTH, initial_indent="   ", subsequent_indent="   "
        )
        for key, label, value in (
            ("tempo", "tempo", level.tempo),
            ("doses", "doses", ", ".join(dose_text(dose) for dose in level.doses)),
            ("days_min", "days at the level, at least", level.days_min),
            ("spacing_hours", "hours between sessions, at least", level.spacing_hours),
            ("heel_raises_min", "heel raises to leave it, at least", level.heel_raises_min),
        ):
            if value is not None:
                told = f"{label + ':':<35} {value}{_whence(cited, f'levels.{number}.{key}')}"
                yield from textwrap.wrap(
                    told, WIDTH, initial_indent="   ", subsequent_indent=" " * 39
                )
    yield ""
    yield "Limits, margins and spans"
    for key, one in cited.items():
        table, _dot, name = key.partition(".")
        if table == "settings":
            value = getattr(protocol.settings, name)
            yield f"   {name:<30} {value:>5} {one.unit:<11} {one.source}"
    yield ""
    yield from _sources(protocol)


def _whence(cited: Mapping[str, Cited], key: str) -> str:
    return f"  ({cited[key].source})" if key in cited else ""


def _sources(protocol: Protocol) -> Iterator[str]:
    """The entry of the register of each source that the protocol rests on."""
    yield "Sources (convention: chosen for this project; common-practice: no source;"
    yield "own-simulation: chosen for this project on invented patients)"
    for key in sorted({one.source for one in protocol.cited} & set(SOURCES)):
        source = SOURCES[key]
        year = "" if source.year is None else f" {source.year}"
        entry = f"{key}: {source.authors}{year}, {source.about}, {source.place}"
        yield from textwrap.wrap(
            entry, WIDTH, initial_indent="   ", subsequent_indent="      ", break_on_hyphens=False
        )
