"""Prints the ordinary words that the present lexicon would take for a slip or for two words in one.

    PYTHONPATH=. python tests/near_words.py [language] [word list ...]

The output is the file `rules/warning_signs/<language>_left_alone.toml`. The words come from the
lists that Debian ships as wamerican-small and wbritish-small (SCOWL, Kevin Atkinson; its licence
stands in the printed text, as it asks). Of those lists only the words are kept that the speller
would change: they are then left alone. It knows no sign, and is run again when the lexicon's own
words change. Read next: `rules/spelling.py`.
"""

from __future__ import annotations

import re
import sys
import textwrap
from collections.abc import Iterable
from pathlib import Path

from rules.lexicon import Lexicon, part_of_shipped, read_lexicon
from rules.plain_text import Word

WORD_LISTS = (
    Path("/usr/share/dict/american-english-small"),
    Path("/usr/share/dict/british-english-small"),
)

LETTERS_MIN = 4
"""Shorter words are never corrected nor taken apart [letters]. See `rules/spelling.py`."""

# Roman numbers: the speller takes three of one letter for a drawn-out word anyway.
_DRAWN_OUT = re.compile(r"(?i)([a-z])\1\1")

HEAD = """\
# Ordinary words that are a slip away from a word of the warning signs, or would fall apart into
# two of them: they stay as they are ("thumb" is no "numb"). Printed by `tests/near_words.py`
# from the word lists wamerican-small and wbritish-small of Debian, which are taken from SCOWL:
#
#   Copyright 2000-2011 by Kevin Atkinson
#   Permission to use, copy, modify, distribute and sell these word lists, the associated scripts,
#   the output created from the scripts, and its documentation for any purpose is hereby granted
#   without fee, provided that the above copyright notice appears in all copies and that both that
#   copyright notice and this permission notice appear in supporting documentation. Kevin Atkinson
#   makes no representations about the suitability of this array for any purpose. It is provided
#   "as is" without express or implied warranty.

[left_alone]
words = \"\"\"
"""


def ordinary_words(paths: Iterable[Path]) -> set[str]:
    """The plain words of the lists in small letters; names are among them, possessives are not."""
    return {
        word.lower()
        for path in paths
        for word in path.read_text(encoding="utf-8").split()
        if word.isascii()
        and word.isalpha()
        and len(word) >= LETTERS_MIN
        and not _DRAWN_OUT.search(word)
    }


def without_left_alone(language: str, words: Iterable[str] = ()) -> Lexicon:
    """The shipped lexicon, with only these words left alone."""
    parts = [part_of_shipped(language, part) for part in ("", "_words")]
    return read_lexicon("\n".join([*parts, f'[left_alone]\nwords = "{" ".join(words)}"\n']))


def is_changed(word: str, lexicon: Lexicon) -> bool:
    """Whether the lexicon reads another word in this one, or several. A plural is no other."""
    read = [one.text for one in lexicon.speller.corrected((Word(word),))]
    spelled = lexicon.speller.spelled(word).split()
    return read not in ([word], spelled) and read not in ([word.removesuffix("s")], [f"{word}s"])


def near_words(words: Iterable[str], language: str = "en") -> list[str]:
    """Those of the words that are to be left alone, in order."""
    held: set[str] = set()
    while True:  # a word left alone may be a part of another: once more, until none is added
        lexicon = without_left_alone(language, sorted(held))
        more = {word for word in words if word not in held and is_changed(word, lexicon)}
        if not more:
            return sorted(held)
        held |= more


def main(arguments: list[str]) -> None:
    """Print the file of words left alone."""
    language = arguments[0] if arguments else "en"
    words = ordinary_words([Path(path) for path in arguments[1:]] or WORD_LISTS)
    sys.stdout.write(HEAD)
    sys.stdout.write(textwrap.fill(" ".join(near_words(words, language)), 100))
    sys.stdout.write('\n"""\n')


if __name__ == "__main__":
    main(sys.argv[1:])
