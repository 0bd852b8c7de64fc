"""Somebody leaves the clinic: ordered by the lead clinician, with a YES, or on the command line.

They hear nothing more and have no rights; nothing they send brings them back, but a new
invitation. What they had is free again, for the rota. Read next: `opt_out`, for who only stops.
"""

from __future__ import annotations

from datetime import datetime

from bot.clinic import Clinic
from bot.clinicians.confirmation import wait_for_yes
from bot.clinicians.refusal import NotDoneError
from bot.clinicians.request import Reply, Request
from bot.clinicians.roles import Right, demand
from bot.delivery.undelivered import not_arrived
from bot.escalations.rota import nobody_hears
from bot.patient_record.say import tell
from bot.store import audit, escalations, notices, outbox, people, shifts
from bot.store.confirmations import Confirmation
from bot.store.database import Store
from bot.store.people import CLINICAL, Person, Role
from dialogs.clinician_commands import RemoveStaff, WhyNot
from dialogs.turn import Said, Value

LEFT = "has left the clinic"


def remove(
    request: Request, command: RemoveStaff, text: str, confirmed: Confirmation | None = None
) -> Reply:
    """Ask for a YES, then do it. Raises NotDoneError where not exactly one colleague is meant, or
    not by this person."""
    demand(request.person, Right.STAFF)
    staff = people.by_role(request.store, *CLINICAL, Role.OWNER)
    others = [one for one in staff if one.id != request.person.id]
    named = [one for one in others if one.name.casefold() == command.name.casefold()]
    if not named:
        names = ", ".join(one.name for one in others)
        raise NotDoneError(WhyNot.NO_COLLEAGUE, wanted=command.name, names=names)
    (person,) = named
    if confirmed is not None and confirmed.patient == person.id:
        return Reply(
            remove_staff(request.store, request.clinic, person, request.person, request.now)
        )
    asked, buttons = wait_for_yes(request, person.id, text, {})
    return Reply(Said("clinician/confirm-remove", {"by": person.name, **asked}), buttons)


def remove_staff(
    store: Store, clinic: Clinic, person: Person, by: Person | None, now: datetime
) -> Said:
    """Do it, and tell everybody else of the clinic but whoever did it; gives what they are told.
    `by`: None on the command line."""
    contacts = people.contacts(store, person.id)
    waiting = [row for contact in contacts for row in outbox.waiting_at(store, contact.id)]
    held = [str(e.id) for e in escalations.not_closed(store) if e.acknowledged_by == person.id]
    people.leave(store, person.id, now)
    shifts.end_all(store, person.name, now)
    for row in waiting:
        not_arrived(store, row, LEFT, now)
    for contact in contacts:
        notices.fail_notices_to(store, person.id, contact.channel, now)
    audit.note(store, None if by is None else by.id, "removed", now, who=person.id)
    nobody = nobody_hears(store, clinic, now)
    values: dict[str, Value] = {"by": person.name, "nobody": nobody, "numbers": ", ".join(held)}
    said = Said("clinician/removed", values)
    for other in people.by_role(store, *CLINICAL, Role.OWNER):
        if by is None or other.id != by.id:
            tell(store, clinic, other, said, now)
    return said
