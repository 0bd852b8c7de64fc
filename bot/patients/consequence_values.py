"""What may come of a patient's message, as frozen values. First those that write, then those that
are said or decided once all is written. Read next: `consequences`, which orders them; `apply`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from bot.patient_record.say import Say
from dialogs.turn import Recorded, Said, State
from dialogs.wishes import PlanAsked, ProgressAsked, TopicsAsked, WhyAsked
from rules.history import Tier
from rules.warning_sign import Sign


@dataclass(frozen=True)
class Escalate:
    """A clinician hears of it. `said`: what the patient is told to do at once. `stops_loading`:
    until a clinician has closed it. `once_key`: a second one with the same key is not raised.
    `remarks`: our own words about the patient's, in the clinic's language."""

    sign: str
    tier: Tier
    words: str
    said: Said | None = None
    stops_loading: bool = False
    once_key: str | None = None
    remarks: str = ""


@dataclass(frozen=True)
class AskSigns:
    """Closed questions are put because of these words; each has a time to be answered by."""

    signs: tuple[Sign, ...]
    words: str


@dataclass(frozen=True)
class SettleSign:
    """A closed question waits no more."""

    sign: str
    how: str


@dataclass(frozen=True)
class KeepWords:
    """An earlier message led to nothing but closed questions and a no: a clinician is shown it."""

    message: int


@dataclass(frozen=True)
class AddWords:
    """What belongs to an escalation that is open: the patient's words, or our own on them."""

    escalation: int
    words: str = ""
    remarks: str = ""


@dataclass(frozen=True)
class TakeBack:
    """A correction leaves nothing of what an escalation was raised for: it is closed, and whoever
    was told hears so. `now`: the numbers as they are now [points]."""

    escalation: int
    now: str


@dataclass(frozen=True)
class ShowUnread:
    """The words of the last day that nothing was made of are before a clinician now."""


@dataclass(frozen=True)
class Record:
    """What the dialog took from the message is kept: an answer, a wish, words nobody understood."""

    thing: Recorded


@dataclass(frozen=True)
class UndoMoves:
    """A correction: what the rules moved since that local date is decided anew."""

    since: date


@dataclass(frozen=True)
class KeepState:
    """The conversation stands here now."""

    state: State


@dataclass(frozen=True)
class Decide:
    """The rules are asked, and their answer is kept. `said`: the patient is told; `whole`: even if
    it is the same as before; `corrected`: it came by a correction."""

    said: bool = False
    whole: bool = False
    corrected: bool = False


@dataclass(frozen=True)
class SayHeldBack:
    """The advice that waited since then for the answers to closed questions is said."""

    since: datetime


@dataclass(frozen=True)
class SayVisaTotal:
    """The total of the VISA-A sheet of a local date is said back."""

    on: date


@dataclass(frozen=True)
class Plan:
    """The patient's prompts are planned."""


@dataclass(frozen=True)
class RaiseAlerts:
    """What the numbers alone say is raised to a clinician."""


# What the patient asked to be told is a consequence as it stands.
Asked = WhyAsked | PlanAsked | ProgressAsked | TopicsAsked

Write = (
    Escalate
    | AskSigns
    | SettleSign
    | KeepWords
    | AddWords
    | TakeBack
    | ShowUnread
    | Record
    | UndoMoves
    | KeepState
)
Reply = Say | Decide | SayHeldBack | Asked | SayVisaTotal | Plan | RaiseAlerts
Consequence = Write | Reply
