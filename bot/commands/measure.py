"""`nextmorning measure`: what a protocol does to invented patients, beside another."""

from __future__ import annotations

import json
import multiprocessing
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from math import isfinite
from pathlib import Path
from typing import Annotated, Any

import typer

from bot.charts.png import write_png
from bot.commands.options import JsonOption
from bot.commands.protocol import protocol_named
from bot.commands.waiting import each_shown
from bot.measuring.answering import ANSWER_RATE, CARRIES, DEVIATIONS
from bot.measuring.picture import svg_text
from bot.measuring.tables import Measured, Table, landmarks, measured
from bot.measuring.trials import WEEKS, Sizes, played, tasks
from rules.protocol import Protocol

PATIENTS, CLIMBERS, SEED = 50, 12, 1
"""Under two minutes on two processors."""

ProtocolName = Annotated[
    str, typer.Option(help="Name of a shipped protocol, or a protocol file of your own.")
]
Against = Annotated[str | None, typer.Option(help="Another protocol, measured on the same.")]
Patients = Annotated[int, typer.Option(min=2, help="Invented patients of each mean pain.")]
Climbers = Annotated[int, typer.Option(min=2, help="Recovering patients of each kind.")]
Weeks = Annotated[int, typer.Option(min=1, help="How long recovering patients are followed.")]
Seed = Annotated[int, typer.Option(help="Where chance begins; the same gives the same table.")]
Plot = Annotated[Path | None, typer.Option(help="Draw the trade-off into this file, as PNG.")]


def measure(
    protocol: ProtocolName = "mid-portion-ladder",
    against: Against = None,
    patients: Patients = PATIENTS,
    climbers: Climbers = CLIMBERS,
    weeks: Weeks = 52,
    seed: Seed = SEED,
    plot: Plot = None,
    as_json: JsonOption = False,
) -> None:
    """Measure a protocol on invented patients: false alarms, trouble met, the climb and its price.

    Example: nextmorning measure --protocol ours.toml --against mid-portion-ladder

    Example: nextmorning measure --patients 400 --climbers 100 --plot trade-off.png
    """
    chosen = [protocol_named(name) for name in (protocol, against) if name is not None]
    sizes = Sizes(patients, climbers, weeks)
    found = _measured(chosen, sizes, seed)
    if plot is not None:
        write_png(svg_text(found, chosen), plot)
    said = list(assumptions(chosen, sizes, seed))
    if as_json:
        told = {"assumed": said, "tables": [_without_infinity(asdict(one)) for one in found]}
        typer.echo(json.dumps(told, indent=1))
        return
    for line in said:
        typer.echo(line)
    for table in found:
        for line in ("", *table_lines(table)):
            typer.echo(line)


def _measured(protocols: Sequence[Protocol], sizes: Sizes, seed: int) -> Measured:
    """Play all patients, on all processors."""
    todo = list(tasks(protocols, sizes, seed))
    # Begun anew and not forked: the bar has a thread of its own.
    with ProcessPoolExecutor(mp_context=multiprocessing.get_context("spawn")) as pool:
        shown = each_shown(pool.map(played, todo), "Playing invented patients", len(todo))
        return measured(protocols, todo, shown)


def assumptions(protocols: Sequence[Protocol], sizes: Sizes, seed: int) -> Iterator[str]:
    """What is assumed, before any number is shown."""
    yield "INVENTED PATIENTS, INVENTED LOAD MODEL: nothing here was measured on people."
    for letter, protocol in zip("AB", protocols, strict=False):
        yield f"{letter}: {protocol.title} ({protocol.name}), version {protocol.version}"
    yield (
        f"{sizes.patients} patients of each mean pain, {WEEKS} weeks each; {sizes.climbers} of each"
        f" recovering kind, {sizes.weeks} weeks; seed {seed}."
    )
    yield (
        f"Whole-number answers around the mean: SD {DEVIATIONS[0]} to {DEVIATIONS[1]}, correlation"
        f" from day to day {CARRIES[0]} to {CARRIES[1]};"
    )
    yield f"{ANSWER_RATE:.0%} of questions and sessions; advice followed; hops allowed."
    yield "Slowed: a slow responder whose days between raises the clinician has lengthened;"
    yield "late: once the bot has said that places were too much again and again."
    yield "In brackets: 95% interval. A dash: not by half of them in that time."
    for part, level in landmarks(protocols[0]).items():
        yield f"{part}: level {level}, {protocols[0].levels[level - 1].name}"


def table_lines(table: Table) -> Iterator[str]:
    """One table; where two protocols were measured, each row says whose it is."""
    two = any(row.protocol for row in table.rows)
    yield table.title
    cells = [
        [cell.brief() if n < table.brief else str(cell) for n, cell in enumerate(row.cells)]
        for row in table.rows
    ]
    groups = [f"{'AB'[row.protocol]}  {row.group}" if two else row.group for row in table.rows]
    widths = [max(map(len, column)) for column in zip(table.columns, *cells, strict=True)]
    first = max([0, *map(len, groups)])
    for name, values in zip(["", *groups], [table.columns, *cells], strict=True):
        told = "  ".join(f"{one:<{width}}" for one, width in zip(values, widths, strict=True))
        yield f"{name:<{first}}  {told}".rstrip()


def _without_infinity(value: Any) -> Any:
    """The same with None for never: JSON knows no infinity."""
    if isinstance(value, dict):
        return {key: _without_infinity(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_without_infinity(one) for one in value]
    return None if isinstance(value, float) and not isfinite(value) else value
