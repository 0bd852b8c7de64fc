"""`PYTHONPATH=.:tests python -m bench`: what the bot costs, beside a floor and a plain bot.

Everything is measured in one run: ratios count, not milliseconds. The table and a picture of growth
are written into `deploy/guide`. `--largest 10000` leaves out the store with 100,000 patients, which
takes most of the time and six gigabytes.
"""

from __future__ import annotations

import argparse
import asyncio
import math
import os
import platform
import shutil
import sqlite3
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from statistics import median
from time import process_time

from bench import messages
from bench.growth import growth_svg
from bench.populate import CLINIC, copied, played
from bench.processes import command_cpu, configured, serving

from bot.charts.message_images import png_of
from bot.clinicians.patient_summary import patient_svg
from bot.clinicians.weekly_digest import write_digest
from bot.export.fhir import bundle_of
from bot.patient_record.record import PatientRecord
from bot.report.gather import report_of
from bot.report.page import page_of
from bot.store import people
from bot.store.database import Store
from bot.store.people import Role

GUIDE = Path(__file__).parents[2] / "deploy" / "guide"
SIZES = (1_000, 10_000, 100_000)

Row = tuple[str, str, str]


class Bench:
    """One run in one folder. `rows`: what was measured, the figure, what was to be reached."""

    def __init__(self, folder: Path, largest: int, days: int) -> None:
        self.folder, self.sizes, self.days = folder, [n for n in SIZES if n <= largest], days
        self.rows: list[Row] = []
        self.growth: dict[str, list[tuple[int, float]]] = {}

    def say(self, what: str, figure: str, aim: str = "") -> None:
        """Keep a row, and show it at once."""
        self.rows.append((what, figure, aim))
        print(f"{what}: {figure}" + (f" (aim: {aim})" if aim else ""), flush=True)

    def grows(self, name: str, size: int, figure: float) -> None:
        """Keep a point of the picture [patients, milliseconds]."""
        self.growth.setdefault(name, []).append((size, figure))

    def store(self, template: Path, patients: int) -> Path:
        """A store of this size that nothing has been done to."""
        return copied(template, self.folder / "bench.sqlite", patients)

    def run(self) -> None:
        """All of it, the small before the large."""
        first = self.folder / "first.sqlite"
        morning, _ = asyncio.run(played(first, 1))
        self.after_a_year(first, morning)
        for size in self.sizes:
            self.at_size(first, morning, size)
        for name, points in self.growth.items():
            if len(points) > 1:
                self.say(f"{name}: growth with patients", f"exponent {exponent(points):.2f}", "0.1")
        self.commands(first)

    def after_a_year(self, first: Path, morning: datetime) -> None:
        """One answer in the first week and after a year, beside the floor."""
        year = self.folder / "year.sqlite"
        later, sizes = asyncio.run(played(year, self.days))
        (early, small), (late, large) = sizes[0], sizes[-1]
        a_year = (large - small) / (late - early) * 365 / 1e6
        self.say("history of one patient", f"{a_year:.1f} MB a year", "1.5")
        halves = [(b - a) / (y - x) for (x, a), (y, b) in pairwise(sizes[1:])]
        if len(halves) > 1:
            self.say(
                "its growth, last quarter beside the second", f"{halves[-1] / halves[0]:.2f}", "1"
            )
        new = messages.one_message(self.store(first, 500), morning, messages.NUMBERS, 100)
        old = messages.one_message(self.store(year, 100), later, messages.NUMBERS, 60)
        words = messages.one_message(self.store(first, 500), morning, messages.WORDS, 60)
        floor = messages.floor(self.store(first, 500), new.rows, 100)
        self.say("one answer of two numbers, CPU", f"{new.cpu:.1f} ms", "1.5")
        self.say("the same rows written and nothing else, CPU", f"{floor.cpu:.1f} ms")
        self.say(
            "the answer beside that floor, until it is durable",
            f"{new.wall / floor.wall:.1f} times",
            "2",
        )
        self.say(
            "the answer after a year beside the first week", f"{old.cpu / new.cpu:.2f} times", "1.1"
        )
        self.say("free text of twenty words, CPU", f"{words.cpu:.1f} ms", "4")
        self.pictures(self.store(year, 60), later)

    def pictures(self, path: Path, now: datetime) -> None:
        """What is drawn and handed over of a patient with a year."""
        store = Store(path)
        (patient, *_rest) = people.by_role(store, Role.PATIENT)
        case = lambda: PatientRecord(store, CLINIC, patient, now)  # noqa: E731
        drawn = cpu_of(lambda: png_of(str(patient_svg(case()))))
        report = cpu_of(lambda: page_of(report_of(case())))
        fhir = cpu_of(lambda: bundle_of(case()))
        digest = cpu_of(lambda: write_digest(store, CLINIC, {"en"}, now), runs=3)
        store.close()
        self.say("picture of a course, CPU", f"{drawn:.0f} ms", "50")
        self.say("digest of 60 patients with a year each, CPU", f"{digest:.0f} ms", "300")
        self.say("report of a patient with a year, CPU", f"{report:.0f} ms", "300")
        self.say("FHIR bundle of the same, CPU", f"{fhir:.0f} ms")

    def at_size(self, first: Path, morning: datetime, size: int) -> None:
        """A message, a burst, a tick and the plain bot with so many patients."""
        path = self.store(first, size)
        answer = messages.one_message(path, morning, messages.NUMBERS, 100)
        self.grows("one answer", size, answer.cpu)
        kept, handled = asyncio.run(messages.burst(path, morning, min(size - 200, 1_000)))
        self.say(
            f"burst, {size:,} patients",
            f"{kept:,.0f} kept, {handled:.0f} handled a second",
            "8,000; 600",
        )
        if size >= 10_000:
            left, all_done = asyncio.run(messages.alarm_in_the_peak(path, morning, 600))
            self.say(
                f"alarm among 600 answers, {size:,} patients",
                f"its notice leaves after {left:.1f} s, the last answer after {all_done:.0f}",
                "1 s",
            )
        due, idle = messages.tick_cost(path, morning, size)
        self.grows("tick, a prompt due", size, due)
        self.grows("tick, nothing due", size, idle)
        self.say(
            f"tick, {size:,} patients",
            f"{due:.1f} ms a prompt that is due; {idle:.2f} ms with none",
        )
        beside = messages.plain(self.folder, size, 3, 5)
        self.grows("plain bot, one answer", size, beside.wall)
        self.say(
            f"plain bot, {size:,} users", f"{1000 / beside.wall:.1f} answers a second, durable"
        )
        with serving(path) as (served,):
            resident, own = served.memory()
            aim = "2 s; 200 MB" if size == 100_000 else ""
            self.say(
                f"start of serve, {size:,} patients",
                f"ready after {served.seconds:.1f} s, {resident:.0f} MB, {own:.0f} its own",
                aim,
            )

    def commands(self, first: Path) -> None:
        """Short commands, and twenty clinics side by side."""
        many = configured(self.store(first, 2_000))
        self.say("nextmorning --help, CPU", f"{command_cpu('--help'):.2f} s", "0.4")
        self.say(
            "nextmorning protocol list, CPU", f"{command_cpu('protocol', 'list'):.2f} s", "0.6"
        )
        caseload = command_cpu("caseload", "--config", str(many))
        self.say("nextmorning caseload, 2,000 patients, CPU", f"{caseload:.2f} s", "1")
        one = self.store(first, 200)
        paths = [self.folder / f"clinic{n}.sqlite" for n in range(20)]
        for path in paths:
            shutil.copy(one, path)
        with serving(*paths) as served:
            time.sleep(20)  # what a start leaves to do is done by then
            before = [one.cpu() for one in served]
            time.sleep(30)
            idle = [(one.cpu() - was) / 30 * 100 for one, was in zip(served, before, strict=True)]
            resident, own = zip(*(one.memory() for one in served), strict=True)
        self.say(
            "twenty clinics of 200 side by side, each",
            f"{median(resident):.0f} MB resident, {median(own):.0f} its own; "
            f"idle {median(idle):.2f} % of a core",
            "80 MB; 0.1 %",
        )


