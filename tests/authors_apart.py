"""Measures the screen on each author's messages with a second reading that never saw them.

For each set of labelled messages the second reading learns from all the others; the wordings stay
as they are. Printed are the sets that the wordings were not built on, one by one and together: far
more messages than the set kept apart, and unread by either reading. It asserts nothing.
    PYTHONPATH=.:tests python tests/authors_apart.py en
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import replace
from itertools import chain

from decides.labelled import BUILT_ON, counted, printed, read, shipped_sets
from likeness_table import likeness_table

from rules.lexicon import shipped_lexicon
from rules.second_reading import SecondReader


def main(language: str) -> None:
    """Print the tables of a language."""
    sets = shipped_sets(language)
    shipped = shipped_lexicon(language)
    together: dict[str, Counter[str]] = {}
    for number in range(BUILT_ON[language], len(sets)):
        others = chain(*sets[:number], *sets[number + 1 :])
        reader = SecondReader(likeness_table(others))
        counts = counted(read(sets[number], replace(shipped, second_reader=reader, others=())))
        printed(f"{language} {number + 1:02}", counts)
        for label, counter in counts.items():
            together.setdefault(label, Counter()).update(counter)
    printed("all of these", together)


if __name__ == "__main__":
    main(*(sys.argv[1:2] or ["en"]))
