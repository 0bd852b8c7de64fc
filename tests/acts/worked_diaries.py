"""The worked cases as paper diaries, each ending on the day in question.

Worked cases invented for this project, common practice, no source. A diary begins on the day the
level began, or two weeks before its end where that is earlier. Sessions before the last one went
well and were followed up. The protocol beside them: `diaries/worked-cases.toml`.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

PROTOCOL = Path(__file__).parent / "diaries" / "worked-cases.toml"
LAST = date(2026, 5, 20)
ORDER = ("date", "morning_pain", "morning_stiffness_min", "session", "level", "sets_done",
         "sets_prescribed", "pain_during", "pain_after", "pain_24h", "pain_48h", "activity_min",
         "heel_raises", "message")  # fmt: skip


@dataclass(frozen=True)
class Worked:
    """One case. `day`: days at the level. `usual`: pain and stiffness at enrolment.

    `mornings`, `stiffness`: the last seven days, oldest first. `week_before`: the means of the
    seven before. `pains` of the last session: during, after, at 24 and at 48 hours. `done`: of so
    many prescribed. `unwritten`: days before the last that have no row.
    """

    level: int
    day: int
    usual: tuple[int, int]
    mornings: str
    stiffness: str
    week_before: tuple[float, float]
    pains: tuple[int | None, int | None, int | None, int | None]
    done: tuple[int, int]
    message: str
    last_days_ago: int = 2
    heel_raises: int | None = None
    walks: tuple[tuple[int, int], ...] = ()
    unwritten: tuple[int, ...] = ()
    tendon: str = "mid-portion"


CASES = {
    "C01": Worked(
        1, 14, (3, 15), "3 3 2 3 2 2 2", "15 15 10 10 10 10 10", (3.1, 17), (3, 2, 2, 2), (13, 14),
        "Now does 12 single-leg heel raises each side", heel_raises=12,
    ),
    "C04": Worked(
        2, 22, (2, 10), "2 2 1 2 1 2 1", "10 10 5 5 5 5 5", (2.1, 11), (3, 2, 2, 1), (20, 22),
        "3x15 single-leg on the step all complete",
    ),
    "C07": Worked(
        3, 44, (1, 5), "1 1 0 1 0 1 0", "5 5 5 0 0 5 0", (1.1, 5), (2, 1, 1, 0), (18, 19),
        "Heavy raises 3x/wk; stiffness not every day",
    ),
    "C13": Worked(
        2, 3, (2, 10), "2 2 2 1 2 1 1", "10 10 10 5 10 5 5", (2.1, 11), (2, 1, 1, 1), (3, 3),
        "Feels great, wants the next level today",
    ),
    "C15": Worked(
        1, 14, (2, 10), "2 2 2 2 2 2 2", "10 10 10 10 10 10 10", (2.1, 10), (2, 1, 2, 2), (4, 14),
        "Only managed 4 of 14 sessions, busy at work", heel_raises=12,
    ),
    "C17": Worked(
        2, 23, (3, 15), "3 3 3 3 3 3 3", "15 15 15 15 15 15 15", (3.0, 15), (5, 4, 3, 3), (21, 23),
        "Sore every session but always back to usual by morning",
    ),
    "C22": Worked(
        1, 15, (2, 10), "2 2 2 2 2 2 2", "10 10 10 10 10 10 10", (2.2, 10), (3, 2, 2, 2), (14, 15),
        "Can manage only 6 single-leg heel raises", heel_raises=6,
    ),
    # The day between has no row, so the last row is the first after the session.
    "C25": Worked(
        2, 9, (2, 10), "2 2 2 2 2 3 2", "10 10 10 10 10 10 10", (2.1, 10), (7, 4, 3, 2), (8, 9),
        "Step raises hurt 7 but settled; no pop; walks and raises on one leg", unwritten=(1,),
    ),
    "C27": Worked(
        2, 11, (2, 10), "2 2 2 2 2 3 6", "10 10 10 10 10 15 20", (2.1, 10), (4, 4, 6, None),
        (10, 11), "Hobbling at 6 first thing today", last_days_ago=1,
    ),
    "C28": Worked(
        3, 15, (2, 10), "2 2 2 2 2 4 4", "10 10 10 10 10 15 15", (2.0, 10), (4, 4, 4, 4), (6, 7),
        "Still 4 two mornings after the session",
    ),
    "C29": Worked(
        2, 19, (3, 15), "4 4 4 5 4 4 4", "20 20 20 20 20 20 20", (2.0, 12), (4, 4, 4, 4), (17, 19),
        "Each session fine on the day, but this whole week is worse than last",
    ),
    "C37": Worked(
        3, 18, (1, 5), "1 1 1 1 1 1 1", "5 5 5 5 5 5 5", (1.1, 5), (2, 2, 1, None), (8, 8),
        "Heavy session was yesterday (24 h); wants to repeat it today", last_days_ago=1,
    ),
    "C38": Worked(
        2, 10, (2, 10), "2 2 2 2 2 2 4", "10 10 10 10 10 10 15", (2.0, 10), (3, 3, 4, None),
        (9, 10), "4 this morning after yesterday; session due tonight",
        last_days_ago=1,
    ),
    "C42": Worked(
        2, 12, (2, 10), "2 2 2 2 2 2 4", "10 10 10 10 10 10 20", (2.0, 10), (2, 2, 4, None),
        (11, 12), "Unplanned 18 km hill walk yesterday; longest in 30 d was 8 km", last_days_ago=1,
        walks=((12, 90), (9, 100), (5, 80), (1, 230)),
    ),
    "C43": Worked(
        4, 9, (1, 5), "1 1 1 1 1 1 1", "5 5 5 5 5 5 5", (1.0, 5), (8, 6, None, None), (4, 4),
        "Heard a pop playing tennis, now I cannot push off that foot", last_days_ago=1,
    ),
    "C50": Worked(
        2, 12, (2, 10), "2 2 2 2 2 2 3", "10 10 10 10 10 10 10", (2.0, 10), (2, 2, 3, 2), (11, 12),
        "Whole calf is swollen and tender on one side for two days, not breathless, no chest pain",
    ),
    "C51": Worked(
        3, 25, (1, 5), "1 1 1 2 3 3 4", "5 5 5 10 15 15 20", (1.0, 5), (3, 3, 4, None), (10, 11),
        "Started ciprofloxacin on Tuesday for a water infection, both tendons sore since",
        last_days_ago=1,
    ),
    "C56": Worked(
        1, 21, (4, 75), "4 4 4 4 4 4 4", "75 80 90 75 80 90 85", (4.0, 78), (2, 2, 4, 4), (19, 21),
        "Both heels, stiff over an hour every morning, one toe swollen like a sausage,"
        " I have psoriasis", tendon="insertional",
    ),
}  # fmt: skip


def options_of(case: Worked) -> list[str]:
    """What the command is told beside the diary."""
    since = LAST - timedelta(days=case.day)
    return [
        "--protocol", str(PROTOCOL), "--tendon", case.tendon, "--start-level", str(case.level),
        "--level-since", since.isoformat(), "--usual-pain", str(case.usual[0]),
        "--usual-stiffness", str(case.usual[1]), "--hops-allowed",
    ]  # fmt: skip


def diary_text(case: Worked, *, level_told: bool = False) -> str:
    """The diary as a person would have written it; with `level_told`, the level on every row."""
    days = range(max(case.day, 13), -1, -1)
    rows = [_row(case, ago) for ago in days if ago not in case.unwritten]
    written = io.StringIO()
    writer = csv.DictWriter(written, ORDER, restval="")
    writer.writeheader()
    for row in rows:
        writer.writerow(row | ({"level": case.level} if level_told else {}))
    return written.getvalue()


def _row(case: Worked, ago: int) -> dict[str, object]:
    """One day, so many days before the last."""
    row: dict[str, object] = {
        "date": (LAST - timedelta(days=ago)).isoformat(),
        "morning_pain": _morning(case.usual[0], case.week_before[0], case.mornings, ago),
        "morning_stiffness_min": _morning(case.usual[1], case.week_before[1], case.stiffness, ago),
        "session": "no",
    }
    if ago in _session_days(case):
        row |= {"session": "yes", "sets_done": 3, "sets_prescribed": 3, **_pains(case, ago)}
    for days, minutes in case.walks:
        if days == ago:
            row["activity_min"] = minutes
    if ago == 0:
        row["message"] = case.message
    if ago == 1 and case.heel_raises is not None:
        row["heel_raises"] = case.heel_raises
    return row


def _pains(case: Worked, ago: int) -> dict[str, object]:
    usual = case.usual[0]
    if ago != case.last_days_ago:
        during, after = (2, 1) if case.pains[0] != 5 else (5, 4)
        return {"pain_during": during, "pain_after": after, "pain_24h": usual, "pain_48h": usual}
    names = ("pain_during", "pain_after", "pain_24h", "pain_48h")
    return {n: "" if p is None else p for n, p in zip(names, case.pains, strict=True)}


def _morning(usual: int, mean: float, week: str, ago: int) -> int:
    """The answer of one morning: the week told, the week before it by its mean, else usual."""
    if ago < 7:
        return int(week.split()[6 - ago])
    if ago < 14:
        return (round(7 * mean) + 13 - ago) // 7  # whole numbers of that mean, the higher ones last
    return usual


def _session_days(case: Worked) -> list[int]:
    """Days ago of the sessions, the last one first, spread over the days at the level."""
    spacing = {1: 1, 2: 1, 3: 2, 4: 3}[case.level]
    done, prescribed = case.done
    if 100 * done < 80 * prescribed:
        spacing *= prescribed // done
    days = [case.last_days_ago + spacing * index for index in range(done)]
    return [ago for ago in days if ago <= case.day]
