"""The tables of a report about the protocol: ladder, limits, and the sources with their status."""

from __future__ import annotations

from bot.replay.dose_text import dose_text
from bot.report.table import Table
from rules.protocol import Cited, Protocol
from rules.sources import COMMON_PRACTICE, CONVENTION, SOURCES, HowKnown

STATUS = {
    HowKnown.READ: "read",
    HowKnown.SECONDARY: "known from its abstract, a table or a summary, not read whole",
    HowKnown.FROM_MEMORY: "from memory",
}

MARKS = {
    COMMON_PRACTICE: "common practice, no published source",
    CONVENTION: "our own choice, no published source",
}


def ladder_table(protocol: Protocol) -> Table:
    """The levels, lowest first, each with its doses and the least time at it."""
    rows = tuple(
        (
            str(number),
            level.name,
            ", ".join(dose_text(dose) for dose in level.doses),
            f"{level.days_min} days",
            f"{level.spacing_hours} h",
        )
        for number, level in enumerate(protocol.levels, start=1)
    )
    heads = ("Level", "Exercise", "Doses", "At least", "Between sessions")
    return Table(heads, rows, "No level.")


def limit_table(protocol: Protocol) -> Table:
    """Every limit of the decision order with its unit and where it comes from."""
    rows = tuple(_limit(protocol, one) for one in protocol.cited if one.key.startswith("settings."))
    return Table(("Limit", "Value", "Where it comes from"), rows, "No limit.")


def _limit(protocol: Protocol, cited: Cited) -> tuple[str, ...]:
    name = cited.key.removeprefix("settings.")
    value = getattr(protocol.settings, name)
    note = f"; {cited.note}" if cited.note else ""
    source = MARKS.get(cited.source, cited.source)
    return name.replace("_", " "), f"{value:g} {cited.unit}", f"{source}{note}"


def source_table(protocol: Protocol) -> Table:
    """The published sources the protocol rests on, and how far each was checked."""
    keys = sorted({one.source for one in protocol.cited} & set(SOURCES))
    return Table(("Key", "Source", "Status"), tuple(map(_source, keys)), "No published source.")


def _source(key: str) -> tuple[str, ...]:
    source = SOURCES[key]
    year = "" if source.year is None else f" {source.year}"
    doi = "" if source.doi is None else f", doi {source.doi}"
    told = f"{source.authors}{year}: {source.about}. {source.place}{doi}"
    return key, told, STATUS[source.how_known]
