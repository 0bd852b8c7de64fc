"""`nextmorning measure`: how often a protocol steps back a patient who needs none."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from typing import Annotated

import typer

from bot.commands.backup import JsonOption
from bot.commands.protocol import protocol_named
from bot.commands.waiting import each_shown
from bot.measuring.shares import (
    ANSWER_RATE,
    CARRIES,
    DEVIATIONS,
    FLARE_HALF_LIFE_DAYS,
    FLARE_POINTS,
    MEANS,
    WEEKS,
    FlareDays,
    Share,
    StableWeeks,
    flare_days,
    stable_weeks,
)
from rules.protocol import Protocol

PATIENTS, SEED = 100, 1
"""Convention: half a minute on a small machine."""

ProtocolName = Annotated[
    str, typer.Option(help="Name of a shipped protocol, or a protocol file of your own.")
]
Patients = Annotated[int, typer.Option(min=2, help="Invented patients in each group.")]
Seed = Annotated[int, typer.Option(help="Where chance begins; the same gives the same table.")]


def measure(
    protocol: ProtocolName = "mid-portion-ladder",
    patients: Patients = PATIENTS,
    seed: Seed = SEED,
    as_json: JsonOption = False,
) -> None:
    """Measure a protocol on invented patients: false alarms in stable weeks, days to a flare.

    Example: nextmorning measure --protocol ours.toml --patients 300

    Example: nextmorning measure --json > measured.json
    """
    chosen = protocol_named(protocol)
    assumed = list(assumptions(chosen, patients, seed))
    groups = each_shown(MEANS, "Stable patients")
    stable = [stable_weeks(chosen, mean, patients, seed) for mean in groups]
    groups = each_shown(MEANS, "Flares")
    flares = [flare_days(chosen, mean, patients, seed) for mean in groups]
    if as_json:
        told = {
            "assumed": [line for line in assumed if line],
            "stable": [vars(group) for group in stable],
            "flares": [vars(group) for group in flares],
        }
        typer.echo(json.dumps(told, indent=1))
        return
    for line in (*assumed, *stable_lines(stable), *flare_lines(flares)):
        typer.echo(line)


def assumptions(protocol: Protocol, patients: int, seed: int) -> Iterator[str]:
    """What is assumed, before any number is shown."""
    yield f"{protocol.title} ({protocol.name}), version {protocol.version}"
    yield (
        f"Invented patients, {patients} in each group, {WEEKS} weeks each, seed {seed}."
        " Nothing here was measured on people."
    )
    yield (
        f"Whole-number answers around the group's mean: SD {DEVIATIONS[0]} to {DEVIATIONS[1]},"
        f" correlation from day to day {CARRIES[0]} to {CARRIES[1]};"
    )
    yield (
        f"stiffness likewise; {ANSWER_RATE:.0%} of questions answered and of sessions done;"
        " advice followed."
    )
    yield ""


def stable_lines(groups: Sequence[StableWeeks]) -> Iterator[str]:
    """The weeks of truly stable patients, as lines."""
    yield "Stable patients: share of weeks with it (95% interval)"
    yield f"{'mean pain':<11}{'weeks':>6}  {'step back':<24}{'rest day for pain':<24}to a clinician"
    for one in groups:
        yield (
            f"{one.mean:<11}{one.weeks:>6}  {_share(one.stepped_back, one.weeks):<24}"
            f"{_share(one.rested, one.weeks):<24}{_share(one.escalated, one.weeks)}"
        ).rstrip()
    yield ""
    yield "By reason"
    for one in groups:
        for kind, reasons in (("step back", one.back_reasons), ("clinician", one.alert_reasons)):
            for reason, count in reasons.most_common():
                yield f"{one.mean:<11}{kind:<11}{reason:<26}{_share(count, one.weeks)}"
    yield ""


def flare_lines(groups: Sequence[FlareDays]) -> Iterator[str]:
    """The days until a flare is answered, as lines."""
    yield (
        f"A flare of {FLARE_POINTS:g} points, halved every {FLARE_HALF_LIFE_DAYS:g} days:"
        " days until the first step back or rest day for pain"
    )
    yield f"{'mean pain':<11}{'median':>6}{'9 in 10 by':>12}  never answered"
    for one in groups:
        flares = len(one.days) + one.unanswered
        known = f"{one.median:>6g}{one.nine_in_ten:>12g}" if one.days else f"{'-':>6}{'-':>12}"
        yield f"{one.mean:<11}{known}  {_share(one.unanswered, flares)}"


def _share(count: int, of: int) -> str:
    share = Share(count, of)
    low, high = share.interval()
    return f"{share.value:.1%} ({low:.1%} to {high:.1%})"
