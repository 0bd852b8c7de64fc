"""Reads where a patient lives as a time zone: a zone's name, a city, or a country with one zone.

Only a zone's own name is certain; anything else is a guess that the patient confirms.
Read next: `enrolment`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from zoneinfo import available_timezones

from babel import Locale
from babel.core import get_global
from rapidfuzz import fuzz, process

from dialogs.words import Words, bare

# How alike a mistyped city must be to be offered [0-100, at least]. Convention: it is confirmed.
LIKENESS_MIN = 85


@dataclass(frozen=True)
class Place:
    """A time zone by its IANA name. `certain`: the zone's own name was written."""

    zone: str
    certain: bool


def read_place(text: str, words: Words) -> Place | None:
    """The time zone that a text names, or None."""
    line = bare(text)
    named = _zones().get(line.replace(" ", "_"))
    if named and "/" in named:
        return Place(named, certain=True)
    written = line.replace("_", " ")
    name = _without_lead(written, words)
    cities = _cities() | _cities_in(words.said["language"])
    countries = _countries("en") | _countries(words.said["language"])
    for part in (written, name, name.split(",")[0].strip()):
        found = words.places.get(part) or cities.get(part) or countries.get(part)
        if found:
            return Place(found, certain=False)
    alike = process.extractOne(name, list(cities), scorer=fuzz.ratio, score_cutoff=LIKENESS_MIN)
    return Place(cities[alike[0]], certain=False) if alike and len(name) > 3 else None


def _without_lead(name: str, words: Words) -> str:
    """A place's name without the small words before it: "in London"."""
    parts = name.split()
    while len(parts) > 1 and words.small.get(parts[0]) == "filler":
        parts.pop(0)
    return " ".join(parts)


@lru_cache(maxsize=1)
def _zones() -> dict[str, str]:
    """Every zone by its name in lower case."""
    return {zone.lower(): zone for zone in available_timezones()}


@lru_cache(maxsize=1)
def _cities() -> dict[str, str]:
    """Zones by the city in their name; a city in two zones' names is left out."""
    areas = ("Africa", "America", "Asia", "Atlantic", "Australia", "Europe", "Indian", "Pacific")
    found: dict[str, set[str]] = {}
    for zone in _zones().values():
        if zone.split("/")[0] in areas:
            city = zone.split("/")[-1].replace("_", " ").lower()
            found.setdefault(city, set()).add(zone)
    return {city: _one(zones) for city, zones in sorted(found.items()) if _one(zones)}


@lru_cache(maxsize=8)
def _cities_in(language: str) -> dict[str, str]:
    """Zones by the name that a language has for the city: "londres"."""
    named = Locale(language).time_zones
    found: dict[str, set[str]] = {}
    for zone, names in named.items():
        if "city" in names and zone.lower() in _zones():
            found.setdefault(bare(names["city"]), set()).add(zone)
    return {city: _one(zones) for city, zones in sorted(found.items()) if _one(zones)}


def _one(zones: set[str]) -> str:
    """The single zone of a set, older spellings of the same zone apart; "" where there are two."""
    aliases = get_global("zone_aliases")
    current = {aliases.get(zone, zone) for zone in zones}
    return min(zones, key=lambda zone: (zone.count("/"), zone)) if len(current) == 1 else ""


@lru_cache(maxsize=8)
def _countries(language: str) -> dict[str, str]:
    """Countries with one zone, by the name that a language has for them."""
    by_country: dict[str, set[str]] = {}
    for zone, territory in get_global("zone_territories").items():
        if zone.lower() in _zones():
            by_country.setdefault(territory, set()).add(zone)
    names = Locale(language).territories
    return {
        bare(names[territory]): next(iter(zones))
        for territory, zones in by_country.items()
        if len(zones) == 1 and territory in names
    }
