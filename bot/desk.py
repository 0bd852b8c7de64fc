"""A clinician at one instant, with what every command of theirs needs: to find a patient by name,
to answer, to tell a patient or a colleague, and to leave a line of audit.

Decides nothing and changes no plan. Read next: `hear_clinician`, `take_matters`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from bot.case import Case
from bot.clinic import Clinic
from bot.errors import RefusedError
from bot.ports import Button
from bot.say import say, words_of
from bot.store import audit, outbox, people
from bot.store.database import Store
from bot.store.escalations import Escalation
from bot.store.outbox import Draft, Urgency
from bot.store.people import Person
from dialogs.turn import Said, Situation

Buttons = tuple[tuple[Button, ...], ...]


@dataclass(frozen=True)
class Reply:
    """What a clinician is answered: words, and buttons and a kept picture where the channel shows
    them."""

    said: Said
    buttons: Buttons = ()
    picture: int | None = None


class Desk:
    """One clinician at one instant."""

    def __init__(self, store: Store, clinic: Clinic, person: Person, now: datetime) -> None:
        self.store, self.clinic, self.person, self.now = store, clinic, person, now

    def tell(
        self, person: Person, said: Said, buttons: Buttons = (), picture: int | None = None
    ) -> None:
        """Say something to a clinician, on the clinic's clock."""
        situation = Situation(
            now=self.now.astimezone(self.clinic.zone_info),
            language=person.language,
            clinic=self.clinic.name,
        )
        text = words_of(self.clinic, said, situation)
        draft = Draft(person.id, text, Urgency.REPLY, buttons, picture=picture)
        outbox.write(self.store, draft, self.now)

    def tell_patient(self, escalation: Escalation, said: Said) -> None:
        """Say something to the patient of a matter, unless they have opted out."""
        case = self.case_of(escalation.patient)
        if case.patient.opted_out_at is not None:
            return
        situation = replace(case.situation(prescribe=False), clinician_name=self.person.name)
        say(self.store, self.clinic, case.patient.id, said, situation, Urgency.REPLY, self.now)

    def case(self, name: str) -> Case:
        """The patient of this name; raises RefusedError unless there is exactly one."""
        found = people.patients_named(self.store, name)
        if len(found) == 1:
            return Case(self.store, self.clinic, found[0], self.now)
        if not found:
            raise RefusedError(f"no patient is named {name!r}")
        raise RefusedError(f"more than one patient: {', '.join(p.name for p in found)}")

    def case_of(self, patient: int) -> Case:
        """The patient with this number."""
        return Case(self.store, self.clinic, people.person(self.store, patient), self.now)

    def name(self, person: int) -> str:
        """What somebody is called."""
        return people.person(self.store, person).name

    def audit(self, action: str, **details: object) -> None:
        """Leave a line of what this clinician did."""
        audit.note(self.store, self.person.id, action, self.now, **details)
