"""Settles what a message holds where its two readings differ, mostly by a closed question.

The first reading is by wordings (`screening`), the second by likeness to labelled messages
(`second_reading`). Neither outvotes the other, unless it is all but certain.

    second reading's odds   -4 or less   -2 or less   between   2 or more    12 or more
    first found             asked        asked        found     found *      found *
    first asks              silent       asked        asked     asked *      found *
    first is silent         silent       silent       silent    asked **     found **
    *  with the likest sign beside it, if that would need a person sooner: asked about, or found
    ** by likeness

A question that is not answered in time goes to a clinician: see `escalation.raise_one_tier`.
"""

from __future__ import annotations

from dataclasses import replace

from rules.history import Tier
from rules.second_reading import Likeness
from rules.warning_sign import Match, Screening, Sign

# Natural logarithms of odds. A sign that is missed costs more than a question too many, so little
# is needed to ask, and much to raise or to keep silent.
LIKE_A_SIGN_MIN = 2.0
"""About 7 to 1 for a sign. Convention; lower asks about single harmless words."""

PLAINLY_A_SIGN_MIN = 12.0
"""About 160,000 to 1 for a sign: it is raised by likeness alone.

Source: measured on 8,591 messages whose author was left out (`tests/authors_apart.py`): 60 % of
emergencies in English and 36 % in Spanish were found at once, 81 % and 70 % with it; of harmless
ones 2.2 % and 2.1 % raised an alarm, 2.6 % and 3.0 % with it. Confirmed on 151 messages written for
this (`confirm_<language>.tsv`): 43 of 54 emergencies, 49 with it; of 61 harmless ones 1, and 1.
"""

HARMLESS_MAX = -2.0
"""About 7 to 1 against a sign. Convention."""

SURELY_HARMLESS_MAX = -4.0
"""About 55 to 1 against one: a question that only the wordings would ask is dropped.

Source: measured as above. Of 4,418 harmless messages 810 were asked about with -8 here, 715 with
it, and no emergency less was found or asked about.
"""


def settled(first: Screening, second: Likeness, likest: Sign) -> Screening:
    """What two readings of one message come to. `likest`: the sign of `second`."""
    if second.odds <= HARMLESS_MAX:
        return _doubted(first, second.odds)
    likest = at_tier(likest, second.tier)
    if second.odds >= PLAINLY_A_SIGN_MIN:
        return _with_likest_found(first, likest)
    if second.odds >= LIKE_A_SIGN_MIN:
        return _with_likest_asked(first, likest)
    return first


def at_tier(sign: Sign, tier: Tier) -> Sign:
    """The sign, needing a person as soon as this if that is sooner than its own tier."""
    return replace(sign, tier=tier) if tier.urgency < sign.tier.urgency else sign


def _doubted(first: Screening, odds: float) -> Screening:
    if first.found:
        doubted = tuple(at_tier(match.sign, match.tier) for match in first.found)
        return Screening(ask=_by_urgency((*doubted, *first.ask)))
    return Screening() if odds <= SURELY_HARMLESS_MAX else first


def _with_likest_found(first: Screening, likest: Sign) -> Screening:
    """Finds the likest sign too, where it needs a person sooner than all that was found."""
    if any(match.tier.urgency <= likest.tier.urgency for match in first.found):
        return first
    worded = {match.sign.key for match in first.found} | {sign.key for sign in first.ask}
    match = Match(likest, likest.tier, "", by_likeness=likest.key not in worded)
    others = (other for other in first.found if other.sign.key != likest.key)
    ask = tuple(sign for sign in first.ask if sign.key != likest.key)
    return Screening((match, *others), ask)


def _with_likest_asked(first: Screening, likest: Sign) -> Screening:
    """Asks about the likest sign too, where it would need a person sooner than all the rest."""
    named = (*(at_tier(match.sign, match.tier) for match in first.found), *first.ask)
    sooner = all(likest.tier.urgency < sign.tier.urgency for sign in named)
    if not sooner or any(match.sign.key == likest.key for match in first.found):
        return first
    others = tuple(sign for sign in first.ask if sign.key != likest.key)
    by_likeness = frozenset({likest.key} - {sign.key for sign in first.ask})
    return replace(first, ask=_by_urgency((likest, *others)), asked_by_likeness=by_likeness)


def _by_urgency(signs: tuple[Sign, ...]) -> tuple[Sign, ...]:
    return tuple(sorted(signs, key=lambda sign: sign.tier.urgency))
