"""What a clinician may tell the bot, as frozen values: one class a command.

Patients are named by the text that was written. Nothing here reads, decides or acts. Read next:
`clinician`, which reads them.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from rules.protocol import Tendon


@dataclass(frozen=True)
class Acknowledge:
    """ "I have it". `number` None: the only open one. `every`: all of the list that was sent.
    `more`: further numbers. `note`: what stands behind them, to be kept."""

    number: int | None = None
    every: bool = False
    more: tuple[int, ...] = ()
    note: str = ""


class Outcome(StrEnum):
    """What an escalation is closed with: what follows for the patient."""

    GO_ON = "go on"
    NOT_WORRYING = "not worrying"
    REST = "rest"
    SENT_ON = "sent on"
    STAYS_STOPPED = "stays stopped"


class Done(StrEnum):
    """What a clinician did about an escalation. It does not say what follows."""

    SEEN = "seen"
    SPOKE = "spoke to them"


LOADS = frozenset({Outcome.GO_ON, Outcome.NOT_WORRYING})
"""Outcomes after which loading goes on."""


@dataclass(frozen=True)
class CloseEscalation:
    """ "closed 12 rest until 3 May, calf is soft". `number` None: the only one that is open.

    `outcome` None: none was named, and what was written instead is the note, with `done` where it
    says what was done. `until`: the last day of rest. `questions`: whether the daily ones go on.
    """

    number: int | None
    outcome: Outcome | None = None
    note: str = ""
    done: Done | None = None
    until: date | None = None
    questions: bool = True


@dataclass(frozen=True)
class HandOver:
    """Somebody else is to take an escalation; whoever has it still does until they say so."""

    number: int
    to: str


@dataclass(frozen=True)
class LiftStop:
    """The patient, whose loading a clinician has stopped, may load again from tomorrow."""

    patient: str


@dataclass(frozen=True)
class AddNote:
    """Words of the clinician to be kept with an escalation."""

    number: int
    note: str


@dataclass(frozen=True)
class ShowHistory:
    """All that happened to an escalation. `number` None: the latest ones, a line each."""

    number: int | None = None


@dataclass(frozen=True)
class Enrol:
    """Invite a new patient. `level` None: the ladder begins at its first level."""

    name: str
    tendon: Tendon
    channel: str = ""
    address: str = ""
    level: int | None = None
    dose: int = 1


@dataclass(frozen=True)
class SetLevel:
    """Put the patient on a level (and dose), whatever the rules say."""

    patient: str
    level: int
    dose: int = 1


@dataclass(frozen=True)
class PausePatient:
    """No loading until a date; `until` None: until the clinician says otherwise, in words."""

    patient: str
    until: date | None = None


@dataclass(frozen=True)
class ResumePatient:
    """End a pause."""

    patient: str


@dataclass(frozen=True)
class AllowHops:
    """Open or close the gate to hops."""

    patient: str
    allowed: bool


@dataclass(frozen=True)
class RestToday:
    """No session today, whatever the rules say."""

    patient: str


@dataclass(frozen=True)
class GoOnToday:
    """Today's session at the present dose, whatever the rules say."""

    patient: str


@dataclass(frozen=True)
class LimitPain:
    """The patient's own pain limit from now on [points; what is allowed is looked at later]."""

    patient: str
    limit: int


@dataclass(frozen=True)
class SetPace:
    """More days between raises for this patient, or with `slower` False the usual ones again."""

    patient: str
    slower: bool


@dataclass(frozen=True)
class TellPatient:
    """The clinician's own words to the patient, as they were written."""

    patient: str
    words: str


@dataclass(frozen=True)
class DischargePatient:
    """The treatment ends."""

    patient: str


@dataclass(frozen=True)
class Readmit:
    """The number is still that of the patient who left: they are heard again."""

    patient: str


@dataclass(frozen=True)
class TakeBack:
    """A treatment that was ended goes on."""

    patient: str


@dataclass(frozen=True)
class Confirm:
    """ "YES": do what was asked about; with `yes` False, do not. `number`: on a button, of the
    question it was made for."""

    yes: bool
    number: int | None = None


