"""The four-weekly sheet: what a patient says who has none, and the total said back.

Holds no wording of the items and no judgement of the total: a figure to compare it with is for the
clinician. Reads no points (`reading_items`). Read next: `patient`.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import takewhile

from dialogs.answering import Talk, accept
from dialogs.asking import ask
from dialogs.late import still_missed
from dialogs.questions import VISA_A
from dialogs.reading import Reading, read_answers
from dialogs.request_words import request_words
from dialogs.turn import Asked, Recorded, Said, Skipped, State, Turn, Unread, Value
from dialogs.waiting import without
from dialogs.words import Words, bare
from rules.outcomes import VISA_A_AT_12_WEEKS, allowed_points, visa_a_change


def no_sheet(talk: Talk) -> Turn | None:
    """The patient has no sheet, or says no to it: nothing is asked of it until the next time.

    Points that come within three days still count. None where the message says something else.
    """
    refused = talk.words.answers.get(bare(talk.text)) in ("no", "none")
    lacking = _lacks_it(talk)
    if not (refused or lacking):
        return None
    items = tuple(takewhile(_of_the_sheet, talk.state.waiting))
    waiting = without(talk.state.waiting, items)
    missed = still_missed((*talk.state.missed, *items), talk.situation)
    state = State(
        waiting=waiting,
        gathered=talk.state.gathered,
        guess=talk.state.guess,
        held=talk.state.held,
        missed=missed,
    )
    recorded: tuple[Recorded, ...] = (Skipped(items),)
    if lacking:
        recorded += (Unread(talk.text),)
    said = [Said("no-sheet") if lacking else Said("skipped")]
    if waiting:
        said.append(ask(state, talk.situation, talk.words))
    return Turn(state, recorded, tuple(said))


def whole_sheet(talk: Talk) -> Turn | None:
    """All the points again, with some of them answered before: the new ones stand.

    None where the message is anything else, or a number in it cannot be.
    """
    reading = read_sheet(talk.text, talk.state.waiting[0].about, talk.words)
    return None if reading is None else accept(talk, reading)


def read_sheet(text: str, about: date, words: Words) -> Reading | None:
    """The points of all items of a date's sheet; None where not each is there and can be."""
    every = tuple(Asked(question, about) for question in VISA_A)
    reading = read_answers(text, every, words)
    return None if reading.problem or len(reading.reads) != len(VISA_A) else reading


def say_total(total: int, earlier: tuple[date, int] | None) -> Said:
    """The total, and how far it lies from the one before. `total`: [points, 0-100].

    `earlier`: date and total of the one before; None where there is none.
    """
    on, before = (None, total) if earlier is None else earlier
    return Said("visa-total", {"total": total, "total_on": on, "rise": total - before})


def say_sheet_wrong(patient: str, points: Sequence[int]) -> Said | None:
    """To a clinician: the first item whose points cannot be, or that there are not eight of them;
    None where all is well."""
    values: dict[str, Value] = {"patient": patient, "count": len(points), "item": 0, "allowed": ""}
    if len(points) != len(VISA_A):
        return Said("clinician/sheet-wrong", values)
    for item, found in enumerate(points, start=1):
        allowed = sorted(allowed_points(item))
        if found not in allowed:
            listed = ", ".join(map(str, allowed))
            return Said("clinician/sheet-wrong", {**values, "item": item, "allowed": listed})
    return None


def say_sheet_kept(patient: str, totals: Sequence[tuple[date, int]]) -> Said:
    """To a clinician: the latest total, and the change since the first beside the published figure.

    `totals`: by date, oldest first, at least one.
    """
    against = VISA_A_AT_12_WEEKS
    values: dict[str, Value] = {
        "patient": patient,
        "total": totals[-1][1],
        "weeks": against.at_weeks,
        "points_min": against.points,
        "lowest": against.lowest,
        "highest": against.highest,
    }
    if len(totals) == 1:
        return Said("clinician/sheet", {**values, "total_on": None, "rise": "", "days": 0})
    change = visa_a_change(totals[0], totals[-1])
    since: dict[str, Value] = {"total_on": totals[0][0], "rise": f"{change.points:+d}"}
    return Said("clinician/sheet", {**values, **since, "days": change.days})


def _of_the_sheet(asked: Asked) -> bool:
    return asked.question.row.group == "visa-a"


def _lacks_it(talk: Talk) -> bool:
    line = bare(talk.text)
    if any(letter.isdecimal() for letter in line):
        return False
    said = set(line.replace(",", " ").replace("?", " ").split())
    lists = request_words(talk.situation.language).lists
    return bool(said & set(lists["sheet.names"])) and bool(said & set(lists["sheet.without"]))
