"""Hears that a patient wants their data deleted, or a copy of it.

Nothing is deleted or sent by a message: a person at the clinic has to look, for a record of care
may have to be kept by law. Records the wish; `bot.patients.apply` puts it before the clinic.
Read next: `patient`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from dialogs.answering import Talk
from dialogs.catalogues import tables
from dialogs.turn import Recorded, Said, Turn
from dialogs.wishes import CopyAsked, ErasureAsked
from dialogs.words import bare, plain


@dataclass(frozen=True, eq=False)
class _Asking:
    """The two wishes as patterns over a whole message in plain form."""

    erase: re.Pattern[str]
    copy: re.Pattern[str]


def own_data(talk: Talk) -> Turn | None:
    """What the message wants of the patient's own data; None where it wants nothing of the kind.

    A question that waits goes on waiting.
    """
    line = bare(talk.text)
    asking = _asking(talk.situation.language)
    wish: Recorded
    if asking.erase.fullmatch(line):
        wish, what = ErasureAsked(), "erase"
    elif asking.copy.fullmatch(line):
        wish, what = CopyAsked(), "copy"
    else:
        return None
    return Turn(talk.state, (wish,), (Said("own-data", {"what": what}),))


@lru_cache(maxsize=8)
def _asking(language: str) -> _Asking:
    """The patterns of a language: an opening or none, a verb, what of, an ending or none."""
    words = tables(language, "requests")["own-data"]
    lists = {name: _either(phrases) for name, phrases in words.items()}
    before, data, after = lists["openings"], lists["data"], lists["endings"]

    def wish(verbs: str, alone: str) -> re.Pattern[str]:
        asked = rf"(?:{verbs})(?: (?:{data}))|(?:{alone})"
        return re.compile(rf"(?:(?:{before})[ ,]+)*(?:{asked})(?:[ ,]+(?:{after}))*")

    return _Asking(
        erase=wish(lists["erase"], lists["erase_alone"]),
        copy=wish(lists["copy"], lists["copy_alone"]),
    )


def _either(phrases: list[str]) -> str:
    ordered = sorted(map(plain, phrases), key=len, reverse=True)
    return "|".join(map(re.escape, ordered))
