"""The one transaction in which a message is handled: understood, its consequences worked out,
applied. Whose message it is decides which consequences may come of it.

A message is handled once: the row that says so is written in the same transaction.
"""

from __future__ import annotations

from datetime import datetime

from bot.clinic import Clinic
from bot.clinicians.message import obey
from bot.clinicians.opt_out import give_up_number, is_stopped_text, opt, opting_of
from bot.clinicians.request import Request
from bot.escalations.open import raise_escalation
from bot.patient_record.record import PatientRecord
from bot.patients.apply import apply
from bot.patients.consequences import consequences
from bot.patients.recycled_number import held_words, is_late_start, may_be_another
from bot.patients.understand import understand
from bot.patients.unknown_sender import answer_stranger, stranger_message
from bot.ports import kind_of
from bot.store import inbox, people
from bot.store.database import Store
from bot.store.inbox import Outcome, Received
from bot.store.people import Person, Role
from rules.history import Tier


def handle(store: Store, clinic: Clinic, message_id: int, now: datetime) -> None:
    """Handle one kept message; a second call for the same one changes nothing."""
    received = inbox.unhandled(store, message_id, now)
    if received is None:
        return
    incoming = received.incoming
    people.open_contact(store, incoming.channel, incoming.address)
    person = people.by_address(store, incoming.channel, incoming.address)
    if person is not None and _is_another_now(store, person, received, now):
        person = None
    if person is None:
        outcome = stranger_message(store, clinic, incoming, now)
        person = people.by_address(store, incoming.channel, incoming.address)
    elif person.role is Role.PATIENT:
        outcome = _patient_message(store, clinic, person, received, now)
    else:
        outcome = _staff_message(store, clinic, person, received, now)
    inbox.mark_handled(store, message_id, None if person is None else person.id, outcome, now)


def _is_another_now(store: Store, person: Person, received: Received, now: datetime) -> bool:
    """Whether the number of somebody who left has changed hands: its holder has an invitation."""
    if person.role is Role.PATIENT:
        left = may_be_another(person, received.incoming.channel, now)
    else:
        left = is_stopped_text(store, received)
    return left and give_up_number(store, person, received, now)


def _patient_message(
    store: Store, clinic: Clinic, patient: Person, received: Received, now: datetime
) -> Outcome:
    """A patient's, under treatment or discharged; or of somebody who has their number now."""
    record = PatientRecord(store, clinic, patient, now)
    understood = understand(record, received.incoming, received.before)
    if may_be_another(patient, received.incoming.channel, now):
        if is_late_start(patient, received.incoming.text, now):
            answer_stranger(store, clinic, received.incoming, now, patient.language)
        held = held_words(record, understood)
    else:
        held = ()
    return apply(record, held or consequences(record, understood), received.id)


def _staff_message(
    store: Store, clinic: Clinic, person: Person, received: Received, now: datetime
) -> Outcome:
    """A clinician's or an owner's: an opt-out of the channel it came on, else one command."""
    incoming = received.incoming
    by_text = kind_of(incoming.channel) == "text"
    request = Request(store, clinic, person, now, by_text=by_text)
    contact = people.contact_at(store, incoming.channel, incoming.address)
    assert contact is not None
    opting = opting_of(request, incoming, people.stopped_at(store, contact.id))
    if opting is not None:
        return opt(request, contact, opting)
    return obey(request, incoming.pressed or incoming.text)


def give_up(store: Store, message_id: int, now: datetime) -> None:
    """Handling failed again and again: put the message aside and bring it to a clinician, because
    nobody knows what it says."""
    received = inbox.unhandled(store, message_id, now)
    if received is None:
        return
    incoming = received.incoming
    person = people.by_address(store, incoming.channel, incoming.address)
    whose = None if person is None else person.id
    inbox.mark_handled(store, message_id, whose, Outcome.FAILED, now)
    if person is not None and person.role is Role.PATIENT:
        raise_escalation(
            store,
            person,
            sign="not-handled",
            tier=Tier.SAME_DAY,
            words=incoming.text,
            now=now,
            message=message_id,
            once_key=f"not-handled {message_id}",
        )
