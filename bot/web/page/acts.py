"""What the forms of the page ask for: each is put into the words that could be typed in chat, and
carried out as if it had been, with the same questions before it and the same audit.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime

from bot.clinic import Clinic
from bot.clinicians.invite_many import (
    ListError,
    invite_all,
    names_taken,
    one_row,
    read_list,
)
from bot.clinicians.letter import letter
from bot.clinicians.message import answer
from bot.clinicians.refusal import NotDoneError
from bot.clinicians.request import Request
from bot.clinicians.roles import Right, demand, may
from bot.clinicians.worklist import needs_of
from bot.store import audit, looks, page_keys, people
from bot.store.database import Store
from bot.store.people import Person, Role
from bot.web.page.clinic_acts import CLINIC_ACTS, change_clinic
from bot.web.page.foresight import FORESEEN, foreseen
from bot.web.page.shown import Letter, Shown
from dialogs.catalogues import languages
from dialogs.clinician_commands import Outcome
from dialogs.lines import chat_words, page_line

# Longest field of a form [characters]: what a long message in chat holds.
FIELD_MAX = 4000


# What the form for one patient asks for, of the columns of a list.
ONE_PATIENT = ("name", "tendon", "channel", "address", "language", "level", "side", "usual")


def carry_out_form(
    store: Store, clinic: Clinic, person: Person, form: Mapping[str, str], now: datetime
) -> Shown | None:
    """Do what a form asks for; None where nothing is to be said about it."""
    fields = {name: " ".join(text.split())[:FIELD_MAX] for name, text in form.items()}
    _see(store, clinic, person, form, now)
    act = fields.get("act", "")
    if act == "seen":
        return None
    if act == "off":
        page_keys.end_all(store, person.id, now)
        return None
    if act in ("enrol", "import"):
        return _invite(Request(store, clinic, person, now), act, form)
    if act in CLINIC_ACTS:
        if "text" in form:  # a template keeps its lines
            fields["text"] = form["text"].replace("\r\n", "\n")[:FIELD_MAX]
        return change_clinic(Request(store, clinic, person, now), act, fields)
    asked = fields.get("say", "") if act == "say" else _words(act, fields, person.language)
    if not asked:
        return None
    request = Request(store, clinic, person, now)
    if act in FORESEEN:
        return foreseen(request, asked)
    _, reply = answer(request, asked)
    return Shown(asked, request.words(person, reply.said), reply.buttons)


def _invite(request: Request, act: str, form: Mapping[str, str]) -> Shown:
    """Invite one patient, or a list; all of them, or none where one is refused."""
    language = request.person.language
    text = form.get("list", "")
    if act == "enrol":
        text = one_row({name: form.get(name, "") for name in ONE_PATIENT})
    try:
        demand(request.person, Right.ENROL)
        listed = read_list(text, languages(), request.clinic.region, names_taken(request.store))
        with request.store.savepoint():
            by = request.person.id
            invited = invite_all(request.store, request.clinic, listed, request.now, by)
    except ListError as error:
        fields = {one: page_line(f"field-{one}", language) for one in ONE_PATIENT}
        many = act == "import"
        problems = tuple(
            one.sentence(language, "" if many else fields.get(one.column, one.column or "-"))
            for one in error.problems
        )
        return Shown("", page_line("nobody-invited", language), problems=problems, kept=form)
    except NotDoneError as error:
        why = (error.in_language(language),)
        return Shown("", page_line("nobody-invited", language), (), why, form)
    letters = tuple(
        Letter(
            one.patient.name,
            letter(request.clinic, one, request.now),
            (one.patient.address or "") if one.patient.channel == "sms" else "",
        )
        for one in invited
    )
    return Shown("", page_line("invited", language, count=len(invited)), letters=letters)


def _words(act: str, fields: Mapping[str, str], language: str) -> str:
    """What could be typed for it; a note stands behind what an escalation is closed with."""
    if act == "close" and fields.get("outcome") == "note":
        return chat_words("note", language, fields) if fields.get("note") else ""
    if act == "close" and fields.get("outcome") == str(Outcome.REST):
        act = "close-rest"
    note = fields.get("note", "") if act.startswith("close") else ""
    return ", ".join(filter(None, (chat_words(act, language, fields), note)))


def note_export(store: Store, person: Person, patient: int, form: str, now: datetime) -> None:
    """Leave a line of what left the house."""
    audit.note(store, person.id, "patient exported", now, patient=patient, form=form)


def _see(
    store: Store, clinic: Clinic, person: Person, form: Mapping[str, str], now: datetime
) -> None:
    """Keep what stood on the screen that the form was sent from: {patient: {reason: amount}}. With
    the first form of all, the whole list has been seen: none of it is new afterwards."""
    seen = form.get("seen", "")
    if not seen or not may(person, Right.READ):
        return
    if not looks.of(store, person.id):
        for entry in needs_of(store, clinic, now):
            looks.keep(store, person.id, entry.person, entry.reasons, now)
    try:
        kept = {int(patient): dict(reasons) for patient, reasons in json.loads(seen).items()}
    except (ValueError, TypeError, AttributeError):
        return
    known = {patient.id for patient in people.by_role(store, Role.PATIENT)}
    for patient, reasons in kept.items():
        if patient not in known or not all(isinstance(n, int) for n in reasons.values()):
            continue
        looks.keep(store, person.id, patient, reasons, now)
