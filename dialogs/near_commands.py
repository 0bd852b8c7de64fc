"""What a misspelt command may have been meant as. Only ever asked about: nothing is done on it.
Read next: `clinician`.
"""

from __future__ import annotations

from collections.abc import Iterator

from rapidfuzz.distance import OSA

from dialogs.words import Words, bare

# How like a command the first words must be [share of letters that stay], and the shortest command
# that is guessed at [letters]. Convention: "shwo" is like "show", "hello" like nothing.
LIKE_MIN = 0.7
LETTERS_MIN = 4


def nearly(text: str, words: Words) -> Iterator[str]:
    """The message with its first words made a command that they are like, the likest first.

    The command stands in capitals; what follows stays as it was written.
    """
    parts = text.split()
    found: list[tuple[float, str]] = []
    for phrase in words.clinician["commands"]:
        count = len(phrase.split())
        if len(phrase) < LETTERS_MIN or len(parts) < count:
            continue
        begun = bare(" ".join(parts[:count]))
        like = OSA.normalized_similarity(begun, phrase, score_cutoff=LIKE_MIN)
        if like:
            found.append((like, " ".join((phrase.upper(), *parts[count:]))))
    yield from (meant for _, meant in sorted(found, key=lambda one: -one[0]))
