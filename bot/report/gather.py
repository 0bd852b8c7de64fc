"""Gathers what a report on one patient holds, as frozen values: one page, and the long part where
it is asked for. Reads only, decides nothing.

A patient's free words are left out unless asked for: what is passed on is numbers, dates, reasons
and what clinicians said. Read next: `course` and `protocol` for its tables, `page` for the page.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from bot.charts.course import course_words
from bot.charts.course_data import COURSE_DAYS, course_between
from bot.charts.course_picture import PAPER_WIDTH, PHONE_WIDTH, Heading, course_svg
from bot.clinicians.patient_summary import heading, patient_lines
from bot.escalations.history import history_lines
from bot.patient_record.record import PatientRecord
from bot.report.course import change_table, decision_table, measure_lines, week_table
from bot.report.protocol import ladder_table, limit_table, source_table
from bot.report.table import Table, day_words
from bot.store import escalations, instants, notices
from bot.store.escalations import Escalation
from bot.store.notices import NoticeKind
from dialogs.lines import chart_day, chart_line
from dialogs.verdict import HEAD_LINES

# Days of one picture [days]. Convention: twelve weeks, so that a day stays wide enough on paper.
PICTURE_DAYS = 84

# Escalations on the one page [count, at most]: the latest. Convention.
LATEST_MAX = 4


@dataclass(frozen=True)
class Picture:
    """A drawing as SVG, as wide as paper and as narrow as a phone, and the same in words."""

    wide: str
    narrow: str
    words: str


@dataclass(frozen=True)
class LongPart:
    """What follows the one page. `messages` None: the patient's words were not asked for."""

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


@dataclass(frozen=True)
class Report:
    """All that the page shows, in the reader's language. `verdict`: the lines that hold it;
    `figures`: its others; `raised`: the latest escalations; `long` None: it was not asked for."""

    language: str
    patient: str
    clinic: str
    made_at: datetime
    verdict: tuple[str, ...]
    figures: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    lines: tuple[str, ...]
    raised: tuple[str, ...]
    picture: Picture
    long: LongPart | None


def report_of(
    case: PatientRecord,
    language: str = "en",
    *,
    long: bool = False,
    since: date | None = None,
    with_messages: bool = False,
) -> Report:
    """The report at the case's instant. `long`: with the tables behind it, in English; `since`: of
    the days from there on; `with_messages`: long, with what the patient wrote, word for word. Ask
    only after enrolment."""
    first = max(since or date.min, case.history.enrolled_on)
    told = heading(case, language)
    # Of what the summary says the verdict has its own place.
    name_line, _verdict, *lines = patient_lines(case, language)
    recent = case.today - timedelta(days=(PICTURE_DAYS if since else COURSE_DAYS) - 1)
    raised = escalations.of_patient(case.store, case.patient.id)
    return Report(
        language=language,
        patient=told.title,
        clinic=case.clinic.name,
        made_at=case.now.astimezone(case.clinic.zone_info),
        verdict=told.verdict[:HEAD_LINES],
        figures=told.verdict[HEAD_LINES:],
        facts=_facts(case, language),
        lines=(name_line, *lines),
        raised=tuple(_raised(case, one, language) for one in reversed(raised[-LATEST_MAX:])),
        picture=_picture(case, max(first, recent), case.today, language),
        long=_long(case, first, with_messages=with_messages) if long or with_messages else None,
    )


def _long(case: PatientRecord, first: date, *, with_messages: bool) -> LongPart:
    protocol = case.protocol
    return LongPart(
        pictures=_pictures(case, first),
        weeks=week_table(case, first),
        measures=measure_lines(case),
        escalations=_escalations(case, first, with_messages=with_messages),
        changes=change_table(case, first),
        decisions=decision_table(case, first),
        ladder=ladder_table(protocol),
        limits=limit_table(protocol),
        sources=source_table(protocol),
        protocol_title=f"{protocol.title}, version {protocol.version}",
        messages=_messages(case, first) if with_messages else None,
    )


def _facts(case: PatientRecord, language: str) -> tuple[tuple[str, str], ...]:
    history = case.history
    enrolled = chart_day(history.enrolled_on, language, with_year=True)
    own = "" if history.pain_limit is None else chart_line(
        "own-limit", language, limit=int(history.pain_limit)
    )  # fmt: skip
    hops = chart_line("hops-open" if history.hops_allowed else "hops-shut", language)
    tendon = chart_line(f"tendon-{case.episode.tendon.value}", language)
    protocol = f"{case.protocol.title}, {case.protocol.version}{own}"
    told = (("tendon", tendon), ("since", enrolled), ("protocol", protocol), ("hops", hops))
    return tuple((chart_line(f"fact-{name}", language), value) for name, value in told)


def _raised(case: PatientRecord, one: Escalation, language: str) -> str:
    return history_lines(case.store, case.clinic, one.id, language)[0]


def _pictures(case: PatientRecord, first: date) -> tuple[Picture, ...]:
    """The whole course, in pieces of twelve weeks, oldest first."""
    made = []
    while first <= case.today:
        last = min(first + timedelta(days=PICTURE_DAYS - 1), case.today)
        made.append(_picture(case, first, last, "en"))
        first = last + timedelta(days=1)
    return tuple(made)


def _picture(case: PatientRecord, first: date, last: date, language: str) -> Picture:
    # A short piece keeps the scale of a whole one by reaching back, not by growing wide.
    course = course_between(case, min(first, last - timedelta(days=27)), last)
    ends = (chart_day(one, language, with_year=True) for one in (course.days[0].on, last))
    title = chart_line("span", language, **dict(zip(("first", "last"), ends, strict=True)))
    wide, narrow = (
        course_svg(course, Heading(title), language, width) for width in (PAPER_WIDTH, PHONE_WIDTH)
    )
    return Picture(wide, narrow, course_words(course, language))


def _escalations(case: PatientRecord, first: date, *, with_messages: bool) -> Table:
    heads = ["No.", "Raised", "What", "How soon", "Taken", "End"]
    every = escalations.of_patient(case.store, case.patient.id)
    found = [one for one in every if _local(case, one.raised_at).date() >= first]
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


def _messages(case: PatientRecord, first: date) -> Table:
    sql = "SELECT received_at, text FROM inbox WHERE person = :person ORDER BY id"
    rows = case.store.rows(sql, {"person": case.patient.id})
    received = ((instants.read(row["received_at"]), row["text"]) for row in rows)
    kept = ((at, words) for at, words in received if _local(case, at).date() >= first)
    told = tuple((_at(case, at), words) for at, words in kept)
    return Table(("When", "What the patient wrote"), told, "The patient wrote nothing.")


def _at(case: PatientRecord, at: datetime) -> str:
    local = _local(case, at)
    return f"{day_words(local.date())} {local:%H:%M}"


def _local(case: PatientRecord, at: datetime) -> datetime:
    return at.astimezone(ZoneInfo(case.patient.zone))
