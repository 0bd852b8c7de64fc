"""Measures the screen on each author's messages with a second reading that never saw them.

For each file of told messages the second reader learns from all the others; the wordings stay as
they are. Printed are the files that the wordings were not built on, one by one and together: far
more messages than the set kept apart, and unread by either reading. It asserts nothing.
    PYTHONPATH=.:tests python tests/authors_apart.py en
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import replace

from decides.labelled import BUILT_ON, counted, printed, read, set_names, told_set

from rules.lexicon import shipped_lexicon
from rules.second_reading import SecondReader


def main(language: str) -> None:
    """Print the tables of a language."""
    told = {name: told_set(language, name) for name in set_names(language)}
    shipped = shipped_lexicon(language)
    together: dict[str, Counter[str]] = {}
    for name in sorted(told.keys() - set(BUILT_ON[language])):
        others = SecondReader(one for other in told if other != name for one in told[other])
        counts = counted(read(told[name], replace(shipped, second_reader=others)))
        printed(name, counts)
        for label, counter in counts.items():
            together.setdefault(label, Counter()).update(counter)
    printed("all of these", together)


if __name__ == "__main__":
    main(*(sys.argv[1:2] or ["en"]))
