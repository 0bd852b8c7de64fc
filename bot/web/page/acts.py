"""What the forms of the page ask for: each is put into the words that could be typed in chat, and
carried out as if it had been, with the same questions before it and the same audit.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from bot.clinic import Clinic
from bot.clinicians.message import answer
from bot.clinicians.request import Request
from bot.clinicians.roles import Right, may
from bot.clinicians.worklist import needs_of
from bot.patient_record.say import Buttons
from bot.store import audit, looks, page_keys, people
from bot.store.database import Store
from bot.store.people import Person, Role
from dialogs.clinician_commands import Outcome
from dialogs.lines import chat_words

# Longest field of a form [characters]: what a long message in chat holds.
FIELD_MAX = 4000


@dataclass(frozen=True)
class Shown:
    """The bot's reply, word for word, with its buttons. `asked`: as it could be typed in chat."""

    asked: str
    words: str
    buttons: Buttons = ()


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
    asked = fields.get("say", "") if act == "say" else _words(act, fields, person.language)
    if not asked:
        return None
    request = Request(store, clinic, person, now)
    _, reply = answer(request, asked)
    return Shown(asked, request.words(person, reply.said), reply.buttons)


def _words(act: str, fields: Mapping[str, str], language: str) -> str:
    """What could be typed for it; a note stands behind what an escalation is closed with."""
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
