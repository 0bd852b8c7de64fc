"""Settles what a message holds where its two readings differ: by a closed question.

The first reading is by wordings (`screening`), the second by likeness to labelled messages
(`second_reading`). Neither outvotes the other. Only the first can find a sign; the second can make
a question of what was found, and raise a question where nothing was.

    second reading:      harmless             cannot tell      like a sign
    first found          asked about          found            found
    first asks           asked about *        asked about      asked about
    first is silent      silent               silent           asked about
    * silent where the second is all but certain

A question that is not answered in time goes to a clinician: see `escalation.raise_one_tier`.
"""

from __future__ import annotations

from dataclasses import replace

from rules.history import Tier
from rules.second_reading import Likeness
from rules.warning_sign import Screening, Sign

# Natural logarithms of odds. Convention: a sign that is missed costs more than a question too many,
# so little is needed to ask, and much to keep silent. `tests/authors_apart.py` shows what they do.
LIKE_A_SIGN_MIN = 2.0
"""About 7 to 1 for a sign."""

HARMLESS_MAX = -2.0
"""About 7 to 1 against one."""

SURELY_HARMLESS_MAX = -8.0
"""About 3000 to 1 against one."""


def settled(first: Screening, second: Likeness, likest: Sign) -> Screening:
    """What two readings of one message come to. `likest`: the sign of `second`."""
    if second.odds <= HARMLESS_MAX:
        return _doubted(first, second.odds)
    if second.odds >= LIKE_A_SIGN_MIN:
        return _with_likest(first, at_tier(likest, second.tier))
    return first


def at_tier(sign: Sign, tier: Tier) -> Sign:
    """The sign, needing a person as soon as this if that is sooner than its own tier."""
    return replace(sign, tier=tier) if tier.urgency < sign.tier.urgency else sign


def _doubted(first: Screening, odds: float) -> Screening:
    if first.found:
        doubted = tuple(at_tier(match.sign, match.tier) for match in first.found)
        return Screening(ask=_by_urgency((*doubted, *first.ask)))
    return Screening() if odds <= SURELY_HARMLESS_MAX else first


def _with_likest(first: Screening, likest: Sign) -> Screening:
    """Asks about the likest sign too, where it would need a person sooner than all the rest."""
    named = (*(at_tier(match.sign, match.tier) for match in first.found), *first.ask)
    sooner = all(likest.tier.urgency < sign.tier.urgency for sign in named)
    if not sooner or any(match.sign.key == likest.key for match in first.found):
        return first
    others = tuple(sign for sign in first.ask if sign.key != likest.key)
    return replace(first, ask=_by_urgency((likest, *others)))


def _by_urgency(signs: tuple[Sign, ...]) -> tuple[Sign, ...]:
    return tuple(sorted(signs, key=lambda sign: sign.tier.urgency))
