"""What each screen of the page shows, read from the store. Writes nothing and decides nothing.

Read next: the templates, which say it.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property
from typing import Any

from bot.clinic import Clinic
from bot.clinicians.close_escalation import offered_outcomes
from bot.clinicians.invite_many import CHANNELS, COLUMNS, SIDES
from bot.clinicians.need import Need, NeedKind
from bot.clinicians.patient_summary import patient_lines, patient_words
from bot.clinicians.roles import Right, may
from bot.clinicians.worklist import Entry, worklist
from bot.escalations.history import history_lines
from bot.escalations.notify import quoted, with_number
from bot.escalations.rota import is_on_duty
from bot.patient_record.record import PatientRecord, record_of
from bot.report.exercises import has_sheet
from bot.store import decisions, escalations, inbox, looks, outbox, passkeys, people, plans, shifts
from bot.store.database import Store
from bot.store.people import CLINICAL, Person, Role
from bot.web.page.conversation import conversation
from dialogs.catalogues import languages, shipped_messages
from dialogs.lines import word_for
from dialogs.samples import sample_texts
from rules.history import Tier
from rules.protocol import Tendon
from rules.usual import WEEK_DAYS, pain_limit

# Decisions of one patient on their page [count, at most]. Convention: three weeks of mornings.
DECISIONS_MAX = 21


@dataclass(frozen=True)
class Shown:
    """A template, and what it is filled with."""

    template: str
    values: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Look:
    """Somebody of the clinic who looks at a screen, at one instant. `ticked_at`: when the bot last
    looked for what is due; None before the first time. `passkey`: what a browser is asked to make
    one; empty where there can be none."""

    store: Store
    clinic: Clinic
    person: Person
    now: datetime
    path: Mapping[str, Any]
    query: Mapping[str, str]
    ticked_at: datetime | None = None
    passkey: str = ""

    @property
    def language(self) -> str:
        """The reader's language."""
        return self.person.language

    @property
    def reads(self) -> bool:
        """Whether the reader may read about patients; else only how the bot runs is theirs."""
        return may(self.person, Right.READ)

    @property
    def today(self) -> date:
        """The clinic's local date."""
        return self.now.astimezone(self.clinic.zone_info).date()

    def case(self) -> PatientRecord:
        """The patient that the address names; raises NotFoundError."""
        return record_of(self.store, self.clinic, int(self.path["patient"]), self.now)

    @cached_property
    def colleagues(self) -> list[str]:
        """Whom an escalation can be handed to."""
        staff = people.by_role(self.store, *CLINICAL)
        return [one.name for one in staff if one.id != self.person.id and one.opted_out_at is None]


Screen = Callable[[Look], Shown]


@dataclass(frozen=True)
class OpenOne:
    """An open escalation as it stands on a screen. `outcomes`: (code, label) of what may close it;
    `mine`: whether the reader has it."""

    need: Need
    words: str
    remarks: str
    told: str
    outcomes: tuple[tuple[str, str], ...]
    mine: bool


@dataclass(frozen=True)
class Item:
    """One person of the list: what is open, the other reasons, and the mark of having seen it."""

    entry: Entry
    case: PatientRecord
    limit: int
    open: tuple[OpenOne, ...]
    reasons: tuple[str, ...]

    @property
    def is_urgent(self) -> bool:
        """Whether nobody has something of theirs that cannot wait for the next working day."""
        return any(
            one.need.held_by is None and one.need.tier != Tier.NEXT_WORKING_DAY for one in self.open
        )

    @property
    def seen(self) -> str:
        """What a form carries back, so that what was on the screen counts as seen."""
        return seen_of([self.entry])


def seen_of(entries: Iterable[Entry]) -> str:
    """The reasons that stand on the screen, by patient."""
    return json.dumps({str(entry.person): entry.reasons for entry in entries})


