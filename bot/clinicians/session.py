"""A clinician at one instant, with what every command of theirs needs: to find a patient by name,
to answer, to tell a patient or a colleague, and to leave a line of audit.

Decides nothing and changes no plan. Read next: `hear_clinician`, `take_matters`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from bot.clinic import Clinic
from bot.clinicians.refusal import NotDoneError
from bot.errors import NotFoundError
from bot.patient_record.record import Case
from bot.patient_record.say import say, words_of
from bot.ports import Button
from bot.store import audit, escalations, outbox, people
from bot.store.database import Store
from bot.store.escalations import Escalation
from bot.store.outbox import Draft, Urgency
from bot.store.people import Person
from dialogs.clinician_commands import WhyNot
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
        text = self.words(person, said)
        draft = Draft(person.id, text, Urgency.REPLY, buttons, picture=picture)
        outbox.write(self.store, draft, self.now)

    def words(self, person: Person, said: Said) -> str:
        """What it says to a clinician, in their language and on the clinic's clock."""
        situation = Situation(
            now=self.now.astimezone(self.clinic.zone_info),
            language=person.language,
            clinic=self.clinic.name,
        )
        return words_of(self.clinic, said, situation)

    def tell_patient(self, escalation: Escalation, said: Said) -> None:
        """Say something to the patient of a matter, unless they have opted out."""
        case = self.case_of(escalation.patient)
        if case.patient.opted_out_at is not None:
            return
        situation = replace(case.situation(prescribe=False), clinician_name=self.person.name)
        say(self.store, self.clinic, case.patient.id, said, situation, Urgency.REPLY, self.now)

    def case(self, name: str) -> Case:
        """The patient of this name; raises NotDoneError unless there is exactly one."""
        found = people.patients_named(self.store, name)
        if len(found) == 1:
            return Case(self.store, self.clinic, found[0], self.now)
        if not found:
            raise NotDoneError(WhyNot.NOBODY, wanted=name)
        names = sorted({patient.name for patient in found})
        if len(names) == 1:
            raise NotDoneError(WhyNot.SAME_NAME, wanted=names[0])
        raise NotDoneError(WhyNot.SEVERAL, names=", ".join(names))

    def case_of(self, patient: int) -> Case:
        """The patient with this number."""
        return Case(self.store, self.clinic, people.person(self.store, patient), self.now)

    def matter(self, number: int) -> Escalation:
        """The matter with this number; raises NotDoneError where there is none."""
        try:
            return escalations.get(self.store, number)
        except NotFoundError:
            raise NotDoneError(WhyNot.NO_MATTER, number=number) from None

    def name(self, person: int) -> str:
        """What somebody is called."""
        return people.person(self.store, person).name

    def audit(self, action: str, **details: object) -> None:
        """Leave a line of what this clinician did."""
        audit.note(self.store, self.person.id, action, self.now, **details)
