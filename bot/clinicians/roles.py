"""Says who may do what: one table, by role. Decides nothing else.

A role is known by the verified address a message came from. Read next: `message`.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from bot.clinicians.refusal import NotDoneError
from bot.store.people import Person, Role
from dialogs.clinician_commands import WhyNot


class Right(StrEnum):
    """Something that may be done, in words that complete "to ..."."""

    ANSWER = "answer questions about oneself"
    TAKE = "take an escalation"
    CLOSE = "close an escalation"
    READ = "read about a patient"
    ENROL = "enrol a patient"
    CHANGE_PLAN = "change a plan or write to a patient"
    HEAR_ALARMS = "be told of worries"
    STAFF = "change staff, rota or wording"
    HEAR_RUNNING = "be told every working day that the bot runs"


CLINICIANS_RIGHTS = frozenset(
    {
        Right.TAKE,
        Right.CLOSE,
        Right.READ,
        Right.ENROL,
        Right.CHANGE_PLAN,
        Right.HEAR_ALARMS,
    }
)

MAY: Mapping[Role, frozenset[Right]] = {
    Role.PATIENT: frozenset({Right.ANSWER}),
    Role.CLINICIAN: CLINICIANS_RIGHTS,
    Role.LEAD_CLINICIAN: CLINICIANS_RIGHTS | {Right.HEAR_RUNNING, Right.STAFF},
    Role.OWNER: frozenset({Right.HEAR_RUNNING}),
}
"""Who may do what. The owner runs the machine and reads nothing about a patient."""


def may(person: Person, right: Right) -> bool:
    """Whether this person's role has the right."""
    return right in MAY[person.role]


def demand(person: Person, right: Right) -> None:
    """Raise NotDoneError, with who could do it, unless the person's role has the right."""
    if not may(person, right):
        role = person.role.value
        raise NotDoneError(WhyNot.OTHER_ROLE, right=right.value, role=role)
