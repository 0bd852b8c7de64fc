"""A clinician at one instant, with what every command of theirs needs: to find a patient by name,
to answer, to tell a patient or a colleague, and to leave a line of audit.

Decides nothing and changes no plan. Read next: `message`, `escalation_commands`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from bot.clinic import Clinic
from bot.clinicians.refusal import NotDoneError
from bot.errors import NotFoundError
from bot.patient_record.record import PatientRecord, record_of
from bot.patient_record.say import Buttons, Say, say, tell, words_for
from bot.store import audit, escalations, people
from bot.store.database import Store
from bot.store.escalations import Escalation
from bot.store.people import Person
from dialogs.clinician_commands import WhyNot
from dialogs.turn import Said


@dataclass(frozen=True)
class Reply:
    """What a clinician is answered: words, and buttons and a kept picture where the channel shows
    them."""

    said: Said
    buttons: Buttons = ()
    picture: int | None = None


class Request:
    """One clinician at one instant. `by_text`: what they wrote came as a text message, whose sender
    can be forged."""

    def __init__(
        self, store: Store, clinic: Clinic, person: Person, now: datetime, *, by_text: bool = False
    ) -> None:
        self.store, self.clinic, self.person, self.now = store, clinic, person, now
        self.by_text = by_text

    def tell(
        self, person: Person, said: Said, buttons: Buttons = (), picture: int | None = None
    ) -> None:
        """Say something to a clinician, on the clinic's clock."""
        tell(self.store, self.clinic, person, said, self.now, buttons=buttons, picture=picture)

    def words(self, person: Person, said: Said) -> str:
        """What it says to a clinician, in their language and on the clinic's clock."""
        return words_for(self.clinic, person.language, said, self.now)

    def tell_patient(self, escalation: Escalation, said: Said) -> str:
        """Say something to the patient of an escalation; gives the words, empty where they have
        opted out and are told nothing."""
        case = self.case_of(escalation.patient)
        return self.tell_case(case, said)

    def tell_case(self, case: PatientRecord, said: Said) -> str:
        """The same, of a patient."""
        words = self.patient_words(case, said)
        if words:
            say(case.told_by(self.person.name), Say(said))
        return words

    def patient_words(self, case: PatientRecord, said: Said) -> str:
        """What it says to the patient, word for word; empty where they cannot be told."""
        if case.patient.opted_out_at is not None or not case.contacts:
            return ""
        return case.told_by(self.person.name).words(said)

    def case(self, name: str) -> PatientRecord:
        """The patient of this name; raises NotDoneError unless there is exactly one."""
        found = people.patients_named(self.store, name)
        if len(found) == 1:
            return PatientRecord(self.store, self.clinic, found[0], self.now)
        if not found:
            raise NotDoneError(WhyNot.NOBODY, wanted=name)
        names = sorted({patient.name for patient in found})
        if len(names) == 1:
            raise NotDoneError(WhyNot.SAME_NAME, wanted=names[0])
        raise NotDoneError(WhyNot.SEVERAL, names=", ".join(names))

    def case_of(self, patient: int) -> PatientRecord:
        """The patient with this number."""
        return record_of(self.store, self.clinic, patient, self.now)

    def escalation(self, number: int) -> Escalation:
        """The escalation with this number; raises NotDoneError where there is none."""
        try:
            return escalations.get(self.store, number)
        except NotFoundError:
            raise NotDoneError(WhyNot.NO_ESCALATION, number=number) from None

    def name(self, person: int) -> str:
        """What somebody is called."""
        return people.person(self.store, person).name

    def audit(self, action: str, **details: object) -> None:
        """Leave a line of what this clinician did."""
        audit.note(self.store, self.person.id, action, self.now, **details)
