"""The one transaction in which a message is handled: screen, step, record, decide, say, escalate.

Whose message it is decides which file goes on: `hear_patient`, `hear_clinician`, `hear_stranger`.
A message is handled once: the row that says so is written in the same transaction.
"""

from __future__ import annotations

from datetime import datetime

from bot.clinic import Clinic
from bot.clinicians.message import hear_clinician
from bot.clinicians.opt_out import give_up_number, is_stopped_text
from bot.escalations.open import raise_concern
from bot.patient_record.record import Case
from bot.patients.discharged_message import hear_former
from bot.patients.message import hear_patient
from bot.patients.recycled_number import hold_words, release_number
from bot.patients.unknown_sender import hear_stranger
from bot.store import inbox, people
from bot.store.database import Store
from bot.store.inbox import Outcome, Received
from bot.store.people import Person, Role
from rules.history import Tier


def handle(store: Store, clinic: Clinic, message_id: int, now: datetime) -> None:
    """Handle one kept message; a second call for the same one changes nothing."""
    received = inbox.unhandled(store, message_id)
    if received is None:
        return
    incoming = received.incoming
    people.open_contact(store, incoming.channel, incoming.address)
    person = people.by_address(store, incoming.channel, incoming.address)
    outcome = _hear(store, clinic, person, received, now)
    heard = people.by_address(store, incoming.channel, incoming.address)
    inbox.mark_handled(store, message_id, None if heard is None else heard.id, outcome, now)


def _hear(
    store: Store, clinic: Clinic, person: Person | None, received: Received, now: datetime
) -> Outcome:
    if person is None:
        return hear_stranger(store, clinic, received, now)
    if person.role is Role.PATIENT:
        case = Case(store, clinic, person, now)
        if release_number(case, received):
            return hear_stranger(store, clinic, received, now)
        hear = hear_former if case.episode.discharged else hear_patient
        return hold_words(case, received) or hear(case, received)
    if is_stopped_text(store, received) and give_up_number(store, person, received, now):
        return hear_stranger(store, clinic, received, now)
    return hear_clinician(store, clinic, person, received, now)


def give_up(store: Store, message_id: int, now: datetime) -> None:
    """Handling failed again and again: put the message aside and bring it to a clinician, because
    nobody knows what it says."""
    received = inbox.unhandled(store, message_id)
    if received is None:
        return
    incoming = received.incoming
    person = people.by_address(store, incoming.channel, incoming.address)
    whose = None if person is None else person.id
    inbox.mark_handled(store, message_id, whose, Outcome.FAILED, now)
    if person is not None and person.role is Role.PATIENT:
        raise_concern(
            store,
            person,
            sign="not-handled",
            tier=Tier.SAME_DAY,
            words=incoming.text,
            now=now,
            message=message_id,
            once_key=f"not-handled {message_id}",
        )
