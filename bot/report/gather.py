"""Gathers what a report on one patient holds, as frozen values. Reads only, decides nothing.

A patient's free words are left out unless asked for: what is passed on is numbers, dates, reasons
and what clinicians said. Read next: `course` and `protocol` for its tables, `page` for the page.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from bot.charts.course import course_words
from bot.charts.course_data import course_between
from bot.charts.course_picture import PAPER_WIDTH, PHONE_WIDTH, Heading, course_svg
from bot.clinicians.patient_summary import patient_lines
from bot.patient_record.record import PatientRecord
from bot.report.course import change_table, decision_table, measure_lines, week_table
from bot.report.protocol import ladder_table, limit_table, source_table
from bot.report.table import Table, day_words
from bot.store import escalations, instants, notices
from bot.store.escalations import Escalation
from bot.store.notices import NoticeKind

# Days of one picture [days]. Convention: twelve weeks, so that a day stays wide enough on paper.
PICTURE_DAYS = 84


@dataclass(frozen=True)
class Picture:
    """A drawing as SVG, as wide as paper and as narrow as a phone, and the same in words."""

    wide: str
    narrow: str
    words: str


@dataclass(frozen=True)
class Report:
    """All that the page shows. `messages` None: the patient's words were not asked for."""

    patient: str
    clinic: str
    made_at: datetime
    facts: tuple[tuple[str, str], ...]
    lines: tuple[str, ...]
    pictures: tuple[Picture, ...]
    weeks: Table
    measures: tuple[str, ...]
    escalations: Table
    changes: Table
    decisions: Table
    ladder: Table
    limits: Table
    sources: Table
    protocol_title: str
    messages: Table | None


def report_of(case: PatientRecord, *, with_messages: bool = False) -> Report:
    """The report at the case's instant. `with_messages`: with what the patient wrote, word for
    word. Ask only after enrolment."""
    protocol = case.protocol
    return Report(
        patient=case.patient.name,
        clinic=case.clinic.name,
        made_at=case.now.astimezone(case.clinic.zone_info),
        facts=_facts(case),
        lines=tuple(patient_lines(case)),
        pictures=_pictures(case),
        weeks=week_table(case),
        measures=measure_lines(case),
        escalations=_escalations(case, with_messages=with_messages),
        changes=change_table(case),
        decisions=decision_table(case),
        ladder=ladder_table(protocol),
        limits=limit_table(protocol),
        sources=source_table(protocol),
        protocol_title=f"{protocol.title}, version {protocol.version}",
        messages=_messages(case) if with_messages else None,
    )


def _facts(case: PatientRecord) -> tuple[tuple[str, str], ...]:
    episode, history = case.episode, case.history
    own_limit = "" if history.pain_limit is None else f", own pain limit {int(history.pain_limit)}"
    pace = ", slower than usual" if history.slower else ""
    gate = "open" if history.hops_allowed else "not opened"
    return (
        ("Tendon", f"{episode.tendon.value}, {episode.side or 'side not told'}"),
        ("Under treatment since", day_words(history.enrolled_on)),
        ("At enrolment", f"first-step pain {episode.usual_pain} of 10, stiffness"
         f" {episode.usual_stiffness} min"),
        ("Protocol", f"{case.protocol.title}, version {case.protocol.version}{own_limit}{pace}"),
        ("Gate to hops", gate),
    )  # fmt: skip


def _pictures(case: PatientRecord) -> tuple[Picture, ...]:
    """The whole course, in pieces of twelve weeks, oldest first."""
    made = []
    first = case.history.enrolled_on
    while first <= case.today:
        last = min(first + timedelta(days=PICTURE_DAYS - 1), case.today)
        # A short piece keeps the scale of a whole one by reaching back, not by growing wide.
        course = course_between(case, min(first, last - timedelta(days=27)), last)
        title = f"{case.patient.name}, {day_words(course.days[0].on)} to {day_words(last)}"
        wide, narrow = (
            course_svg(course, Heading(title), width=width) for width in (PAPER_WIDTH, PHONE_WIDTH)
        )
        made.append(Picture(wide, narrow, course_words(course)))
        first = last + timedelta(days=1)
    return tuple(made)


def _escalations(case: PatientRecord, *, with_messages: bool) -> Table:
    heads = ["No.", "Raised", "What", "How soon", "Taken", "End"]
    found = escalations.of_patient(case.store, case.patient.id)
    rows = [_escalation(case, one) for one in found]
    if with_messages:
        heads.append("Words")
        rows = [(*row, one.words) for row, one in zip(rows, found, strict=True)]
    return Table(tuple(heads), tuple(rows), "Nothing was ever raised.")


def _escalation(case: PatientRecord, one: Escalation) -> tuple[str, ...]:
    sign = case.clinic.lexicon.signs.get(one.sign)
    return (
        str(one.id),
        _at(case, one.raised_at),
        one.sign.replace("-", " ") if sign is None else sign.sign.title,
        f"{one.tier.value}{'; loading stopped' if one.stops_loading else ''}",
        _noticed(case, one, NoticeKind.ACKNOWLEDGED) or "nobody has it",
        _noticed(case, one, NoticeKind.CLOSED) or "open",
    )


def _noticed(case: PatientRecord, one: Escalation, kind: NoticeKind) -> str:
    """Who did this last, when, and with which words of the clinician's; empty: nobody yet."""
    done = one.acknowledged_at if kind is NoticeKind.ACKNOWLEDGED else one.closed_at
    rows = notices.history(case.store, one.id, kind)
    if done is None or not rows:
        return ""
    row = rows[-1]
    words = f": {row['note']}" if row["note"] else ""
    return f"{row['name'] or 'somebody'}, {_at(case, notices.happened_at(row))}{words}"


def _messages(case: PatientRecord) -> Table:
    sql = "SELECT received_at, text FROM inbox WHERE person = :person ORDER BY id"
    rows = case.store.rows(sql, {"person": case.patient.id})
    told = tuple((_at(case, instants.read(row["received_at"])), row["text"]) for row in rows)
    return Table(("When", "What the patient wrote"), told, "The patient wrote nothing.")


def _at(case: PatientRecord, at: datetime) -> str:
    local = at.astimezone(ZoneInfo(case.patient.zone))
    return f"{day_words(local.date())} {local:%H:%M}"
