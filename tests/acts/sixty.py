"""A clinic of sixty made-up patients on one Monday morning, written straight into the store: four
weeks of mornings each, some of them over their limit, some silent, some with words nobody read."""

from __future__ import annotations

import random
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from bot.clinic import Clinic
from bot.clinicians.invite import invite_patient
from bot.store import answers, people, plans
from dialogs.turn import Question
from rules.protocol import Position, Tendon

FIRST = ("Ada", "Bea", "Cleo", "Dora", "Edda", "Fay", "Gro", "Hal", "Ida", "Jon", "Kaj", "Lea")
LAST = ("Birch", "Cedar", "Elm", "Hazel", "Larch")
DAYS = 28


def sixty(store: Any, clinic: Clinic, now: datetime) -> None:
    """Add them, each with a chat under their name: "ada birch"."""
    chance = random.Random(60)
    for number, name in enumerate(f"{first} {last}" for last in LAST for first in FIRST):
        invite_patient(store, clinic, name, Tendon.MID_PORTION, None, now - timedelta(days=DAYS))
        (patient,) = people.patients_named(store, name)
        people.add_contact(store, patient.id, "chat", name.lower(), now)
        episode = plans.of_patient(store, patient.id)
        enrolled_on = now.date() - timedelta(days=DAYS)
        plans.enrol(
            store, episode, side="left", usual_pain=2, usual_stiffness=10,
            morning_time=time(7, 30), on=enrolled_on, now=now,
        )  # fmt: skip
        _mornings(store, episode.id, enrolled_on, number, chance)


def _mornings(store: Any, episode: int, first: date, number: int, chance: random.Random) -> None:
    """Every sixth is over the limit at the end; every tenth answers no more for four days. Each
    does a session every other day."""
    for day in range(1, DAYS):
        pain = chance.choice((1, 2, 2, 3))
        if number % 6 == 0 and day >= DAYS - 1 - number % 5:
            pain = 6
        if number % 10 == 5 and day >= DAYS - 4:
            continue
        on = first + timedelta(days=day)
        at = datetime.combine(on, time(7, 40), UTC)
        said = {Question.FIRST_STEP_PAIN: pain, Question.STIFFNESS: 10}
        if day % 2:
            answers.keep_session(store, episode, on, Position(1, 1), 3, at)
            said |= {Question.SETS_DONE: 3, Question.PAIN_DURING: 2, Question.PAIN_AFTER: 1}
            said |= {Question.EFFORT: 4, Question.PAINKILLER: 0}
        for question, value in said.items():
            answers.keep(store, episode, question, on, value, at, None)
