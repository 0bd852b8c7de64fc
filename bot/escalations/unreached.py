"""Says where words do not arrive: an address of the clinic closed, or a whole round of the rota
reached nobody. Then the patient is told whom to call, the owner hears it, and the clinic's last
resort is tried, with each such round. Read next: `notify`, `bot.delivery.undelivered`."""

from __future__ import annotations

import logging
from datetime import datetime

from bot.clinic import Clinic
from bot.escalations.rota import nobody_hears
from bot.patient_record.record import record_of
from bot.patient_record.say import Say, say, tell, words_for
from bot.ports import LAST_RESORT, kind_of
from bot.store import audit, escalations, notices, outbox, people
from bot.store.database import Store
from bot.store.escalations import Escalation
from bot.store.notices import NoticeKind
from bot.store.outbox import Urgency
from bot.store.people import CLINICAL, Contact, Role
from dialogs.turn import Said, Value

log = logging.getLogger(__name__)


def tell_unreached(store: Store, clinic: Clinic, now: datetime) -> None:
    """Tell of each escalation whose latest round reached nobody. A channel that still tries is
    waited for as long as between two notices of an emergency."""
    for number in notices.unreached(store, now - clinic.pace.emergency_interval):
        escalation = escalations.get(store, number)
        log.error("escalation %d reached nobody", number)
        notices.note(store, number, NoticeKind.NOBODY_REACHED, now)
        _tell_patient(store, clinic, escalation, now)
        tier = escalation.tier.value
        said = Said("clinician/nobody-reached", {"number": number, "tier": tier})
        for owner in people.by_role(store, Role.OWNER):
            tell(store, clinic, owner, said, now)
        if clinic.last_resort:
            text = words_for(clinic, clinic.language, said, now)
            until = now + clinic.pace.first_pause
            key = f"last resort {number} {now.isoformat()}"
            outbox.write_last_resort(store, LAST_RESORT, text, key, now, until)


def _tell_patient(store: Store, clinic: Clinic, escalation: Escalation, now: datetime) -> None:
    """Once, and only of what they wrote."""
    record = record_of(store, clinic, escalation.patient, now)
    if escalation.message is None or record.patient.opted_out_at is not None:
        return
    key = f"nobody reached {escalation.patient} {escalation.message}"
    said = Said("nobody-reached", {"tier": escalation.tier.value})
    say(record, Say(said, Urgency.SAFETY, once_key=key))


def tell_closed(store: Store, clinic: Clinic, contact: Contact, why: str, now: datetime) -> None:
    """Tell clinicians and owners, on whatever is left, that somebody of theirs has one address
    less; a patient's is told otherwise."""
    person = people.person(store, contact.person)
    if person.role is Role.PATIENT:
        return
    left = people.contacts(store, person.id)
    values: dict[str, Value] = {
        "by": person.name,
        "kind": kind_of(contact.channel),
        "left": kind_of(left[0].channel) if left else "",
        "alarms": person.role in CLINICAL,
        "nobody": nobody_hears(store, clinic, now),
    }
    log.error("an address of staff is closed: person %d on %s: %s", person.id, contact.channel, why)
    audit.note(store, person.id, "address closed", now, channel=contact.channel, why=why)
    for other in people.by_role(store, *CLINICAL, Role.OWNER):
        tell(store, clinic, other, Said("clinician/address-closed", values), now)


def tell_last_resort_failed(
    store: Store, clinic: Clinic, row: int, why: str, now: datetime
) -> None:
    """Tell owners and clinicians, once of each time it is tried for an escalation."""
    for person in people.by_role(store, *CLINICAL, Role.OWNER):
        key = f"last resort failed {row} {person.id}"
        if not outbox.is_written(store, key):
            said = Said("clinician/last-resort-failed", {"why": why})
            tell(store, clinic, person, said, now, once_key=key)
