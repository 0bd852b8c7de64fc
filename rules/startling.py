"""A pain so far over what a patient has told for weeks that it may be a slip of the finger.

It is asked back before anything rests on it. Read next: `bot.patients.slips`.
"""

from __future__ import annotations

from collections.abc import Iterable

from rules.protocol import Settings
from rules.quantities import Pain

STARTLING_RISE = 5
"""How far over the highest pain of `STARTLING_DAYS` it is [points, at least]. Convention."""

STARTLING_DAYS = 14
"""How far back the pains go that it is compared with [days]. Convention."""

NEVER = Pain.highest + 1


def startling_from(pains: Iterable[int], usual: int, settings: Settings) -> int:
    """The pain from which on an answer is asked back [points]; `NEVER` where none is.

    Only what a person must see the same day is; `pains` are those told of late, `usual` the one
    told when enrolling [points, 0-10].
    """
    highest = max((usual, *pains))
    return settings.pain_same_day if settings.pain_same_day - highest >= STARTLING_RISE else NEVER
