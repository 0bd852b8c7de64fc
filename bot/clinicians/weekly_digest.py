"""Sends clinicians the week of the whole caseload: who did what, in a few lines, and pictures of
everybody, a page a message, those most in need first.

On the weekday and at the time the clinic chose, once; a bot that was off then sends it later on
the same day. Only the latest pictures are kept: they show everybody. Read next: `charts.many`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise

from bot.charts.course_data import course_between
from bot.charts.many import Cell, many_svgs
from bot.charts.message_images import has_letters, png_of
from bot.clinic import Clinic
from bot.clinicians.need import WEEK_DAYS, Need, NeedKind, Response, is_silent, response
from bot.clinicians.patient_summary import verdict_of
from bot.clinicians.worklist import needs_of
from bot.patient_record.record import PatientRecord, record_of
from bot.patient_record.say import tell
from bot.store import outbox, people, pictures, plans
from bot.store.database import Store
from bot.store.people import CLINICAL, Person
from dialogs.lines import chart_day, chart_line, line, word_for
from dialogs.turn import Said
from dialogs.verdict import verdict_words
from rules.history import Move, MovedBy
from rules.prompt_times import instant, local_date

PICTURE_NAME = "digest"

# Days of each small chart [days]. Convention: four weeks.
CELL_DAYS = 28

# Names listed in one line [count, at most]; more are counted. Those most in need stand first in the
# picture with the reason, so fewer of them are named. Convention.
NAMES_MAX, FIRST_MAX = 8, 5


@dataclass(frozen=True)
class Digest:
    """The week: names by what happened, mornings answered, and a chart for each patient. `first`:
    those most in need, each with the reason; `in_need`: how many there are [count]."""

    patients: int
    first: tuple[str, ...]
    in_need: int
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
    """What clinicians are sent, by their languages: the text, and the pages of pictures [PNG], none
    where they cannot be drawn."""

    texts: Mapping[str, str]
    pngs: Mapping[str, tuple[bytes, ...]]


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
    return WrittenDigest(
        {language: "\n".join(digest_lines(one, language)) for language, one in made.items()},
        {language: _pngs(one, today, language) for language, one in made.items()},
    )


def send_digest(store: Store, clinic: Clinic, digest: WrittenDigest, now: datetime) -> None:
    """Send the digest to every clinician who is due it. A second call adds nothing."""
    told = [one for one in _due(store, clinic, now) if one.language in digest.texts]
    if told:
        pictures.drop(store, PICTURE_NAME)
    kept = {
        language: [
            pictures.keep(store, f"{PICTURE_NAME} {language} {number}", png, now)
            for number, png in enumerate(pngs, 1)
        ]
        for language, pngs in digest.pngs.items()
        if told
    }
    today = local_date(now, clinic.zone_info)
    for person in told:
        pages = kept[person.language]
        said = Said("clinician/needs", {"lines": digest.texts[person.language]})
        first = pages[0] if pages else None
        tell(store, clinic, person, said, now, once_key=_key(person, today), picture=first)
        for number, picture in enumerate(pages[1:], 2):
            title = _title(today, person.language)
            words = chart_line(
                "page", person.language, title=title, number=number, count=len(pages)
            )
            said = Said("clinician/needs", {"lines": words})
            once = f"{_key(person, today)} {number}"
            tell(store, clinic, person, said, now, once_key=once, picture=picture)


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
        first=tuple(
            f"{one.patient} ({_short(one.needs[0], language)})" for one in listed[:FIRST_MAX]
        ),
        in_need=len(listed),
        advanced=_names(one for one in cases if _advanced(_week(one))),
        stepped_back=_names(one for one in cases if any(m.step_back for _, m in _week(one))),
        silent=_names(one for one in cases if is_silent(one)),
        response=Response(sum(r.answered for r in rates), sum(r.asked for r in rates)),
        cells=tuple(_cell(one, first_need.get(one.patient.id), language) for one in cases),
    )


def digest_lines(digest: Digest, language: str = "en") -> list[str]:
    """The week in at most six lines, those most in need first."""
    rate = digest.response
    share = f", {100 * rate.answered / rate.asked:.0f}%" if rate.asked else ""
    counts = {"answered": rate.answered, "asked": rate.asked, "patients": digest.patients}
    return [
        line("week", language, share=share, **counts),
        line("first", language, listed=_listed(digest.first, language, digest.in_need)),
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


def _pngs(digest: Digest, today: date, language: str) -> tuple[bytes, ...]:
    if not digest.cells or not has_letters():
        return ()
    drawn = (png_of(svg) for svg in many_svgs(digest.cells, _title(today, language), language))
    return tuple(png for png in drawn if png is not None)


def _title(today: date, language: str) -> str:
    return chart_line("week", language, on=chart_day(today, language, with_year=True))


def _week(case: PatientRecord) -> list[tuple[Move, Move]]:
    """The moves of the last seven days, each after the one before it."""
    since = case.today - timedelta(days=WEEK_DAYS)
    return [(before, move) for before, move in pairwise(case.history.moves) if move.on > since]


def _advanced(moves: Sequence[tuple[Move, Move]]) -> bool:
    return any(m.by is MovedBy.RULES and m.position > before.position for before, m in moves)


def _cell(case: PatientRecord, need: Need | None, language: str) -> Cell:
    first = case.today - timedelta(days=CELL_DAYS - 1)
    course = course_between(case, first, case.today)
    place = course.days[-1].place
    why = chart_line("cell-level", language, level="-" if place is None else place.level)
    if need is not None:
        why = _short(need, language)
    found = verdict_of(case)
    return Cell(
        case.patient.name, why, "" if found is None else verdict_words(found, language), course
    )


def _short(need: Need, language: str) -> str:
    """The reason in a few words: an escalation by its sign, else without the numbers."""
    if need.kind in (NeedKind.ESCALATION, NeedKind.NOTICED):
        return word_for("sign", need.sign, language)
    return word_for("need", need.kind, language)


def _names(cases: Iterator[PatientRecord]) -> tuple[str, ...]:
    return tuple(case.patient.name for case in cases)


def _listed(names: Sequence[str], language: str, count: int = 0) -> str:
    """Names in a line; of more than are named, how many: `count` is how many there are, where the
    names are not all of them."""
    more = max(count, len(names)) - min(len(names), NAMES_MAX)
    listed = ", ".join(names[:NAMES_MAX]) or line("nobody", language)
    return line("and-more", language, listed=listed, count=more) if more > 0 else listed
