"""A clinician's message: a command that is carried out, or a sentence that says what would be one.

Nothing but "I have it", from a verified address, ends an escalation. What changes a plan is said
to the patient in the same transaction. Who may do what is one table; see `roles`.
"""

from __future__ import annotations

from datetime import datetime

from bot.change_plan import allow_hops, pause, resume, set_level
from bot.clinic import Clinic
from bot.desk import Desk, Reply
from bot.enrolling import invite_patient
from bot.errors import BotError
from bot.matter_history import history_lines
from bot.roles import Right, demand
from bot.say import say
from bot.show import needs, patient_lines, patient_picture
from bot.store.database import Store
from bot.store.inbox import Outcome, Received
from bot.store.outbox import Urgency
from bot.store.people import INVITATION_DAYS, Person
from bot.take_matters import acknowledge, add_note, close
from dialogs.clinician import read_command
from dialogs.turn import (
    Acknowledge,
    AddNote,
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
    ShowHistory,
    ShowPatient,
    Value,
)
from dialogs.words import shipped_words


def hear_clinician(
    store: Store, clinic: Clinic, person: Person, received: Received, now: datetime
) -> Outcome:
    """Carry out one command and answer it. A refusal says why, is kept, and changes nothing."""
    incoming = received.incoming
    today = now.astimezone(clinic.zone_info).date()
    words = shipped_words(person.language)
    command = read_command(incoming.pressed or incoming.text, today=today, words=words)
    desk = Desk(store, clinic, person, now)
    try:
        with store.savepoint():
            reply = carry_out(desk, command)
    except BotError as error:
        desk.audit("refused", command=type(command).__name__, why=str(error))
        reply = Reply(Said("clinician/refused", {"why": str(error)}))
    desk.tell(person, reply.said, reply.buttons, reply.picture)
    return Outcome.UNREAD if isinstance(command, NotUnderstood) else Outcome.HANDLED


def carry_out(desk: Desk, command: Command) -> Reply:
    """Do what is asked; gives the reply. Raises BotError where it cannot be done, or not by this
    person."""
    match command:
        case Acknowledge():
            return acknowledge(desk, command)
        case CloseConcern():
            return close(desk, command)
        case AddNote():
            return add_note(desk, command)
        case Enrol():
            return _enrol(desk, command)
        case NotUnderstood():
            return Reply(Said("clinician/expected"))
        case ShowHistory() | ListNeeds() | ShowPatient():
            return _show(desk, command)
        case _:
            return _change_plan(desk, command)


def _show(desk: Desk, command: ShowHistory | ListNeeds | ShowPatient) -> Reply:
    demand(desk.person, Right.READ)
    match command:
        case ShowHistory():
            lines = history_lines(desk.store, desk.clinic, command.number)
        case ListNeeds():
            lines = needs(desk.store, desk.clinic, desk.now)
        case ShowPatient():
            said = _patient_said("clinician/patient", desk, command.patient)
            return Reply(said, picture=patient_picture(desk.case(command.patient)))
    return Reply(Said("clinician/needs", {"lines": "\n".join(lines)}))


def _patient_said(template: str, desk: Desk, name: str) -> Said:
    return Said(template, {"lines": "\n".join(patient_lines(desk.case(name)))})


def _enrol(desk: Desk, command: Enrol) -> Reply:
    demand(desk.person, Right.ENROL)
    code = invite_patient(
        desk.store, desk.clinic, command.name, command.tendon, desk.person.id, desk.now
    )
    values: dict[str, Value] = {"name": command.name, "code": code, "days": INVITATION_DAYS}
    return Reply(Said("clinician/invited", values))


def _change_plan(desk: Desk, command: Command) -> Reply:
    """Set a level, pause, resume, open or close the gate; the patient is told."""
    assert isinstance(command, SetLevel | PausePatient | ResumePatient | AllowHops)
    demand(desk.person, Right.CHANGE_PLAN)
    case = desk.case(command.patient)
    told: Said | None
    match command:
        case SetLevel():
            told = set_level(case, command.level, command.dose, desk.person.id)
        case PausePatient():
            told = pause(case, command.until, desk.person.id)
        case ResumePatient():
            told = resume(case)
        case AllowHops():
            # The patient hears of the gate with the advice that it changes.
            allow_hops(case, allowed=command.allowed)
            told = None
    desk.audit(type(command).__name__, patient=case.patient.id)
    if told is not None:
        situation = case.again().situation()
        say(desk.store, desk.clinic, case.patient.id, told, situation, Urgency.REPLY, desk.now)
    return Reply(_patient_said("clinician/plan-changed", desk, case.patient.name))