def today(look: Look) -> Shown:
    """Who needs somebody: what is new to the reader and what urgent nobody has, then what they
    know; counts for the rest."""
    listed = worklist(look.store, look.clinic, look.now, look.person)
    items = [_item(look, entry) for entry in listed.entries]
    first = [item for item in items if item.entry.new or item.is_urgent]
    treated = len(plans.under_treatment(look.store))
    return Shown(
        "today.html",
        {
            "first": first,
            "known": [item for item in items if item not in first],
            "new": sum(item.entry.new for item in items),
            "seen": seen_of(item.entry for item in first),
            "aside": len(listed.aside),
            "rest": max(0, treated - len(listed.entries) - len(listed.aside)),
            "looked_at": looks.last_at(look.store, look.person.id),
            "place": "/page",
        },
    )


def _item(look: Look, entry: Entry) -> Item:
    case = record_of(look.store, look.clinic, entry.person, look.now)
    raised = {one.id: one for one in case.not_closed}
    waiting = []
    for need in entry.needs:
        if need.kind is not NeedKind.ESCALATION:
            continue
        one = raised[int(need.escalation or 0)]
        outcomes = tuple(offered_outcomes(one, look.language))
        mine = one.acknowledged_by == look.person.id
        wrote, remarks = quoted(look.clinic, one), with_number(look.clinic, one)
        waiting.append(OpenOne(need, wrote, remarks, one.told_patient, outcomes, mine))
    others = (need.why for need in entry.needs if need.kind is not NeedKind.ESCALATION)
    limit = pain_limit(case.history, case.protocol) if _is_treated(case) else 0
    return Item(entry, case, limit, tuple(waiting), tuple(others))


def _is_treated(case: PatientRecord) -> bool:
    return case.episode.enrolled_on is not None


@dataclass(frozen=True)
class Row:
    """One patient of the list of all. `need`: place on the list of who needs somebody, 0 for none;
    `pain`: the latest first-step pain [points]; `silent`: days since the last answer."""

    case: PatientRecord
    need: int
    week: int
    level: int
    dose: int
    limit: int
    pain: int | None
    silent: int


SORTS: Mapping[str, Callable[[Row], Any]] = {
    "need": lambda row: (row.need == 0, row.need, row.case.patient.name.casefold()),
    "name": lambda row: row.case.patient.name.casefold(),
    "week": lambda row: (-row.week, row.case.patient.name.casefold()),
    "level": lambda row: (-row.level, -row.dose, row.case.patient.name.casefold()),
    "silent": lambda row: (-row.silent, row.case.patient.name.casefold()),
}


def patients(look: Look) -> Shown:
    """Everybody under treatment, by need or otherwise; those whose name holds what is searched."""
    listed = worklist(look.store, look.clinic, look.now, look.person).entries
    place = {entry.person: number for number, entry in enumerate(listed, 1)}
    wanted = look.query.get("q", "").casefold().strip()
    sort = look.query.get("sort", "need")
    rows = [
        _row(record_of(look.store, look.clinic, episode.patient, look.now), place)
        for episode in plans.under_treatment(look.store)
    ]
    found = [row for row in rows if wanted in row.case.patient.name.casefold()]
    found.sort(key=SORTS.get(sort, SORTS["need"]))
    values = {"rows": found, "q": look.query.get("q", ""), "sort": sort, "sorts": list(SORTS)}
    return Shown("patients.html", {**values, "place": "/page/patients"})


def _row(case: PatientRecord, place: Mapping[int, int]) -> Row:
    history, today = case.history, case.today
    at = case.moves[-1].position
    pains = [one for one in history.mornings if one.first_step_pain is not None]
    last = pains[-1] if pains else None
    return Row(
        case=case,
        need=place.get(case.patient.id, 0),
        week=(today - history.enrolled_on).days // WEEK_DAYS + 1,
        level=at.level,
        dose=at.dose,
        limit=pain_limit(history, case.protocol),
        pain=None if last is None else int(last.first_step_pain or 0),
        silent=(today - (last.on if last else history.enrolled_on)).days,
    )


def enrol(_look: Look) -> Shown:
    """Invite one patient, or a list of patients already under way."""
    values = {"tendons": list(Tendon), "sides": SIDES, "channels": CHANNELS, "columns": COLUMNS}
    return Shown("enrol.html", {**values, "languages": languages(), "place": "/page/enrol"})


