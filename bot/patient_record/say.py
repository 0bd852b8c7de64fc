"""Turns what a dialog says into an outbox row: rendered text, buttons with payloads."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from bot.clinic import Clinic
from bot.patient_record.record import PatientRecord
from bot.ports import Button
from bot.store import outbox
from bot.store.database import Store
from bot.store.outbox import Draft, Urgency
from bot.store.people import Person
from dialogs.memory import payload
from dialogs.rendering import render
from dialogs.turn import Said, Situation

Buttons = tuple[tuple[Button, ...], ...]


@dataclass(frozen=True)
class Say:
    """One message to a patient. `once_key`, `prompt`, `expires_at`, `picture`: see `Draft`."""

    said: Said
    urgency: Urgency = Urgency.REPLY
    once_key: str | None = None
    prompt: int | None = None
    expires_at: datetime | None = None
    picture: int | None = None


def say(record: PatientRecord, message: Say) -> None:
    """Write one message to the patient, unless it was written before or nothing reaches them."""
    if not record.contacts:
        return
    draft = Draft(
        person=record.patient.id,
        text=record.words(message.said),
        urgency=message.urgency,
        choices=tuple(
            tuple(Button(choice.label, payload(choice.asked, choice.answer)) for choice in row)
            for row in message.said.choices
        ),
        once_key=message.once_key,
        prompt=message.prompt,
        expires_at=message.expires_at,
        picture=message.picture,
    )
    outbox.write_at(record.store, draft, record.contacts[0], record.now)


def tell(
    store: Store,
    clinic: Clinic,
    person: Person,
    said: Said,
    now: datetime,
    *,
    buttons: Buttons = (),
    once_key: str | None = None,
    picture: int | None = None,
) -> None:
    """Write one message to somebody of the clinic, on its own clock."""
    text = words_for(clinic, person.language, said, now)
    draft = Draft(person.id, text, Urgency.REPLY, buttons, once_key, picture=picture)
    outbox.write(store, draft, now)


def words_for(clinic: Clinic, language: str, said: Said, now: datetime) -> str:
    """What is said in a language, on the clinic's clock, in its own wording where it has one."""
    return words_of(clinic, said, situation_at(clinic, language, now))


def situation_at(clinic: Clinic, language: str, now: datetime) -> Situation:
    """What the dialog may know where no one patient is spoken of."""
    here = now.astimezone(clinic.zone_info)
    return Situation(now=here, language=language, clinic=clinic.name)


def words_of(clinic: Clinic, said: Said, situation: Situation) -> str:
    """The text alone, in the clinic's own wording where it has one."""
    return render(said, situation, overrides=clinic.wording_in(situation.language))
