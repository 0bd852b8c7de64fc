"""What makes a ladder one that can be climbed, and climbed safely.

Works on a protocol whose single values are in range. Read next: `protocol_reader`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise

from rules.protocol import Dose, Level, Protocol, Tendon
from rules.protocol_keys import AMOUNT_MAX, HEAVY_SPACING_HOURS_MIN, LOAD_KG_MAX, SETS_MAX
from rules.protocol_lines import Key

Problem = tuple[Key, str]

# Words of hops, in the languages that a clinic's protocol may be written in.
HOPS = re.compile(
    r"\b(hop(s|ping)?|jump\w*|skip(s|ping)?|salt(o|os|ar|a)|brinc\w*)\b", re.IGNORECASE
)


def ladder_problems(protocol: Protocol) -> Iterator[Problem]:
    """Each way in which the parts of a protocol do not go together."""
    yield from _settings_problems(protocol)
    for number, level in enumerate(protocol.levels, start=1):
        key: Key = ("levels", number)
        yield from _time_problems(key, level)
        yield from _dose_problems(key, level)
        if level.deficit and protocol.tendon is not Tendon.MID_PORTION:
            yield (
                (*key, "deficit"),
                "a deficit level needs a protocol for the mid-portion tendon only;"
                f" found tendon {protocol.tendon or 'either'}",
            )
    yield from _name_problems(protocol)
    yield from _gate_problems(protocol)


def _settings_problems(protocol: Protocol) -> Iterator[Problem]:
    settings = protocol.settings
    for lower, upper in (
        ("comfort_max", "pain_limit"),
        ("pain_questioned", "pain_same_day"),
        ("usual_answers_min", "usual_window_days"),
    ):
        if getattr(settings, lower) > getattr(settings, upper):
            yield (
                ("settings", lower),
                f"{lower} at or under {upper} was expected; found"
                f" {getattr(settings, lower)} and {getattr(settings, upper)}",
            )
    if settings.settled_margin >= settings.above_usual_margin:
        yield (
            ("settings", "settled_margin"),
            "settled_margin under above_usual_margin was expected; found"
            f" {settings.settled_margin} and {settings.above_usual_margin}",
        )


def _time_problems(key: Key, level: Level) -> Iterator[Problem]:
    if level.days_min < level.spacing_days:
        yield (
            (*key, "days_min"),
            f"days_min that leaves time for one session, {level.spacing_days} days, was expected;"
            f" found {level.days_min}",
        )
    if (level.hops or level.heavy) and level.spacing_hours < HEAVY_SPACING_HOURS_MIN:
        yield (
            (*key, "spacing_hours"),
            f"heavy and hop sessions at least {HEAVY_SPACING_HOURS_MIN} hours apart were expected;"
            f" found {level.spacing_hours}",
        )


def _name_problems(protocol: Protocol) -> Iterator[Problem]:
    """Two levels that nobody could tell apart; and hops that no gate holds back."""
    names = [level.name.casefold() for level in protocol.levels]
    for number, level in enumerate(protocol.levels, start=1):
        if names.index(level.name.casefold()) < number - 1:
            yield (
                ("levels", number, "name"),
                f"a name of its own was expected for each level; found {level.name!r} twice",
            )
        if not level.hops and HOPS.search(f"{level.name} {level.exercise}"):
            yield (
                ("levels", number, "hops"),
                "hops = true was expected where a level speaks of hops or jumps: without it no"
                " gate holds them back",
            )


def _dose_problems(key: Key, level: Level) -> Iterator[Problem]:
    for dose in level.doses:
        most = AMOUNT_MAX[dose.unit]
        if dose.sets > SETS_MAX or dose.amount > most or dose.added_load_kg > LOAD_KG_MAX:
            yield (
                (*key, "doses"),
                f"at most {SETS_MAX} sets of {most} {dose.unit} with {LOAD_KG_MAX} kg were"
                f" expected; found {_spelled(dose)}",
            )
    for lower, upper in pairwise(level.doses):
        if not _rises(lower, upper):
            yield (
                (*key, "doses"),
                f"each dose above the one before was expected; found {_spelled(upper)}"
                f" after {_spelled(lower)}",
            )


def _rises(lower: Dose, upper: Dose) -> bool:
    """More weight; or the same weight, no fewer sets, no smaller sets, and one of them more."""
    if lower.added_load_kg != upper.added_load_kg:
        return upper.added_load_kg > lower.added_load_kg
    grew = (upper.sets - lower.sets, upper.amount - lower.amount)
    return min(grew) >= 0 and max(grew) > 0


def _spelled(dose: Dose) -> str:
    load = f" + {dose.added_load_kg:g} kg" if dose.added_load_kg else ""
    return f"{dose.sets} x {dose.amount}{load}"


def _gate_problems(protocol: Protocol) -> Iterator[Problem]:
    if protocol.levels[0].hops:
        yield (
            ("levels", 1, "hops"),
            "a level before the gate to hops was expected; found hops at the first",
        )
    for number, (below, above) in enumerate(pairwise(protocol.levels), start=2):
        if below.hops and not above.hops:
            yield (
                ("levels", number),
                "only hops above the gate to hops were expected: behind a closed gate"
                f" {above.name!r} can never be reached",
            )
