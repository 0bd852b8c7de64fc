"""Prints the table that the second reading of a language reads by, from its labelled messages.

    PYTHONPATH=.:tests python tests/likeness_table.py en > rules/warning_signs/en_likeness.tsv

First how many features there are, in all and in messages that show a sign; then the classes, each
with its number of messages and of features held; then each feature and how many messages of each
class hold it: "class:messages", or the class alone for one. A feature is a word or two neighbours.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterable

from decides.labelled import Labelled, shipped_labelled

from rules.second_reading import HARMLESS, UNCLEAR, features, stems

HEAD = "# Made by tests/likeness_table.py from the labelled messages; not edited by hand."


def likeness_table(labelled: Iterable[Labelled]) -> str:
    """The table that these messages come to. At least one harmless, one that shows a sign."""
    messages: Counter[tuple[str, str]] = Counter()
    held: dict[str, Counter[tuple[str, str]]] = {}
    for one in labelled:
        messages[one.label, one.sign] += 1
        for feature in features(stems(one.message)):
            held.setdefault(feature, Counter())[one.label, one.sign] += 1
    classes = sorted(messages)
    whole = Counter[tuple[str, str]]()
    for counts in held.values():
        whole.update(counts)
    showing = {one for one in classes if one[0] not in (HARMLESS, UNCLEAR)}
    of_signs = sum(not showing.isdisjoint(counts) for counts in held.values())
    lines = [HEAD, f"{len(held)} {of_signs}"]
    lines += [f"{label}\t{sign}\t{messages[label, sign]}\t{whole[label, sign]}"
              for label, sign in classes]  # fmt: skip
    number = {one: str(place) for place, one in enumerate(classes)}
    rows = []
    for feature, counts in held.items():
        pairs = ((number[one], counts[one]) for one in sorted(counts))
        said = " ".join(one if count == 1 else f"{one}:{count}" for one, count in pairs)
        rows.append(f"{feature}\t{said}")
    return "\n".join([*lines, "", *sorted(rows)]) + "\n"


if __name__ == "__main__":
    sys.stdout.write(likeness_table(shipped_labelled(sys.argv[1])))
