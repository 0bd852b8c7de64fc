"""A clinician's message: a command that is carried out, or a sentence that says what would be one.

Nothing but "I have it", from a verified address, ends an escalation. What changes a plan is said
to the patient in the same transaction.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from bot.case import Case
from bot.change_plan import allow_hops, pause, resume, set_level
from bot.clinic import Clinic
from bot.enrolling import invite_patient
from bot.errors import BotError, RefusedError
from bot.say import say
from bot.show import needs, patient_lines
from bot.store import audit, escalations, people
from bot.store.database import Store
from bot.store.escalations import Escalation, NoticeKind
from bot.store.inbox import Outcome, Received
from bot.store.outbox import Urgency
from bot.store.people import INVITATION_DAYS, Person
from dialogs.clinician import read_command
from dialogs.turn import (
    Acknowledge,
    AllowHops,
    CloseConcern,
    Command,
    Enrol,
    ListNeeds,
    NotUnderstood,
    PausePatient,
    ResumePatient,
    Said,
    SetLevel,
    ShowPatient,
    Situation,
    Value,
)


def hear_clinician(
    store: Store, clinic: Clinic, person: Person, received: Received, now: datetime
) -> Outcome:
    """Carry out one command and answer it. A refusal says why, and changes nothing."""
    incoming = received.incoming
    today = now.astimezone(clinic.zone_info).date()
    command = read_command(incoming.pressed or incoming.text, today=today)
    desk = Desk(store, clinic, person, now)
    try:
        with store.savepoint():
            said = desk.carry_out(command)
    except BotError as error:
        audit.note(store, person.id, "refused", now, why=str(error))
        said = Said("clinician/refused", {"why": str(error)})
    desk.tell(person, said)
    return Outcome.UNREAD if isinstance(command, NotUnderstood) else Outcome.HANDLED


class Desk:
    """One clinician at one instant."""

    def __init__(self, store: Store, clinic: Clinic, person: Person, now: datetime) -> None:
        self.store, self.clinic, self.person, self.now = store, clinic, person, now

    def carry_out(self, command: Command) -> Said:
        """Do what is asked; gives the reply. Raises BotError where it cannot be done."""
        match command:
            case Acknowledge():
                return self._acknowledge(command)
            case CloseConcern():
                return self._close(command)
            case Enrol():
                return self._enrol(command)
            case ListNeeds():
                lines = needs(self.store, self.clinic)
                return Said("clinician/needs", {"lines": "\n".join(lines)})
            case ShowPatient():
                lines = patient_lines(self._case(command.patient))
                return Said("clinician/patient", {"lines": "\n".join(lines)})
            case NotUnderstood():
                return Said("clinician/expected")
            case _:
                return self._change_plan(command)

    def tell(self, person: Person, said: Said) -> None:
        """Say something to a clinician, on the clinic's clock."""
        situation = Situation(
            now=self.now.astimezone(self.clinic.zone_info),
            language=person.language,
            clinic=self.clinic.name,
        )
        say(self.store, self.clinic, person.id, said, situation, Urgency.REPLY, self.now)

    def _acknowledge(self, command: Acknowledge) -> Said:
        escalation = self._meant(command.number, escalations.unacknowledged(self.store))
        who = self._who(escalation)
        if not escalations.acknowledge(self.store, escalation.id, self.person.id, self.now):
            held = escalations.get(self.store, escalation.id)
            at = held.acknowledged_at or self.now
            first = self._name(held.acknowledged_by or self.person.id)
            local = at.astimezone(self.clinic.zone_info)
            return Said("clinician/taken", {**who, "by": first, "at": f"{local:%H:%M}"})
        self._audit("acknowledged", escalation=escalation.id)
        self._tell_others(escalation)
        self._tell_patient(escalation, Said("told/acknowledged", {"by": self.person.name}))
        return Said("clinician/acknowledged", who)

    def _close(self, command: CloseConcern) -> Said:
        escalation = self._meant(command.number, escalations.not_closed(self.store))
        case = self._case_of(escalation.patient)
        closed = escalations.close(
            self.store,
            escalation.id,
            self.person.id,
            command.outcome,
            command.note,
            case.today,
            self.now,
        )
        who = self._who(escalation)
        if not closed:
            return Said("clinician/closed-before", who)
        self._audit("closed", escalation=escalation.id, outcome=command.outcome)
        still = escalations.not_closed(self.store, escalation.patient)
        self._tell_patient(
            escalation, Said("told/closed", {"by": self.person.name, "others": len(still)})
        )
        return Said("clinician/closed", {**who, "outcome": command.outcome})

    def _meant(self, number: int | None, waiting: list[Escalation]) -> Escalation:
        """The escalation a command is about. Without a number: the only one that waits."""
        if number is not None:
            return escalations.get(self.store, number)
        if len(waiting) == 1:
            return waiting[0]
        if not waiting:
            raise RefusedError("nothing is waiting")
        listed = ", ".join(f"{e.id} ({self._name(e.patient)})" for e in waiting[:5])
        raise RefusedError(f"say which one, with its number: {listed}")

    def _enrol(self, command: Enrol) -> Said:
        code = invite_patient(
            self.store, self.clinic, command.name, command.tendon, self.person.id, self.now
        )
        values: dict[str, Value] = {"name": command.name, "code": code, "days": INVITATION_DAYS}
        return Said("clinician/invited", values)

    def _change_plan(self, command: Command) -> Said:
        """Set a level, pause, resume, open or close the gate; the patient is told."""
        assert isinstance(command, SetLevel | PausePatient | ResumePatient | AllowHops)
        case = self._case(command.patient)
        told: Said | None
        match command:
            case SetLevel():
                told = set_level(case, command.level, command.dose, self.person.id)
            case PausePatient():
                told = pause(case, command.until, self.person.id)
            case ResumePatient():
                told = resume(case)
            case AllowHops():
                # The patient hears of the gate with the advice that it changes.
                allow_hops(case, allowed=command.allowed)
                told = None
        self._audit(type(command).__name__, patient=case.patient.id)
        if told is not None:
            fresh = case.again()
            situation = fresh.situation()
            say(
                self.store, self.clinic, case.patient.id, told, situation, Urgency.REPLY, self.now
            )
        return Said("clinician/plan-changed", {"lines": "\n".join(patient_lines(case.again()))})

    def _tell_others(self, escalation: Escalation) -> None:
        """Whoever was told of the matter hears that somebody has it."""
        told = escalations.history(self.store, escalation.id, NoticeKind.TOLD)
        for other in {row["person"] for row in told} - {self.person.id}:
            values = {**self._who(escalation), "by": self.person.name}
            self.tell(people.person(self.store, other), Said("clinician/somebody-has-it", values))

    def _tell_patient(self, escalation: Escalation, said: Said) -> None:
        case = self._case_of(escalation.patient)
        if case.patient.opted_out_at is not None:
            return
        situation = replace(case.situation(prescribe=False), clinician_name=self.person.name)
        say(self.store, self.clinic, case.patient.id, said, situation, Urgency.REPLY, self.now)

    def _case(self, name: str) -> Case:
        """The patient of this name; raises RefusedError unless there is exactly one."""
        found = people.patients_named(self.store, name)
        if len(found) == 1:
            return Case(self.store, self.clinic, found[0], self.now)
        if not found:
            raise RefusedError(f"no patient is named {name!r}")
        raise RefusedError(f"more than one patient: {', '.join(p.name for p in found)}")

    def _case_of(self, patient: int) -> Case:
        return Case(self.store, self.clinic, people.person(self.store, patient), self.now)

    def _who(self, escalation: Escalation) -> dict[str, Value]:
        return {"number": escalation.id, "patient": self._name(escalation.patient)}

    def _name(self, person: int) -> str:
        return people.person(self.store, person).name

    def _audit(self, action: str, **details: object) -> None:
        audit.note(self.store, self.person.id, action, self.now, **details)
