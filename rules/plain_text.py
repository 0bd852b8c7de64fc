"""Makes plain words of what a patient typed: case, accents, emoji and punctuation fall away.

What punctuation meant is kept beside each word, since a comma or a full stop bounds a negation.
It corrects no spelling and knows no language. Read next: `spelling`, then `phrase`.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from enum import IntEnum

_APOSTROPHES = dict.fromkeys(map(ord, "'`\u2018\u2019\u02bc\u2032\u00b4"))
# A number keeps its decimals and lets go of its unit ("38.5c", "45min"); other mixtures of letters
# and digits are shorthand ("b4") and stay whole.
_PIECE = re.compile(
    r"\d+(?=(?:c|f|cm|mm|min|mins|hr|hrs|h|yr|yrs|km|kms|k|mg|ml|am|pm|x)\b)"
    r"|\d+[.,]\d+|[^\W_]+|[.]{2,}|[.!?;\n]|[^\w\s]"
)
# A laughing face changes what "dying" means, so it is kept as a word. Others fall away.
LAUGH = "haha"
_LAUGHING = dict.fromkeys(
    map(ord, "\U0001f602\U0001f923\U0001f606\U0001f605\U0001f639"), f" {LAUGH} "
)
_FULL_STOPS = frozenset(".!?;\n")
_LETTER_RUN = re.compile(r"([a-z])\1{3,}")


class Pause(IntEnum):
    """What stood between a word and the one before it, from least to most."""

    NONE = 0
    COMMA = 1
    QUESTION = 2
    FULL_STOP = 3


@dataclass(frozen=True)
class Word:
    """One word in small letters, and the pause before it. The first word has none."""

    text: str
    pause: Pause = Pause.NONE


def words_of(text: str) -> tuple[tuple[Word, ...], Pause]:
    """The words of a text in order, and the pause after the last. Any text at all is taken.

    Four or more of one letter become three; `spelling` decides how many are meant.
    """
    plain = unicodedata.normalize("NFKD", text.translate(_APOSTROPHES | _LAUGHING).lower())
    if not plain.isascii():
        plain = "".join(mark for mark in plain if not unicodedata.combining(mark))
    words: list[Word] = []
    pause = Pause.NONE
    for piece in _PIECE.findall(plain):
        if piece[0].isalnum():
            letters = _LETTER_RUN.sub(r"\1\1\1", piece.replace(",", "."))
            words.append(Word(letters, pause if words else Pause.NONE))
            pause = Pause.NONE
        else:
            pause = max(pause, _pause_of(piece))
    return tuple(words), pause


def _pause_of(piece: str) -> Pause:
    """Trailing dots are a breath in a text message, not an end."""
    if piece == "?":
        return Pause.QUESTION
    if piece in _FULL_STOPS:
        return Pause.FULL_STOP
    return Pause.COMMA