def one_patient(look: Look) -> Shown:
    """All of one patient: lines, picture, what waits, the plan, the conversation, the record."""
    case = look.case()
    listed = worklist(look.store, look.clinic, look.now, look.person)
    found = (one for one in (*listed.entries, *listed.aside) if one.person == case.patient.id)
    entry = next(found, Entry(case.patient.id, case.patient.name, ()))
    raised = escalations.of_patient(look.store, case.patient.id)
    kept = decisions.every(look.store, case.episode.id)[-DECISIONS_MAX:]
    return Shown(
        "patient.html",
        {
            "case": case,
            "item": _item(look, entry),
            "lines": patient_lines(case, look.language),
            "picture_words": patient_words(case, look.language),
            "treated": _is_treated(case) and not case.episode.discharged,
            "has_sheet": has_sheet(case),
            "stood": case.moves[-1].position if case.moves else None,
            "levels": case.protocol.levels,
            "limit": pain_limit(case.history, case.protocol) if _is_treated(case) else None,
            "stopping": bool(escalations.still_stopping(look.store, case.patient.id, case.today)),
            "messages": conversation(look.store, case),
            "decisions": [
                (
                    one.advice.on,
                    word_for("action", one.advice.action, look.language),
                    word_for("reason", one.advice.reason, look.language),
                )
                for one in reversed(kept)
            ],
            "raised": [
                history_lines(look.store, look.clinic, one.id, look.language)
                for one in reversed(raised)
            ],
            "place": f"/page/patients/{case.patient.id}",
        },
    )


def wording(look: Look) -> Shown:
    """What the bot says, a message at a time, for whoever may word it; the clinic's for others."""
    if look.clinic.wording_folder is None or not may(look.person, Right.STAFF):
        return clinic(look)
    asked = look.query.get("of", "")
    of = asked if asked in languages() else look.clinic.language
    own, shipped = look.clinic.wording_in(of), shipped_messages(of)
    name = look.query.get("message", "")
    place = f"/page/wording?of={of}"
    return Shown(
        "wording.html",
        {
            "of": of,
            "languages": languages(),
            "messages": [(one, one in own) for one in sorted(shipped)],
            "message": name if name in shipped else "",
            "text": own.get(name, shipped.get(name, "")),
            "shipped": shipped.get(name, ""),
            "samples": sorted(set(sample_texts(name, of, own)), key=len)[-3:]
            if name in shipped
            else [],
            "place": f"{place}&message={name}" if name in shipped else place,
        },
    )


def clinic(look: Look) -> Shown:
    """Staff, rota, and whether the bot runs; of patients the counts alone."""
    staff = people.by_role(look.store, *CLINICAL, Role.OWNER)
    ways = {one.id: [c.channel for c in people.contacts(look.store, one.id)] for one in staff}
    held, zone = shifts.in_force(look.store, look.clinic.rota), look.clinic.zone_info
    kept = shifts.numbered(look.store)
    from_file = () if shifts.is_set(look.store) else look.clinic.rota
    return Shown(
        "clinic.html",
        {
            "staff": staff,
            "ways": ways,
            "on_duty": {one.id: is_on_duty(held, one.name, look.now, zone) for one in staff},
            "rota": [*kept.items(), *((0, one) for one in from_file)],
            "days_off": shifts.days_off(look.store, look.today),
            "passkey_count": len(passkeys.of(look.store, look.person.id)),
            "words": look.clinic.wording_folder is not None,
            "changes": may(look.person, Right.STAFF),
            "roles": [Role.CLINICIAN, Role.LEAD_CLINICIAN, Role.OWNER],
            "languages": languages(),
            "clinicians": [one.name for one in staff if one.role in CLINICAL],
            "treated": len(plans.under_treatment(look.store)),
            "waiting": len(escalations.unacknowledged(look.store)),
            "depth": outbox.depth(look.store, look.now),
            "unhandled": len(inbox.waiting(look.store, 100)),
            "place": "/page/clinic",
        },
    )
