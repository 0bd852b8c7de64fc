"""A message from an address nobody knows: an invitation is redeemed, anything else gets one fixed
reply a day at most. Nothing is revealed."""

from __future__ import annotations

from datetime import datetime, timedelta

from bot.clinic import Clinic
from bot.patient_record.record import PatientRecord
from bot.patient_record.say import Say, say, tell, words_for
from bot.ports import Incoming
from bot.store import audit, conversations, inbox, outbox, people
from bot.store.database import Store
from bot.store.inbox import Outcome
from bot.store.people import CODE_LENGTH, Person, Role
from dialogs.patient import open_enrolment
from dialogs.turn import Said

# Codes that one unknown address may try in a day [tries]: beside 31^8 codes, hopeless. Convention.
TRIES_A_DAY = 10

DAY = timedelta(days=1)


def stranger_message(store: Store, clinic: Clinic, incoming: Incoming, now: datetime) -> Outcome:
    """Redeem an invitation, or keep the message where the clinician can see it."""
    tried = inbox.strangers_since(store, incoming.channel, incoming.address, now - DAY)
    code = _code(incoming.text)
    if code is not None and tried < TRIES_A_DAY:
        invited = people.redeem(store, code, now)
        if invited is not None:
            _welcome(store, clinic, invited, incoming, now)
            return Outcome.HANDLED
    if tried == 0:
        answer_stranger(store, clinic, incoming, now)
    return Outcome.STRANGER


def _code(text: str) -> str | None:
    """The word of a message that may be a code: the last one, as `/start CODE` puts it."""
    words = text.split()
    return words[-1] if words and len(words[-1]) == CODE_LENGTH else None


def _welcome(
    store: Store, clinic: Clinic, invited: Person, incoming: Incoming, now: datetime
) -> None:
    """The address belongs to the invited person from now on."""
    people.add_contact(store, invited.id, incoming.channel, incoming.address, now)
    audit.note(store, invited.id, "invitation redeemed", now, channel=incoming.channel)
    if invited.role is not Role.PATIENT:
        welcome = "owner-welcome" if invited.role is Role.OWNER else "welcome"
        said = Said(f"clinician/{welcome}", {"name": invited.name})
        tell(store, clinic, invited, said, now)
        _tell_joined(store, clinic, invited, now)
        return
    record = PatientRecord(store, clinic, invited, now)
    turn = open_enrolment(record.state, record.situation())
    conversations.keep(store, invited.id, turn.state, now)
    for said in turn.said:
        say(record, Say(said))


def _tell_joined(store: Store, clinic: Clinic, joined: Person, now: datetime) -> None:
    """A code in the wrong hands gives every right, so leads and owners hear of each."""
    for person in people.by_role(store, Role.LEAD_CLINICIAN, Role.OWNER):
        lead = person.role is Role.LEAD_CLINICIAN
        if person.id != joined.id:
            said = Said("clinician/joined", {"by": joined.name, "lead": lead})
            tell(store, clinic, person, said, now)


def answer_stranger(
    store: Store, clinic: Clinic, incoming: Incoming, now: datetime, language: str = ""
) -> None:
    """The one fixed reply of a day."""
    text = words_for(clinic, language or clinic.language, Said("stranger"), now)
    key = f"stranger {incoming.channel} {incoming.address} {now:%Y-%m-%d}"
    outbox.write_to_stranger(store, incoming.channel, incoming.address, text, key, now)
