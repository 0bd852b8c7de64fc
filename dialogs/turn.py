"""The frozen values of a conversation: what came in, what waits, what was recorded, what is said.

Nothing here decides or words anything. Read next: `questions`, then `patient`; `clinician_commands`
for what a clinician may say.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time

from dialogs.questions import Question as Question
from dialogs.wishes import HealthNews, TopicsAsked, Wish
from rules.protocol import Dose, Level, Tendon


@dataclass(frozen=True)
class Asked:
    """A question that waits for its answer.

    `about`: the local date the answer belongs to (the morning's, or the session's).
    `sign`: for `Question.SIGN`, the key of the warning sign the closed question is about, and
    `wording` the closed question itself, so that it can be put again.
    `out_of`: for `Question.SETS_DONE`, the sets prescribed [count]; 0 where that is not known.
    `closes_at`: when its prompt is over, aware; from then on a bare number is no longer taken for
    its answer (see `late`). None: it stays open.
    `tries`: answers that were not understood so far [count].
    """

    question: Question
    about: date
    sign: str = ""
    tries: int = 0
    wording: str = ""
    out_of: int = 0
    closes_at: datetime | None = None

    @property
    def key(self) -> tuple[Question, date, str]:
        """What makes it the same question, however often it was tried."""
        return (self.question, self.about, self.sign)


@dataclass(frozen=True)
class State:
    """Where a conversation stands. `waiting`: questions in the order in which they are put.

    `last`: the questions that the last message answered, for "sorry, 5".
    `gathered`: enrolment answers so far. `guess`: the time zone offered, until it is confirmed.
    `unprompted`: a text that came with nothing waiting, while we ask what it is about.
    `missed`: questions whose prompt was over before they were answered.
    `held`: groups complete already, told once the follow-up asked in the same message is answered.
    It survives a restart as JSON: see `state_text`, `read_state` in `memory`.
    """

    waiting: tuple[Asked, ...] = ()
    last: tuple[Asked, ...] = ()
    gathered: tuple[Answer, ...] = ()
    guess: str = ""
    unprompted: str = ""
    held: tuple[Completed, ...] = ()
    missed: tuple[Asked, ...] = ()


@dataclass(frozen=True)
class Message:
    """What a person wrote or pressed.

    `pressed`: for a button, the question (and its date) it belonged to; an old button must never
    answer a newer question. None for typed text.
    """

    text: str
    pressed: Asked | None = None


@dataclass(frozen=True)
class Prescription:
    """What one session consists of, for wording."""

    level: Level
    dose: Dose


@dataclass(frozen=True)
class Situation:
    """What the dialog may know besides the state. `now` is aware, in the patient's own zone.

    `prescription`: today's session where one is offered, else None.
    `last_session_on`: local date of the latest session reported, or None.
    `spike_over`: other activity of today that is longer is a spike [minutes]; None: cannot be told.
    `answered`: the answers of the last days that stand, to know what is on record.
    `ways`: kinds of channel on which the patient can be reached, "chat" and "text".
    `away`: whether the patient's zone is that of a stay elsewhere.
    `asks_ability`: whether it is open where the ladder begins.
    `usual`: first-step pain and stiffness, where they are known [points, minutes].
    `crisis_line`: whom to call in a mental-health crisis, with the number; empty where not set.
    `wording`: the clinic's own templates in this language, by name; empty for the shipped ones.
    """

    now: datetime
    language: str = "en"
    patient_name: str = ""
    clinic: str = ""
    clinician_name: str = ""
    clinic_phone: str = ""
    emergency_number: str = ""
    side: str = ""
    tendon: Tendon = Tendon.MID_PORTION
    prescription: Prescription | None = None
    last_session_on: date | None = None
    paused_until: date | None = None
    spike_over: int | None = None
    crisis_line: str = ""
    enrolled: bool = True
    opted_out: bool = False
    answered: tuple[Answer, ...] = ()
    ways: tuple[str, ...] = ()
    away: bool = False
    asks_ability: bool = False
    usual: tuple[int, int] | None = None
    wording: Mapping[str, str] = field(default_factory=dict)

    @property
    def today(self) -> date:
        """The patient's local date."""
        return self.now.date()


# What a turn records. `handle` in bot turns each into rows.


@dataclass(frozen=True)
class Answer:
    """A reading. Value: integer for scales, minutes and counts; 1/0 for yes and no; text for
    enrolment questions (zone name, "07:30", side). `corrects`: it replaces an earlier answer.
    """

    question: Question
    about: date
    value: int | str
    corrects: bool = False


@dataclass(frozen=True)
class SignAnswered:
    """A closed question about a warning sign was answered."""

    sign: str
    yes: bool


@dataclass(frozen=True)
class Consented:
    """The patient agreed to be asked; `wording` is the text shown, kept with the time."""

    wording: str


@dataclass(frozen=True)
class Declined:
    """The patient does not agree to be asked. Nothing more is sent."""


@dataclass(frozen=True)
class Enrolled:
    """All enrolment questions are answered."""

    time_zone: str
    morning_time: time
    side: str
    usual_pain: int
    usual_stiffness: int


@dataclass(frozen=True)
class Completed:
    """The last waiting question of a group was answered, so there is something to decide on.

    `group`: "morning", "session", "follow-up", "weekly" or "visa-a".
    """

    group: str
    about: date


@dataclass(frozen=True)
class Skipped:
    """The patient chose not to answer these."""

    questions: tuple[Asked, ...]


@dataclass(frozen=True)
class OptedOut:
    """The patient wants no more messages."""


@dataclass(frozen=True)
class OptedIn:
    """The patient wants messages again."""


@dataclass(frozen=True)
class Unread:
    """Not understood: it goes to the clinician's unread list as it is."""

    text: str


@dataclass(frozen=True)
class Remark(Unread):
    """Words, or a question, beside numbers that were read and kept."""


Recorded = (
    Answer
    | SignAnswered
    | Consented
    | Declined
    | Enrolled
    | Completed
    | Skipped
    | OptedOut
    | OptedIn
    | Wish
    | Unread
)


@dataclass(frozen=True)
class Choice:
    """A button: what it shows, what it answers, and the question it answers."""

    label: str
    answer: str
    asked: Asked


Value = str | int | float | bool | None | date | time


@dataclass(frozen=True)
class Said:
    """Something to say: a template's name, its values, and buttons in rows."""

    template: str
    values: Mapping[str, Value] = field(default_factory=dict)
    choices: tuple[tuple[Choice, ...], ...] = ()


@dataclass(frozen=True)
class Turn:
    """The whole result of one step of a conversation.

    `said` goes out at once. `said_after` goes out behind whatever the bot itself has to say
    (advice, the reply to a warning sign): it is the next question that waits.
    """

    state: State
    recorded: tuple[Recorded, ...] = ()
    said: tuple[Said, ...] = ()
    said_after: tuple[Said, ...] = ()


def took_all(before: State, turn: Turn) -> bool:
    """Whether a message was taken whole: it answered or wished something, and nothing is left over
    that was not understood.
    """
    if turn.state.unprompted or any(isinstance(thing, Unread) for thing in turn.recorded):
        return False
    for thing in turn.recorded:
        if isinstance(thing, HealthNews) or (isinstance(thing, TopicsAsked) and not thing.plain):
            return False
    was, now = (
        ([asked.key for asked in state.waiting], state.gathered, state.guess)
        for state in (before, turn.state)
    )
    return bool(turn.recorded) or was != now
