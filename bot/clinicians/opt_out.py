"""A clinician or an owner wants no more messages on a channel, or wants them again: STOP and START.

Honoured at once: one confirmation, then silence there. Colleagues and owners are told who hears no
alarms now, and where nobody does any more, so is whoever left. What they were told and nobody has
goes on to the next person. Never lets a number back in long after. Read next: `message`, and
`recycled_number` for patients.
"""

from __future__ import annotations

import logging
import re
from datetime import datetime, timedelta
from enum import StrEnum

from bot.clinicians.confirmation import has_code, wait_for_yes
from bot.clinicians.request import Request
from bot.clinicians.roles import Right, may
from bot.delivery.undelivered import not_arrived
from bot.escalations.rota import nobody_hears
from bot.phone_numbers import KEPT_DAYS
from bot.ports import Incoming, kind_of
from bot.store import audit, notices, outbox, people
from bot.store.database import Store
from bot.store.inbox import Outcome, Received
from bot.store.outbox import Draft, Urgency
from bot.store.people import CLINICAL, STOPPED, Contact, Person, Role
from dialogs.preferences import asks_to_stop
from dialogs.reading import command
from dialogs.turn import Said, Value
from dialogs.words import shipped_words

# As what a wish to stop waits for its code.
STOP = "stop"

log = logging.getLogger(__name__)


class Opting(StrEnum):
    """What may come of a message about the channel it came on."""

    STOP = "stop"
    ASK = "ask for the code first"
    START = "start"
    ANSWER_HELP = "answer help"
    ANSWER = "answer"


def opting_of(request: Request, incoming: Incoming, stopped_at: datetime | None) -> Opting | None:
    """What a message asks of its channel, stopped since then; None where it is a command.

    The sender of a text message can be forged, and a forged STOP would silence alarms: there a STOP
    needs the code that it is answered with.
    """
    bare, code = _without_code(incoming.text)
    keyword = "" if incoming.pressed else _keyword(bare, request.person.language)
    is_text = kind_of(incoming.channel) == "text"
    if stopped_at is None:
        if keyword != "stop":
            return None
        if not is_text or not may(request.person, Right.HEAR_ALARMS):
            return Opting.STOP
        return Opting.STOP if has_code(request, STOP, code) else Opting.ASK
    if keyword == "start" and not (
        is_text and request.now - stopped_at >= timedelta(days=KEPT_DAYS)
    ):
        return Opting.START
    return Opting.ANSWER_HELP if keyword in ("start", "help") else Opting.ANSWER


def opt(request: Request, contact: Contact, opting: Opting) -> Outcome:
    """Do it; gives what became of the message."""
    match opting:
        case Opting.STOP:
            _stop(request, contact)
        case Opting.ASK:
            asked, _buttons = wait_for_yes(request, request.person.id, STOP, {})
            _say_at(request, contact, Said("clinician/stop-asked", asked))
        case Opting.START:
            _start(request, contact)
        case _:
            _answer_once(request, contact, helps=opting is Opting.ANSWER_HELP)
            return Outcome.UNREAD
    return Outcome.HANDLED


def is_stopped_text(store: Store, received: Received) -> bool:
    """Whether the message came from a telephone number whose holder asked for silence."""
    incoming = received.incoming
    contact = people.contact_at(store, incoming.channel, incoming.address)
    is_text = contact is not None and kind_of(contact.channel) == "text"
    return contact is not None and is_text and people.stopped_at(store, contact.id) is not None


def give_up_number(store: Store, person: Person, received: Received, now: datetime) -> bool:
    """Take a number from somebody who left, where its new holder sends an invitation of their own;
    False where the message is none."""
    incoming = received.incoming
    words = incoming.text.split()
    if not words or people.invited_by(store, words[-1], now) is None:
        return False
    people.give_up_address(store, incoming.channel, incoming.address, now)
    audit.note(store, person.id, "number given up", now, channel=incoming.channel)
    return True


def _without_code(text: str) -> tuple[str, int | None]:
    found = re.fullmatch(r"\s*(.*?)\s+(\d{4})\s*", text, re.DOTALL)
    return (found[1], int(found[2])) if found else (text, None)


def _keyword(text: str, language: str) -> str:
    return "stop" if asks_to_stop(text, language) else command(text, shipped_words(language))


def _stop(request: Request, contact: Contact) -> None:
    """Close the channel, with one confirmation on it."""
    store, person = request.store, request.person
    waiting = outbox.waiting_at(store, contact.id)
    left = [one.channel for one in people.contacts(store, person.id) if one.id != contact.id]
    people.close_contact(store, contact.id, STOPPED, request.now)
    if not left:
        people.opt_out(store, person.id, request.now)
    for row in waiting:
        not_arrived(store, row, STOPPED, request.now)
    notices.fail_notices_to(store, person.id, contact.channel, request.now)
    request.audit("opted out", channel=contact.channel, left=len(left))
    nobody = nobody_hears(store, request.clinic, request.now)
    kinds: dict[str, Value] = {
        "kind": kind_of(contact.channel),
        "left": kind_of(left[0]) if left else "",
        "nobody": nobody,
    }
    if not may(person, Right.HEAR_ALARMS):
        _say_at(request, contact, Said("clinician/owner-stopped"))
        return
    _say_at(request, contact, Said("clinician/stopped", kinds))
    _tell_others(request, Said("clinician/colleague-stopped", {**kinds, "by": person.name}))
    if nobody:
        request.audit("nobody hears alarms")
        log.warning("nobody hears alarms: clinician %d wants no more messages", person.id)


def _start(request: Request, contact: Contact) -> None:
    people.end_stop(request.store, contact.id)
    people.opt_in(request.store, request.person.id)
    request.audit("opted in", channel=contact.channel)
    alarms = may(request.person, Right.HEAR_ALARMS)
    _say_at(request, contact, Said("clinician/started", {"alarms": alarms}))
    if alarms:
        _tell_others(request, Said("clinician/colleague-started", {"by": request.person.name}))


def _tell_others(request: Request, said: Said) -> None:
    """Tell every other clinician, and every owner."""
    for other in people.by_role(request.store, *CLINICAL, Role.OWNER):
        if other.id != request.person.id:
            request.tell(other, said)


def _answer_once(request: Request, contact: Contact, *, helps: bool) -> None:
    """A message on a channel that was stopped: said once a day how to come back, or, where the
    number may be somebody else's, what a stranger is told. Silence on a text channel otherwise."""
    is_text = kind_of(contact.channel) == "text"
    if is_text and not helps:
        return
    _say_at(request, contact, Said("stranger" if is_text else "clinician/stopped-here"), daily=True)


def _say_at(request: Request, contact: Contact, said: Said, *, daily: bool = False) -> None:
    """Say something at this address, closed or not; `daily`: the same once a day."""
    text, at = request.words(request.person, said), f"{request.now:%Y-%m-%d}"
    if daily:
        key = f"stopped {contact.id} {said.template} {at}"
        outbox.write_to_stranger(
            request.store, contact.channel, contact.address, text, key, request.now
        )
        return
    draft = Draft(request.person.id, text, Urgency.REPLY)
    outbox.write_at(request.store, draft, contact, request.now)
