"""Sends clinicians the week of the whole caseload: one picture, and who did what, in a few lines.

On the weekday and at the time the clinic chose, once; a bot that was off then sends it later on
the same day. Only the latest picture is kept: it shows everybody. Read next: `charts.many`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise

from bot.charts.course import day_text
from bot.charts.course_data import course_between
from bot.charts.many import Cell, many_svg
from bot.charts.message_images import has_letters, png_of
from bot.clinic import Clinic
from bot.clinicians.need import WEEK_DAYS, Need, NeedKind, Response, is_silent, response
from bot.clinicians.worklist import needs_of
from bot.patient_record.record import PatientRecord, record_of
from bot.patient_record.say import tell
from bot.store import outbox, people, pictures, plans
from bot.store.database import Store
from bot.store.people import CLINICAL, Person
from dialogs.lines import line
from dialogs.turn import Said
from rules.history import Move, MovedBy
from rules.prompt_times import instant, local_date

PICTURE_NAME = "digest"

# Days of each small chart [days]. Convention: four weeks.
CELL_DAYS = 28

# Names listed in one line [count, at most]; more are counted. Convention.
NAMES_MAX = 8


@dataclass(frozen=True)
class Digest:
    """The week: names by what happened, mornings answered, and a chart for each patient."""

    patients: int
    advanced: tuple[str, ...]
    stepped_back: tuple[str, ...]
    silent: tuple[str, ...]
    response: Response
    cells: tuple[Cell, ...]


def next_digest_at(clinic: Clinic, now: datetime) -> datetime | None:
    """When the next digest is due, after `now` [UTC]; None where the clinic wants none."""
    if clinic.digest_on is None:
        return None
    today = local_date(now, clinic.zone_info)
    ahead = (clinic.digest_on - today.weekday()) % 7
    coming = [today + timedelta(days=ahead + more) for more in (0, 7)]
    dues = [instant(on, clinic.digest_at, clinic.zone_info) for on in coming]
    return next(due for due in dues if due > now)


@dataclass(frozen=True)
class WrittenDigest:
    """What clinicians are sent: the text in each of their languages, and one picture [PNG], None
    where it cannot be drawn."""

    texts: Mapping[str, str]
    png: bytes | None


def digest_languages(store: Store, clinic: Clinic, now: datetime) -> frozenset[str]:
    """The languages in which this week's digest is due now; none once everybody has it."""
    return frozenset(person.language for person in _due(store, clinic, now))


def write_digest(
    store: Store, clinic: Clinic, languages: Collection[str], now: datetime
) -> WrittenDigest:
    """Make the digest: long with many patients, and it writes nothing, so that a connection which
    only reads will do."""
    today = local_date(now, clinic.zone_info)
    made = {language: digest_of(store, clinic, now, language) for language in sorted(languages)}
    texts = {language: "\n".join(digest_lines(one, language)) for language, one in made.items()}
    return WrittenDigest(texts, _picture(next(iter(made.values())), today))


def send_digest(store: Store, clinic: Clinic, digest: WrittenDigest, now: datetime) -> None:
    """Send the digest to every clinician who is due it. A second call adds nothing."""
    told = [one for one in _due(store, clinic, now) if one.language in digest.texts]
    picture = None
    if told and digest.png is not None:
        pictures.drop(store, PICTURE_NAME)
        picture = pictures.keep(store, PICTURE_NAME, digest.png, now)
    for person in told:
        said = Said("clinician/needs", {"lines": digest.texts[person.language]})
        key = _key(person, local_date(now, clinic.zone_info))
        tell(store, clinic, person, said, now, once_key=key, picture=picture)


def _due(store: Store, clinic: Clinic, now: datetime) -> list[Person]:
    today = local_date(now, clinic.zone_info)
    if clinic.digest_on != today.weekday():
        return []
    if now < instant(today, clinic.digest_at, clinic.zone_info):
        return []
    return [one for one in people.by_role(store, *CLINICAL) if _is_due(store, one, today)]


def digest_of(store: Store, clinic: Clinic, now: datetime, language: str = "en") -> Digest:
    """The week up to now of every patient under treatment, those in need first; why they are in
    need, in a clinician's language."""
    listed = needs_of(store, clinic, now, language)
    first_need = {entry.person: entry.needs[0] for entry in listed}
    order = {person: rank for rank, person in enumerate(first_need)}
    episodes = sorted(
        plans.under_treatment(store),
        key=lambda one: (order.get(one.patient, len(order)), one.patient),
    )
    cases = [record_of(store, clinic, one.patient, now) for one in episodes]
    rates = [response(one, WEEK_DAYS) for one in cases]
    return Digest(
        patients=len(cases),
        advanced=_names(one for one in cases if _advanced(_week(one))),
        stepped_back=_names(one for one in cases if any(m.step_back for _, m in _week(one))),
        silent=_names(one for one in cases if is_silent(one)),
        response=Response(sum(r.answered for r in rates), sum(r.asked for r in rates)),
        cells=tuple(_cell(one, first_need.get(one.patient.id)) for one in cases),
    )


def digest_lines(digest: Digest, language: str = "en") -> list[str]:
    """The week in at most five lines."""
    rate = digest.response
    share = f", {100 * rate.answered / rate.asked:.0f}%" if rate.asked else ""
    counts = {"answered": rate.answered, "asked": rate.asked, "patients": digest.patients}
    return [
        line("week", language, share=share, **counts),
        line("advanced", language, listed=_listed(digest.advanced, language)),
        line("backs", language, listed=_listed(digest.stepped_back, language)),
        line("silents", language, listed=_listed(digest.silent, language)),
        line("ask-why", language),
    ]


def _is_due(store: Store, person: Person, today: date) -> bool:
    reachable = person.opted_out_at is None and people.contacts(store, person.id)
    return bool(reachable) and not outbox.is_written(store, _key(person, today))


def _key(person: Person, today: date) -> str:
    return f"digest {today} {person.id}"


def _picture(digest: Digest, today: date) -> bytes | None:
    if not digest.cells or not has_letters():
        return None
    return png_of(many_svg(digest.cells, f"The week to {day_text(today)} {today.year}"))


def _week(case: PatientRecord) -> list[tuple[Move, Move]]:
    """The moves of the last seven days, each after the one before it."""
    since = case.today - timedelta(days=WEEK_DAYS)
    return [(before, move) for before, move in pairwise(case.history.moves) if move.on > since]


def _advanced(moves: Sequence[tuple[Move, Move]]) -> bool:
    return any(m.by is MovedBy.RULES and m.position > before.position for before, m in moves)


def _cell(case: PatientRecord, need: Need | None) -> Cell:
    first = case.today - timedelta(days=CELL_DAYS - 1)
    course = course_between(case, first, case.today)
    level = f"level {course.days[-1].level}"
    return Cell(case.patient.name, level if need is None else _short(need), course.days)


def _short(need: Need) -> str:
    """The reason without its numbers: the chart shows those."""
    if need.kind is NeedKind.ESCALATION:
        return f"open {need.escalation}: {need.tier}"
    return need.why if len(need.why) <= 25 else need.kind.value


def _names(cases: Iterator[PatientRecord]) -> tuple[str, ...]:
    return tuple(case.patient.name for case in cases)


def _listed(names: Sequence[str], language: str) -> str:
    more = len(names) - NAMES_MAX
    listed = ", ".join(names[:NAMES_MAX]) or line("nobody", language)
    return line("and-more", language, listed=listed, count=more) if more > 0 else listed