@dataclass(frozen=True)
class EnterSheet:
    """The points of a VISA-A sheet that the patient filled in, as they were written."""

    patient: str
    points: tuple[int, ...]


@dataclass(frozen=True)
class RemoveStaff:
    """Somebody is no longer with the clinic."""

    name: str


@dataclass(frozen=True)
class ListNeeds:
    """ "Who needs me?" """


@dataclass(frozen=True)
class ListMore:
    """ "More": the next of those who need somebody."""


@dataclass(frozen=True)
class SetAside:
    """Done for now: the patient is kept from this clinician's list until there is more to see."""

    patient: str


@dataclass(frozen=True)
class OpenPage:
    """ "Page": a link to the clinic page; with `off`, the end of all links and sessions."""

    off: bool = False


@dataclass(frozen=True)
class ShowPatient:
    """Four lines about one patient."""

    patient: str


@dataclass(frozen=True)
class ShowWords:
    """What one patient wrote that nothing was made of."""

    patient: str


@dataclass(frozen=True)
class AskHelp:
    """ "Help": all that can be said."""


@dataclass(frozen=True)
class Thanks:
    """ "Ok", "thanks", a thumbs-up: asks for nothing, and takes nothing."""


@dataclass(frozen=True)
class NotUnderstood:
    """The clinician's words were not a command; `expected` says what would be.

    `about`: the command that was begun, where only something in it is missing; else empty.
    `meant`: a command that the words are nearly, to be asked about and never carried out.
    """

    text: str
    about: str = ""
    meant: str = ""


Command = (
    Acknowledge
    | CloseEscalation
    | HandOver
    | LiftStop
    | AddNote
    | ShowHistory
    | Enrol
    | SetLevel
    | PausePatient
    | ResumePatient
    | AllowHops
    | EnterSheet
    | RestToday
    | GoOnToday
    | LimitPain
    | SetPace
    | TellPatient
    | DischargePatient
    | Readmit
    | RemoveStaff
    | TakeBack
    | Confirm
    | ListNeeds
    | ListMore
    | SetAside
    | OpenPage
    | ShowPatient
    | ShowWords
    | AskHelp
    | Thanks
    | NotUnderstood
)


class WhyNot(StrEnum):
    """Why a command is not carried out; each has its sentence in `clinician/why-not`."""

    NOBODY = "nobody"
    SEVERAL = "several"
    SAME_NAME = "same-name"
    NOT_ENROLLED = "not-enrolled"
    ENDED = "ended"
    ENDED_BEFORE = "ended-before"
    NOT_ENDED = "not-ended"
    STILL_OPEN = "still-open"
    STOPPED = "stopped"
    NOT_HELD = "not-held"
    NO_COLLEAGUE = "no-colleague"
    NOT_STOPPED = "not-stopped"
    NO_DAY = "no-day"
    PLAN_CHANGED = "plan-changed"
    SIGN_ASKED = "sign-asked"
    PAUSED = "paused"
    DONE_TODAY = "done-today"
    OPTED_OUT = "opted-out"
    UNREACHABLE = "unreachable"
    TOO_LONG = "too-long"
    NO_LEVEL = "no-level"
    NO_DOSE = "no-dose"
    BARRED = "barred"
    PAST_DAY = "past-day"
    OVER_CEILING = "over-ceiling"
    OVER_QUESTION = "over-question"
    NOTHING_WAITS = "nothing-waits"
    LATE_YES = "late-yes"
    CODE_EXPECTED = "code-expected"
    YES_EXPECTED = "yes-expected"
    OTHER_ROLE = "other-role"
    NO_ESCALATION = "no-escalation"
    NOTHING_OPEN = "nothing-open"
    NOTHING_LISTED = "nothing-listed"
    WHICH_ONE = "which-one"
    NO_PAGE = "no-page"
    NO_MORE = "no-more"
    NOT_LISTED = "not-listed"
    NO_NAME = "no-name"
    NAME_TAKEN = "name-taken"
    COLLEAGUE_TAKEN = "colleague-taken"
