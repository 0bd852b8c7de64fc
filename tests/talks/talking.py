"""A patient at the phone: what is said to the bot, what is heard back, what was recorded."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from dialogs import patient
from dialogs.rendering import render
from dialogs.turn import (
    Answer,
    Asked,
    Message,
    Prescription,
    Question,
    Recorded,
    Situation,
    State,
    Turn,
)
from rules.protocol import Dose, DoseUnit, Level

TODAY = date(2026, 3, 4)  # a Wednesday
ZONE = ZoneInfo("Europe/London")

RAISES = Prescription(
    Level(
        name="heel raise on one leg",
        exercise="Rise on the toes of the sore leg, then lower. Use a wall for balance.",
        tempo="2 seconds up, 2 seconds down",
        doses=(Dose(3, 12, DoseUnit.REPETITIONS),),
        days_min=21,
        spacing_hours=48,
    ),
    Dose(3, 12, DoseUnit.REPETITIONS),
)

SITUATION = Situation(
    now=datetime.combine(TODAY, time(8, 0), ZONE),
    patient_name="Ana",
    clinic="Hill Clinic",
    clinician_name="Dr Moss",
    clinic_phone="+1 555 0100",
    emergency_number="112",
    crisis_line="555 0199, day and night",
    side="left",
    prescription=RAISES,
    last_session_on=date(2026, 3, 2),
)


@dataclass
class Conversation:
    """One patient's thread with the dialog."""

    situation: Situation = SITUATION
    state: State = field(default_factory=State)
    turn: Turn = field(default_factory=lambda: Turn(State()))

    def prompt(self, kind: str, *asks: Question, about: date | None = None) -> Conversation:
        """A prompt goes out."""
        days = dict.fromkeys(asks, about) if about else {}
        self._keep(patient.open_prompt(kind, self.state, self.situation, asks, days))
        return self

    def says(self, *texts: str) -> Conversation:
        """The patient writes, message after message."""
        for text in texts:
            self._keep(patient.step(self.state, Message(text), self.situation))
        return self

    def presses(self, answer: str, asked: Asked) -> Conversation:
        """The patient presses a button of a question."""
        self._keep(patient.step(self.state, Message(answer, asked), self.situation))
        return self

    def knows(self, **values: object) -> Conversation:
        """The situation changes."""
        self.situation = replace(self.situation, **values)  # type: ignore[arg-type]
        return self

    @property
    def hears(self) -> str:
        """All that the last turn said, in one text."""
        said = (*self.turn.said, *self.turn.said_after)
        return " // ".join(render(one, self.situation) for one in said)

    @property
    def recorded(self) -> tuple[Recorded, ...]:
        """What the last turn recorded."""
        return self.turn.recorded

    @property
    def answers(self) -> dict[str, int | str]:
        """The answers that the last turn recorded, by question."""
        return {r.question.value: r.value for r in self.recorded if isinstance(r, Answer)}

    @property
    def waits_for(self) -> list[str]:
        """The questions that wait, in order."""
        return [asked.question.value for asked in self.state.waiting]

    def _keep(self, turn: Turn) -> None:
        self.turn, self.state = turn, turn.state


def morning() -> Conversation:
    """A conversation with the morning's two questions waiting."""
    return Conversation().prompt("morning", Question.FIRST_STEP_PAIN, Question.STIFFNESS)


def evening() -> Conversation:
    """A conversation with the session report waiting."""
    return Conversation().prompt("evening", Question.SETS_DONE)
