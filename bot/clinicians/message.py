"""A clinician's message: a command that is carried out, or a sentence that says what would be one.

Nothing but "I have it", from a verified address, ends an escalation. What changes a plan is said
to the patient in the same transaction. Who may do what is one table; see `roles`.
"""

from __future__ import annotations

from bot.clinicians.confirmation import settle_waiting
from bot.clinicians.enter_sheet import enter_sheet
from bot.clinicians.escalation_commands import (
    acknowledge,
    add_note,
    close_meant,
    hand_over,
    takeable,
)
from bot.clinicians.invite import invite_patient
from bot.clinicians.need_list import list_more, list_needs, set_aside
from bot.clinicians.page_link import open_page
from bot.clinicians.patient_summary import patient_lines, patient_picture
from bot.clinicians.plan_commands import order_change
from bot.clinicians.readmit import readmit
from bot.clinicians.refusal import NotDoneError
from bot.clinicians.remove import remove
from bot.clinicians.request import Reply, Request
from bot.clinicians.roles import Right, demand, may
from bot.errors import BotError
from bot.escalations.history import history_lines
from bot.escalations.notify import is_listed
from bot.escalations.unread_list import words_lines
from bot.store.confirmations import Confirmation
from bot.store.inbox import Outcome
from bot.store.people import INVITATION_DAYS
from dialogs.clinician import read_command
from dialogs.clinician_commands import (
    Acknowledge,
    AddNote,
    AskHelp,
    CloseEscalation,
    Command,
    Confirm,
    Enrol,
    EnterSheet,
    HandOver,
    ListMore,
    ListNeeds,
    NotUnderstood,
    OpenPage,
    Readmit,
    RemoveStaff,
    SetAside,
    ShowHistory,
    ShowPatient,
    ShowWords,
    Thanks,
    WhyNot,
)
from dialogs.turn import Said, Value
from dialogs.words import shipped_words
from rules.first_level import asks_ability
from rules.protocol import Position


def obey(request: Request, text: str) -> Outcome:
    """Carry out one command and answer it on the person's channel."""
    outcome, reply = answer(request, text)
    request.tell(request.person, reply.said, reply.buttons, reply.picture)
    return outcome


def answer(request: Request, text: str) -> tuple[Outcome, Reply]:
    """Carry out one command; gives the reply. A refusal says why, is kept, and changes nothing."""
    command = _read(request, text)
    try:
        confirmed = settle_waiting(
            request, command, take=_to_take(request) if isinstance(command, Confirm) else ""
        )
        with request.store.savepoint():
            reply = _answered(request, command, text, confirmed)
    except BotError as error:
        request.audit("refused", command=type(command).__name__, why=str(error))
        why = (
            request.words(request.person, error.said)
            if isinstance(error, NotDoneError)
            else str(error)
        )
        reply = Reply(Said("clinician/refused", {"why": why}))
    outcome = Outcome.UNREAD if isinstance(command, NotUnderstood) else Outcome.HANDLED
    return outcome, reply


def _answered(
    request: Request, command: Command, text: str, confirmed: Confirmation | None
) -> Reply:
    """A YES is the command that waited for it, read again; every other command is itself."""
    if confirmed is None:
        return carry_out(request, command, text)
    if isinstance(command, Confirm) and not command.yes:
        return Reply(Said("clinician/dropped"))
    return carry_out(request, _read(request, confirmed.command), confirmed.command, confirmed)


def _read(request: Request, text: str) -> Command:
    today = request.now.astimezone(request.clinic.zone_info).date()
    return read_command(text, today=today, words=shipped_words(request.person.language))


def carry_out(
    request: Request, command: Command, text: str, confirmed: Confirmation | None = None
) -> Reply:
    """Do what is asked, as it was written in `text`; gives the reply. Raises BotError where it
    cannot be done, or not by this person."""
    match command:
        case Acknowledge():
            return acknowledge(request, command)
        case CloseEscalation():
            return close_meant(request, command, text, confirmed)
        case HandOver():
            return hand_over(request, command)
        case AddNote():
            return add_note(request, command)
        case Enrol():
            return _enrol(request, command)
        case EnterSheet():
            return enter_sheet(request, command)
        case RemoveStaff():
            return remove(request, command, text, confirmed)
        case Readmit():
            return readmit(request, command)
        case NotUnderstood() | AskHelp():
            return _expected(request, command)
        case Thanks():
            return _thanked(request)
        case OpenPage():
            return open_page(request, command)
        case ListNeeds():
            return list_needs(request)
        case ListMore():
            return list_more(request)
        case SetAside():
            return set_aside(request, command)
        case ShowHistory() | ShowPatient() | ShowWords():
            return _show(request, command)
        case Confirm():
            raise NotDoneError(WhyNot.NOTHING_WAITS)
        case _:
            return order_change(request, command, text, confirmed)


def _expected(request: Request, command: NotUnderstood | AskHelp) -> Reply:
    if not may(request.person, Right.READ):
        return Reply(Said("clinician/owner-expected"))
    if isinstance(command, AskHelp):
        return Reply(Said("clinician/commands"))
    if command.about:
        return Reply(Said("clinician/expected-one", {"command": command.about}))
    return Reply(Said("clinician/expected", {"meant": command.meant}))


def _thanked(request: Request) -> Reply:
    """Thanks take nothing: whoever may take an escalation that waits for them is told so."""
    return Reply(Said("clinician/thanked", {"numbers": _to_take(request)}))


def _to_take(request: Request) -> str:
    """The numbers of the alarms that wait for somebody who may take them; never of what is only
    listed."""
    waiting = takeable(request) if may(request.person, Right.TAKE) else []
    return " ".join(str(one.id) for one in waiting if not is_listed(one))


def _show(request: Request, command: ShowHistory | ShowPatient | ShowWords) -> Reply:
    demand(request.person, Right.READ)
    match command:
        case ShowHistory():
            if command.number is not None:
                request.escalation(command.number)
            lines = history_lines(
                request.store, request.clinic, command.number, request.person.language
            )
        case ShowPatient():
            said = _patient_said("clinician/patient", request, command.patient)
            return Reply(
                said,
                picture=patient_picture(request.case(command.patient), request.person.language),
            )
        case ShowWords():
            lines = words_lines(request.case(command.patient), request.person)
    return Reply(Said("clinician/needs", {"lines": "\n".join(lines)}))


def _patient_said(template: str, request: Request, name: str) -> Said:
    lines = patient_lines(request.case(name), request.person.language)
    return Said(template, {"lines": "\n".join(lines)})


def _enrol(request: Request, command: Enrol) -> Reply:
    demand(request.person, Right.ENROL)
    begins = None if command.level is None else Position(command.level, command.dose)
    name, by = command.name, request.person.id
    code = invite_patient(
        request.store, request.clinic, name, command.tendon, by, request.now, begins
    )
    values: dict[str, Value] = {"name": name, "code": code, "days": INVITATION_DAYS}
    ladder = request.clinic.protocol(request.clinic.ladders[command.tendon])
    asked = command.level is None and asks_ability(ladder)
    values |= {"number": command.level or 1, "dose": command.dose, "begins_open": asked}
    return Reply(Said("clinician/invited", values))
