"""`nextmorning replay`: what the rules would have said on each day of a paper diary."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from textwrap import fill
from typing import Annotated

import typer

from bot.commands.protocol import protocol_named
from bot.errors import RefusedError
from bot.replay.diary import COLUMNS, DiaryError, level_number, read_diary_file
from bot.replay.picture import save_picture
from bot.replay.report import difference_json, difference_lines, json_text, table_lines
from bot.replay.walk import DayAdvice, Options
from bot.replay.walk import replay as replayed
from rules.protocol import PAIN_CEILING, Protocol, Tendon
from rules.quantities import Minutes, Pain

LADDERS = {Tendon.MID_PORTION: "mid-portion-ladder", Tendon.INSERTIONAL: "insertional-ladder"}
"""The protocol where none is named, by tendon: those that a new patient gets as shipped."""


class Format(StrEnum):
    """How the advice is printed."""

    TABLE = "table"
    JSON = "json"


A_ROW = {
    "date": "2026-05-20", "morning_pain": "2", "morning_stiffness_min": "10", "session": "yes",
    "level": "2", "sets_done": "3", "sets_prescribed": "3", "pain_during": "3", "pain_after": "2",
    "pain_24h": "2", "pain_48h": "1", "effort": "4", "painkiller": "no",
}  # fmt: skip

HELP = f"""Say, for each day of a paper diary, what the rules would have advised, and why.

Example: nextmorning replay diary.csv --start-level 2 --usual-pain 2

Example: nextmorning replay diary.csv --against ours.toml --format json

The diary is a table with commas or semicolons. A header names its
columns, of which only date is needed; an empty cell means not answered:

{fill(", ".join(COLUMNS), 70)}

For instance: {",".join(A_ROW.get(column, "") for column in COLUMNS)}

The advice of a row is that of its morning: it knows the row's morning
answers, heel raises and message, and all of earlier rows. Its session
comes after, so a pain of 7 during it shows on the next row. pain_24h and
pain_48h stand on the row of their session and count one and two days later.

An advance or a step back is taken at once, unless level says that the
patient stayed; then it is given again while its reason stands. A level
that nobody advised is taken for a clinician's word.

A day without a row is a session missed, where one was due; of the days
before the first row nothing is known. A warning sign in message stops its
own row only, as the diary does not tell what the clinician said.

A row that cannot be read is told with line and column, all of them at
once; exit status 2.
"""
"""What `nextmorning replay --help` teaches."""

DiaryFile = Annotated[Path, typer.Argument(help="A diary, one row a day; only date is needed.")]
ProtocolName = Annotated[
    str | None,
    typer.Option(help="Name of a shipped protocol, or a protocol file; else that of the tendon."),
]
TendonOption = Annotated[Tendon | None, typer.Option(help="Where along the tendon it hurts.")]
StartLevel = Annotated[
    str | None,
    typer.Option(help="Level at first, by number from 1 or by name; else the first row's, else 1."),
]
LevelSince = Annotated[
    datetime | None,
    typer.Option(formats=["%Y-%m-%d"], help="At that level since when; else since the first row."),
]
UsualPain = Annotated[
    int | None,
    typer.Option(
        min=0,
        max=10,
        help="Usual first-step pain when the plan began; else the first answered one. It counts"
        " until the diary has enough answers to go by.",
    ),
]
UsualStiffness = Annotated[
    int | None, typer.Option(min=0, max=1440, help="Usual stiffness then, in minutes.")
]
HopsAllowed = Annotated[
    bool, typer.Option("--hops-allowed", help="A clinician has opened the gate to hops.")
]
Slower = Annotated[
    bool, typer.Option("--slower", help="A clinician has lengthened the days between raises.")
]
PainLimit = Annotated[
    int | None,
    typer.Option(min=0, max=PAIN_CEILING, help="The patient's own limit, not the protocol's."),
]
FormatOption = Annotated[
    Format, typer.Option("--format", help="A table for people or JSON for programs.")
]
Against = Annotated[
    str | None,
    typer.Option(help="A second protocol: show only the days on which the two differ."),
]
Plot = Annotated[Path | None, typer.Option(help="Draw the diary into this PNG file.")]


def replay(
    diary: DiaryFile,
    protocol: ProtocolName = None,
    tendon: TendonOption = None,
    start_level: StartLevel = None,
    level_since: LevelSince = None,
    usual_pain: UsualPain = None,
    usual_stiffness: UsualStiffness = None,
    hops_allowed: HopsAllowed = False,
    pain_limit: PainLimit = None,
    slower: Slower = False,
    printed: FormatOption = Format.TABLE,
    against: Against = None,
    plot: Plot = None,
) -> None:
    """Say for each day of a paper diary what the rules would have advised; see HELP."""
    chosen = protocol_named(protocol or LADDERS[tendon or Tendon.MID_PORTION])
    told = Options(
        protocol=chosen,
        tendon=tendon or chosen.tendon or Tendon.MID_PORTION,
        level_since=None if level_since is None else level_since.date(),
        usual_pain=None if usual_pain is None else Pain(usual_pain),
        usual_stiffness=None if usual_stiffness is None else Minutes(usual_stiffness),
        hops_allowed=hops_allowed,
        pain_limit=None if pain_limit is None else Pain(pain_limit),
        slower=slower,
    )
    named = [chosen, *([] if against is None else [protocol_named(against)])]
    runs = [
        _run(diary, dataclasses.replace(told, protocol=one, start_level=_level(one, start_level)))
        for one in named
    ]
    if plot is not None:
        save_picture(runs[0], chosen, plot)
    for line in _lines(runs, named, printed):
        typer.echo(line)


def _run(diary: Path, options: Options) -> tuple[DayAdvice, ...]:
    """Read and walk; each problem of the diary is a line of its own on standard error."""
    try:
        days = read_diary_file(diary, options.protocol)
    except DiaryError as error:
        for problem in error.problems:
            typer.echo(f"{diary}: {problem}", err=True)
        raise typer.Exit(2) from None
    return replayed(days, options)


def _lines(
    runs: Sequence[Sequence[DayAdvice]], named: Sequence[Protocol], printed: Format
) -> Iterator[str]:
    """What is printed: one replay, or the differences of two."""
    if len(runs) == 1 and printed is Format.JSON:
        yield json_text(runs[0])
    elif len(runs) == 1:
        yield from table_lines(runs[0], named[0])
    elif printed is Format.JSON:
        yield difference_json(runs[0], runs[1])
    else:
        yield from difference_lines(runs[0], runs[1], named[0], named[1])


def _level(protocol: Protocol, word: str | None) -> int | None:
    number = None if word is None else level_number(protocol, word)
    if word is not None and number is None:
        raise RefusedError(
            f"--start-level: a level of {protocol.name}, by name or by a number from 1 to"
            f" {len(protocol.levels)}, was expected; found {word!r}"
        )
    return number
