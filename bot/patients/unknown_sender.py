"""A message from an address nobody knows: an invitation is redeemed, anything else gets one fixed
reply a day at most. Nothing is revealed."""

from __future__ import annotations

from datetime import datetime, timedelta

from bot.clinic import Clinic
from bot.patient_record.record import Case
from bot.patient_record.say import say, words_of
from bot.store import audit, conversations, inbox, outbox, people
from bot.store.database import Store
from bot.store.inbox import Outcome, Received
from bot.store.outbox import Urgency
from bot.store.people import CODE_LENGTH, Person, Role
from dialogs.patient import open_enrolment
from dialogs.turn import Said, Situation

# Codes that one unknown address may try in a day [tries]: beside 31^8 codes, hopeless. Convention.
TRIES_A_DAY = 10

DAY = timedelta(days=1)


def hear_stranger(store: Store, clinic: Clinic, received: Received, now: datetime) -> Outcome:
    """Redeem an invitation, or keep the message where the clinician can see it."""
    incoming = received.incoming
    tried = inbox.strangers_since(store, incoming.channel, incoming.address, now - DAY)
    code = _code(incoming.text)
    if code is not None and tried < TRIES_A_DAY:
        invited = people.redeem(store, code, now)
        if invited is not None:
            _welcome(store, clinic, invited, received, now)
            return Outcome.HANDLED
    if tried == 0:
        _answer(store, clinic, received, now)
    return Outcome.STRANGER


def _code(text: str) -> str | None:
    """The word of a message that may be a code: the last one, as `/start CODE` puts it."""
    words = text.split()
    return words[-1] if words and len(words[-1]) == CODE_LENGTH else None


def _welcome(
    store: Store, clinic: Clinic, invited: Person, received: Received, now: datetime
) -> None:
    """The address belongs to the invited person from now on."""
    incoming = received.incoming
    people.add_contact(store, invited.id, incoming.channel, incoming.address, now)
    audit.note(store, invited.id, "invitation redeemed", now, channel=incoming.channel)
    if invited.role is not Role.PATIENT:
        situation = Situation(
            now=now.astimezone(clinic.zone_info), language=invited.language, clinic=clinic.name
        )
        welcome = "owner-welcome" if invited.role is Role.OWNER else "welcome"
        said = Said(f"clinician/{welcome}", {"name": invited.name})
        say(store, clinic, invited.id, said, situation, Urgency.REPLY, now)
        return
    case = Case(store, clinic, invited, now)
    situation = case.situation(prescribe=False)
    turn = open_enrolment(case.state, situation)
    conversations.keep(store, invited.id, turn.state, now)
    for said in turn.said:
        say(store, clinic, invited.id, said, situation, Urgency.REPLY, now)


def _answer(store: Store, clinic: Clinic, received: Received, now: datetime) -> None:
    """The one fixed reply; a sender who has had it today hears nothing more."""
    incoming = received.incoming
    situation = Situation(now=now.astimezone(clinic.zone_info), language=clinic.language)
    text = words_of(clinic, Said("stranger"), situation)
    key = f"stranger {incoming.channel} {incoming.address} {now:%Y-%m-%d}"
    outbox.write_to_stranger(store, incoming.channel, incoming.address, text, key, now)
