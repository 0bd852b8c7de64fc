"""Screens what a patient writes for warning signs, before anything else reads it.

It says what was found and at which tier, and which signs a closed question has to settle. It never
diagnoses, and does not say what to do: that is `escalation`, and the wording of the dialogs.
Read next: `lexicon` (what shows a sign), `sense` (whether it is meant), `double_reading` (what a
second reader makes of it).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from rules.double_reading import at_tier, settled
from rules.history import Tier
from rules.lexicon import Lexicon, shipped_lexicon
from rules.protocol import Settings
from rules.quantities import Pain
from rules.second_reading import shipped_second_reader
from rules.sense import Meant, Reading, how_meant
from rules.warning_sign import Match, Screening, Sign
from rules.wordings import Kind

SEVERE_PAIN = "severe-pain"

ASKED_ON_SEVERE_PAIN = ("tendon-rupture", "lung-clot", "leg-clot")
"""What a pain of `pain_questioned` or more may be part of, in the order asked. Convention."""

# A long text is read in windows, so that the time it takes grows with its length and no faster.
# Each word is one window's own; those around it are read too, for what they say about it.
# Convention: further than any wording, denial or relative reaches.
_WINDOW_WORDS = 120
_BEFORE_WORDS = 24
_AFTER_WORDS = 30

_HEARD = (Kind.WORDING, Kind.ASK, Kind.ASK_INSTEAD, Kind.CLUE)


def screen(text: str, lexicon: Lexicon, *, before: str = "") -> Screening:
    """The warning signs of one message. Any text at all is taken; an empty one holds none.

    `before`: what the same patient wrote minutes ago and was screened then. What only the two show
    when read as one is added: "calf is huge" and then "and hot". What was found then is not asked
    about now.

    A sign is either found or asked about, never both. `found` holds each sign once, at its most
    urgent tier. Where a wording may be denied, feared, long ago or somebody else's, where it may
    mean two things, and where the second reading differs, the sign is in `ask`.
    """
    alone = _of_one(text, lexicon)
    if not before.strip() or not text.strip():
        return alone
    both = _of_one(f"{before} {text}", lexicon)
    told = _of_one(before, lexicon)
    known = {match.sign.key for match in told.found}
    alone = replace(alone, ask=tuple(one for one in alone.ask if one.key not in known))
    merged = _merged(alone, _only_new(both, told))
    return merged if _tiers(merged) == _tiers(alone) else replace(merged, with_before=True)


def _tiers(screening: Screening) -> tuple[set[tuple[str, Tier]], set[tuple[str, Tier]]]:
    """What is found and what is asked about, each with its tier."""
    found = {(match.sign.key, match.tier) for match in screening.found}
    return found, {(sign.key, sign.tier) for sign in screening.ask}


def worry(text: str, lexicon: Lexicon) -> float:
    """A quick look, without wordings: natural logarithm of the odds that a text shows a sign, as in
    `double_reading`. 0 where the lexicon has no second reading.
    """
    other = lexicon.other_language_of(text)
    reader = lexicon.second_reader if other is None else shipped_second_reader(other)
    return 0.0 if reader is None else reader.odds(text)


def _of_one(text: str, lexicon: Lexicon) -> Screening:
    """The signs of a text; of one in another language, those that this language shows as well."""
    own = _read_twice(text, lexicon)
    other = lexicon.other_language_of(text)
    if other is None:
        return own
    more = _read_twice(text, shipped_lexicon(other))
    found = tuple(replace(match, sign=lexicon.sign(match.sign.key)) for match in more.found)
    ask = tuple(at_tier(lexicon.sign(sign.key), sign.tier) for sign in more.ask)
    return _merged(own, replace(more, found=found, ask=ask))


def _read_twice(text: str, lexicon: Lexicon) -> Screening:
    first = _first_reading(text, lexicon)
    if lexicon.second_reader is None:
        return first
    second = lexicon.second_reader.likeness(text)
    return settled(first, second, lexicon.sign(second.sign))


def _only_new(both: Screening, before: Screening) -> Screening:
    """What was not found, or asked about, before. Likeness alone shows nothing here: a word before
    makes any message unlike itself."""
    told = {match.sign.key: match.tier for match in before.found}
    found = tuple(
        match
        for match in both.found
        if not match.by_likeness
        and (match.sign.key not in told or match.tier.urgency < told[match.sign.key].urgency)
    )
    known = told.keys() | {sign.key for sign in before.ask} | both.asked_by_likeness
    return replace(both, found=found, ask=tuple(one for one in both.ask if one.key not in known))


def _merged(one: Screening, other: Screening) -> Screening:
    """Each sign of two screenings once, at its most urgent tier: found, or else asked about."""
    found: dict[str, Match] = {}
    for match in sorted((*one.found, *other.found), key=lambda match: match.tier.urgency):
        found.setdefault(match.sign.key, match)
    ask: dict[str, Sign] = {}
    for sign in sorted((*one.ask, *other.ask), key=lambda sign: sign.tier.urgency):
        if sign.key not in found:
            ask.setdefault(sign.key, sign)
    by_words = {sign.key for read in (one, other) for sign in read.ask} - (
        one.asked_by_likeness | other.asked_by_likeness
    )
    return Screening(tuple(found.values()), tuple(ask.values()), frozenset(ask.keys() - by_words))


def tier_asked(key: str, text: str, lexicon: Lexicon) -> Tier:
    """How soon a person must look, where the sign was asked about because of this text."""
    asked = (sign.tier for sign in screen(text, lexicon).ask if sign.key == key)
    return next(asked, lexicon.sign(key).tier)


def _first_reading(text: str, lexicon: Lexicon) -> Screening:
    """What the wordings show, as they are meant."""
    words, last_pause = lexicon.words(text)
    heard = _Heard()
    for first in range(0, len(words), _WINDOW_WORDS):
        low = max(0, first - _BEFORE_WORDS)
        high = first + _WINDOW_WORDS + _AFTER_WORDS
        pause = words[high].pause if high < len(words) else last_pause
        inside = words[low:high]
        reading = Reading(lexicon, inside, lexicon.found_in(inside), pause)
        _hear(reading, first - low, heard)
    _put_together(lexicon, heard)
    return _screening(lexicon, heard)


@dataclass
class _Heard:
    """What a text holds so far: wordings that show a sign, signs to ask about, clues told and clues
    in doubt.
    """

    matches: list[Match] = field(default_factory=list)
    asked: set[str] = field(default_factory=set)
    clues: set[str] = field(default_factory=set)
    doubted: set[str] = field(default_factory=set)


def _hear(reading: Reading, first: int, heard: _Heard) -> None:
    """Add what a window holds. `first`: its own words begin here; those before are context."""
    settled: set[tuple[Kind, str, object]] = set()
    for here in reading.found:
        entry = here.entry
        mine = first <= here.start < first + _WINDOW_WORDS
        same = (entry.kind, entry.key, entry.tier)
        if not mine or same in settled or entry.kind not in _HEARD:
            continue
        meant = how_meant(here, reading)
        if entry.kind is Kind.CLUE and meant is not Meant.DENIED:
            (heard.clues if meant is Meant.STATED else heard.doubted).add(entry.key)
        elif entry.kind is Kind.WORDING and meant is Meant.STATED:
            shown = " ".join(word.text for word in reading.words[here.start : here.end])
            sign = reading.lexicon.sign(entry.key)
            heard.matches.append(Match(sign, entry.tier or sign.tier, shown))
        elif entry.kind is not Kind.CLUE and meant is not Meant.DENIED:
            heard.asked.add(entry.key)
        if meant is Meant.STATED:
            settled.add(same)


def screen_pain(value: Pain, settings: Settings, lexicon: Lexicon | None = None) -> Screening:
    """What a pain answer [points, 0-10] opens.

    At or over `pain_questioned`: the closed questions of `ASKED_ON_SEVERE_PAIN`. At or over
    `pain_same_day`: the sign `severe-pain` as well. Under both: nothing.
    `lexicon`: where the questions stand; None for the shipped one in English.
    """
    signs = lexicon or shipped_lexicon()
    asked: tuple[Sign, ...] = ()
    found: tuple[Match, ...] = ()
    if value >= settings.pain_questioned:
        asked = tuple(signs.sign(key) for key in ASKED_ON_SEVERE_PAIN)
    if value >= settings.pain_same_day:
        severe = signs.sign(SEVERE_PAIN)
        found = (Match(severe, severe.tier, f"pain {int(value)} of 10"),)
    return Screening(found, asked)


def _put_together(lexicon: Lexicon, heard: _Heard) -> None:
    """Add what signs and clues show in company."""
    matches, asked, clues = heard.matches, heard.asked, heard.clues
    for rule in lexicon.together:
        shown = {match.sign.key for match in matches} | clues
        if not rule.parts <= shown | asked | heard.doubted:
            continue
        if rule.ask or not rule.parts <= shown:
            asked.add(rule.sign)
            continue
        words = " + ".join(match.words for match in matches if match.sign.key in rule.parts)
        matches.append(Match(lexicon.sign(rule.sign), rule.tier, words or rule.sign))


def _screening(lexicon: Lexicon, heard: _Heard) -> Screening:
    """Each sign once: the most urgent match, or a question. Most urgent first, then file order."""
    order = list(lexicon.signs)
    best: dict[str, Match] = {}
    for match in heard.matches:
        held = best.get(match.sign.key)
        if held is None or match.tier.urgency < held.tier.urgency:
            best[match.sign.key] = match
    found = sorted(
        best.values(), key=lambda match: (match.tier.urgency, order.index(match.sign.key))
    )
    ask = sorted(
        (lexicon.sign(key) for key in heard.asked - best.keys()),
        key=lambda sign: (sign.tier.urgency, order.index(sign.key)),
    )
    return Screening(tuple(found), tuple(ask))


__all__ = [
    "ASKED_ON_SEVERE_PAIN",
    "SEVERE_PAIN",
    "Tier",
    "screen",
    "screen_pain",
    "tier_asked",
    "worry",
]
