"""The tables of a report about the course: weeks, changes of the plan, every decision, measures.

Numbers are those that were answered or compared; a mean says of how many answers it is.
Read next: `gather`.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from statistics import fmean
from zoneinfo import ZoneInfo

from bot.patient_record.record import PatientRecord
from bot.report.table import Table, day_words
from bot.store import decisions
from bot.store.decisions import Decision
from dialogs.questions import Question
from rules.activity_load import week_load
from rules.history import History, Move, MovedBy
from rules.outcomes import heel_raise_symmetry, visa_a_change
from rules.protocol import Position
from rules.quantities import Count
from rules.reasons import Finding
from rules.usual import WEEK_DAYS

# What has a weekly mean in the report.
MEANS = tuple(asked for asked in Question if asked.row.report)

MOVED_BY = {
    MovedBy.ENROLMENT: "enrolment",
    MovedBy.RULES: "the rules",
    MovedBy.CLINICIAN: "a clinician",
}


def week_table(case: PatientRecord, since: date = date.min) -> Table:
    """A row for each week of treatment that ends on `since` or later, the present one as far as it
    has come."""
    heads = (
        "Week from", *(asked.row.report for asked in MEANS),
        "Sessions", "Worst pain in sessions", "Heel raises", "Activity load",
    )  # fmt: skip
    return Table(heads, tuple(_weeks(case, since)), "The first week has not begun.")


def _weeks(case: PatientRecord, since: date) -> Iterator[tuple[str, ...]]:
    history = case.history
    weeks_before = max(0, (since - history.enrolled_on).days // WEEK_DAYS)
    first = history.enrolled_on + timedelta(days=weeks_before * WEEK_DAYS)
    while first <= case.today:
        last = first + timedelta(days=WEEK_DAYS - 1)
        sessions = [one for one in history.sessions if first <= one.on <= last]
        worst = [int(one.pain_during) for one in sessions if one.pain_during is not None]
        raises = [str(int(one.count)) for one in history.heel_raises if first <= one.on <= last]
        load = week_load(history.activities, last)
        unrated = f", {load.unrated} not rated" if load.unrated else ""
        yield (
            day_words(first),
            *(_mean(case, asked, first, last) for asked in MEANS),
            str(len(sessions)),
            str(max(worst)) if worst else "-",
            ", ".join(raises) or "-",
            f"{load.total}{unrated}",
        )
        first = last + timedelta(days=1)


def _mean(case: PatientRecord, asked: Question, first: date, last: date) -> str:
    """The mean of a question's answers from a date to another, and how many they are."""
    values = [
        int(one.value) for one in case.kept if one.question == asked and first <= one.about <= last
    ]
    return f"{fmean(values):.1f} ({len(values)})" if values else "-"


def change_table(case: PatientRecord, since: date = date.min) -> Table:
    """Every move on the ladder and every pause from a date on, oldest first."""
    found = [(move.on, _moved(case, move), MOVED_BY[move.by]) for move in case.history.moves]
    found += [
        (pause.on, f"paused {_until(pause.until)}", "a clinician") for pause in case.history.pauses
    ]
    kept = sorted((one for one in found if one[0] >= since), key=_by_date)
    rows = tuple((day_words(on), what, who) for on, what, who in kept)
    return Table(("From", "Plan", "By"), rows, "Nothing was set yet.")


def _by_date(change: tuple[date, str, str]) -> date:
    return change[0]


def _moved(case: PatientRecord, move: Move) -> str:
    back = ", a step back" if move.step_back else ", a little less" if move.do_less else ""
    return f"{_place(move.position)}: {case.protocol.level(move.position).name}{back}"


def _until(until: date | None) -> str:
    return "until it is ended" if until is None else f"up to {day_words(until)}"


def decision_table(case: PatientRecord, since: date = date.min) -> Table:
    """Every decision from a date on with its reason and the numbers compared, oldest first."""
    heads = ("When", "Advice", "Why", "Numbers compared", "Place", "Protocol")
    zone = ZoneInfo(case.patient.zone)
    every = decisions.every(case.store, case.episode.id)
    kept = [one for one in every if one.advice.on >= since]
    return Table(heads, tuple(_decision(one, zone) for one in kept), "Nothing was decided yet.")


def _decision(kept: Decision, zone: ZoneInfo) -> tuple[str, ...]:
    advice = kept.advice
    at = kept.decided_at.astimezone(zone)
    before, after = advice.stood, advice.position
    moved = _place(after) if before == after else f"from {_place(before)} to {_place(after)}"
    also = ", ".join(_plain(finding.reason) for finding in advice.also)
    return (
        f"{day_words(at.date())} {at:%H:%M}",
        advice.action.value,
        f"{_plain(advice.reason)}{f' (also: {also})' if also else ''}",
        _numbers(advice.because),
        moved,
        f"{kept.protocol} {kept.protocol_version}",
    )


def _numbers(finding: Finding) -> str:
    return "; ".join(
        f"{_plain(name)} {'not known' if value is None else value}"
        for name, value in finding.evidence.items()
    )


def measure_lines(case: PatientRecord) -> tuple[str, ...]:
    """VISA-A totals and their change, beside the published figure with its interval."""
    scores = case.history.visa_a
    lines = [f"VISA-A on {day_words(on)}: {total} of 100." for on, total in scores]
    if len(scores) > 1:
        change = visa_a_change(scores[0], scores[-1])
        against = change.against
        lines.append(
            f"Change over {change.days} days: {change.points:+d} points. Published smallest change"
            f" that matters at {against.at_weeks} weeks: {against.points} points (95% interval"
            f" {against.lowest} to {against.highest}; lagas-2021)."
        )
    raises = case.history.heel_raises
    if raises:
        first, last = raises[0], raises[-1]
        lines.append(
            f"Single-leg heel raises, worse side: {int(first.count)} on {day_words(first.on)},"
            f" {int(last.count)} on {day_words(last.on)}."
        )
    lines += _symmetry_lines(case.history)
    return tuple(lines) or ("No outcome measure has been recorded.",)


def _symmetry_lines(history: History) -> Iterator[str]:
    """The first and the latest week in which both sides were counted."""
    both = [one for one in history.heel_raises if one.other is not None]
    for one in dict.fromkeys((*both[:1], *both[-1:])):
        told = f"{int(one.count)} of {int(one.other or 0)} on the other side"
        percent = heel_raise_symmetry(one.count, one.other or Count(0))
        share = "no share of none" if percent is None else f"{percent:.0f}%"
        yield f"Heel raises on {day_words(one.on)}: {told}, {share}."


def _place(position: Position) -> str:
    return f"level {position.level}, dose {position.dose}"


def _plain(code: str) -> str:
    return code.replace("-", " ").replace("_", " ")
