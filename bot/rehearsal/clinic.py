"""A small made-up clinic: its settings, two clinicians, and how its patients answer.

No person, place or number here is real; the phone number is from a range kept for fiction.
Source: Ofcom, telephone numbers for drama use (from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import time

from bot.clinic import Clinic
from dialogs.turn import Question
from rules.escalation import Pace
from rules.protocol import Tendon
from rules.protocol_reader import SHIPPED, read_protocol, shipped_text
from rules.working_hours import WorkingHours

ZONE = "Europe/London"


def made_up_clinic() -> Clinic:
    """The clinic of the rehearsal, with the shipped protocols and warning signs."""
    texts = {name: shipped_text(name) for name in SHIPPED}
    return Clinic(
        name="Quaymore Physio",
        phone="020 7946 0141",
        emergency_number="112",
        crisis_line="the crisis line on 020 7946 0199",
        zone=ZONE,
        pace=Pace(WorkingHours(ZONE)),
        protocols={name: read_protocol(text) for name, text in texts.items()},
        protocol_texts=texts,
        ladders={
            Tendon.MID_PORTION: "mid-portion-ladder",
            Tendon.INSERTIONAL: "insertional-ladder",
        },
    )


@dataclass(frozen=True)
class Cast:
    """A clinician of the rehearsal and the addresses where they are reached, in order."""

    name: str
    channels: tuple[tuple[str, str], ...]


CLINICIANS = (
    Cast("Ilse", (("chat", "ilse"), ("text", "ilse"))),
    Cast("Bram", (("chat", "bram"), ("text", "bram"))),
)

Diary = Callable[[int, Question], int | None]
"""What a patient answers: (day of treatment from 0, question) -> the number, None for silence."""


@dataclass(frozen=True)
class Habit:
    """A patient of the rehearsal: how it started, and what they answer each day.

    `free`: messages of their own, by day of treatment.
    """

    name: str
    tendon: Tendon
    side: str
    usual_pain: int
    usual_stiffness: int
    morning_time: time
    diary: Diary
    free: Mapping[int, str] = field(default_factory=dict)
    goal: str = "run 5 km with my daughter"


# Small day-to-day changes, so that no two mornings are alike. [points on 0-10, minutes]
RIPPLE = (0, 1, 0, 0, -1, 0, 1, 0, -1, 0, 0)


def steady(
    pain: int, stiffness: int, changes: Mapping[int, Mapping[Question, int]] | None = None
) -> Diary:
    """A steady tendon with small ripples, and the days on which it was otherwise."""
    changed = changes or {}

    def answer(day: int, question: Question) -> int | None:
        usual = {
            Question.FIRST_STEP_PAIN: max(0, pain + RIPPLE[day % len(RIPPLE)]),
            Question.STIFFNESS: max(0, stiffness + 5 * RIPPLE[(day + 3) % len(RIPPLE)]),
            Question.NEXT_DAY_PAIN: pain,
            Question.TWO_DAY_PAIN: pain,
            Question.PAIN_DURING: min(3, pain),
            Question.PAIN_AFTER: min(3, pain),
            Question.PAINKILLER: 0,
            Question.ACTIVITY_MINUTES: 20 + 5 * (day % 3),
            Question.HEEL_RAISES: 8 + day // 7,
            Question.OTHER_HEEL_RAISES: 20,
        }
        row = question.row
        other = int(row.example) if (row.column or row.item) and row.example.isdigit() else None
        return changed.get(day, {}).get(question, usual.get(question, other))

    return answer


def _until(day: int, diary: Diary) -> Diary:
    """Answers up to a day, and silence after it."""
    return lambda today, question: diary(today, question) if today < day else None


FLARE = {
    Question.FIRST_STEP_PAIN: 6,
    Question.STIFFNESS: 35,
    Question.NEXT_DAY_PAIN: 6,
}

PATIENTS = (
    Habit("Nadia", Tendon.MID_PORTION, "left", 2, 10, time(7, 15), steady(2, 10)),
    Habit("Osric", Tendon.INSERTIONAL, "right", 3, 25, time(7, 45), steady(3, 25)),
    Habit(
        "Petra",
        Tendon.MID_PORTION,
        "right",
        2,
        15,
        time(8, 0),
        steady(
            2,
            15,
            {
                16: {Question.PAIN_DURING: 6, Question.PAIN_AFTER: 5},
                17: FLARE,
                18: {**FLARE, Question.FIRST_STEP_PAIN: 5},
                19: {Question.FIRST_STEP_PAIN: 4},
            },
        ),
    ),
    Habit("Tomas", Tendon.MID_PORTION, "left", 3, 15, time(8, 30), _until(18, steady(3, 15))),
)