def cpu_of(work: Callable[[], object], runs: int = 7) -> float:
    """CPU of one run of some work, the first not counted [milliseconds, median]."""
    took = []
    for _ in range(runs + 1):
        began = process_time()
        work()
        took.append((process_time() - began) * 1000)
    return median(took[1:])


def exponent(points: list[tuple[int, float]]) -> float:
    """How a figure grows with patients: 0 not at all, 1 in proportion. By the ends."""
    (small, low), (large, high) = points[0], points[-1]
    return math.log(high / low) / math.log(large / small)


def table(rows: list[Row]) -> str:
    """What was measured, as a table between the words that explain it."""
    cpus, today = os.cpu_count(), datetime.now(UTC).date()
    lines = [
        f"{today}, Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}, "
        f"{cpus} shared cores, {platform.machine()}.",
        "", "| what | measured | to reach |", "|---|---|---|",
        *(f"| {what} | {figure} | {aim} |" for what, figure, aim in rows),
    ]  # fmt: skip
    return "\n".join(lines)


def main() -> None:
    """Measure, and write what was found."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--largest", type=int, default=SIZES[-1])
    options.add_argument("--days", type=int, default=365)
    options.add_argument("--dry", action="store_true", help="write nothing into deploy/")
    chosen = options.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(Path(folder), chosen.largest, chosen.days)
        bench.run()
    if not chosen.dry:
        page = GUIDE / "speed.md"
        before, _, after = page.read_text().partition("<!-- measured -->")
        _, _, after = after.partition("<!-- until here -->")
        kept = f"<!-- measured -->\n{table(bench.rows)}\n<!-- until here -->"
        page.write_text(f"{before}{kept}{after}")
        picture = GUIDE.parent / "pictures" / "growth.svg"
        picture.write_text(growth_svg(bench.growth))


if __name__ == "__main__":
    main()
