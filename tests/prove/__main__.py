"""Shows the rules safe by exhaustion: `PYTHONPATH=tests python -m prove` from the checkout.

Goes through every history of the bounded models in `model.runs` with the real `advise`, and checks
all of `statements` after each advice. Exit status 1 and the shortest history in words if one is
broken. It shows what holds up to the bound and for these answers, and nothing beyond.
"""

from __future__ import annotations

import argparse
import os
import sys
from time import perf_counter

from prove.model import runs
from prove.search import exhaust
from prove.telling import told


def main() -> int:
    """Go through the runs asked for; the exit status."""
    options = _options()
    failed = False
    for run in runs():
        if options.run not in (None, run.name):
            continue
        began = perf_counter()
        found = exhaust(run, options.sessions, processes=options.processes)
        bound = options.sessions or run.sessions
        print(
            f"{run.name} ({run.about}): {bound} sessions, {found.histories:,} histories,"
            f" {found.asked:,} decisions, {perf_counter() - began:.0f} s",
            flush=True,
        )
        if options.reasons:
            for (action, reason), count in found.by_reason.most_common():
                print(f"    {action:<10} {reason:<26} {count:>20,}")
        for broken in found.broken:
            print("\n".join(told(run, broken)))
        failed |= bool(found.broken)
    print("A statement is broken." if failed else "Every statement holds in every history.")
    return int(failed)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m prove", description=__doc__)
    parser.add_argument("--sessions", type=int, help="sessions of each history, for every run")
    parser.add_argument("--run", choices=[run.name for run in runs()], help="only this run")
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--reasons", action="store_true", help="print decisions by reason")
    return parser.parse_args()


if __name__ == "__main__":
    sys.exit(main())
