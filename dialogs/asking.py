"""Puts the questions that wait: the message for the head of the queue, with its buttons.

Chooses no question (`patient`, `prompts`) and reads no reply (`reading`).
Read next: `templates/en/ask`.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from zoneinfo import ZoneInfo

from dialogs.questions import (
    FACTS,
    TRIES_BEFORE_CHOICES,
    VISA_A,
    Kind,
    batch,
    choices,
    item_of,
    template_name,
)
from dialogs.rendering import day_word
from dialogs.turn import Asked, Choice, Prescription, Question, Said, Situation, State, Value
from dialogs.words import Words
from rules.protocol import DoseUnit

# A reply that shows how: plausible and low, so that it suggests nothing alarming. Convention.
EXAMPLES: Mapping[Question, str] = {
    Question.FIRST_STEP_PAIN: "3",
    Question.STIFFNESS: "10",
    Question.NEXT_DAY_PAIN: "2",
    Question.TWO_DAY_PAIN: "2",
    Question.SETS_DONE: "3",
    Question.PAIN_DURING: "2",
    Question.PAIN_AFTER: "1",
    Question.EFFORT: "4",
    Question.PAINKILLER: "no",
    **dict(zip(VISA_A, ("7", "6", "7", "7", "6", "5", "4", "10"), strict=True)),
}

_NOTHING_DUE: Mapping[str, Value] = {
    "level": "",
    "exercise": "",
    "tempo": "",
    "sets": 0,
    "amount": 0,
    "seconds": False,
    "load": 0.0,
    "heavy": False,
}


def ask(
    state: State, situation: Situation, words: Words, template: str = "question", **values: Value
) -> Said:
    """The questions at the head of the queue, said by `template` (which includes "question")."""
    asked = batch(state.waiting)
    first = asked[0]
    if first.tries >= TRIES_BEFORE_CHOICES:
        asked = asked[:1]
    return Said(
        template,
        {
            "asks": " ".join(dict.fromkeys(template_name(a.question) for a in asked)),
            "example": " ".join(EXAMPLES.get(a.question, "3") for a in asked),
            "about": first.about.isoformat(),
            "day": day_word(first.about, situation.today, language=situation.language),
            "days_ago": (situation.today - first.about).days,
            "out_of": first.out_of,
            "sign_question": first.wording,
            "guess": state.guess,
            "guess_time": _local(state.guess, situation.now),
            "unprompted": state.unprompted,
            "kind": FACTS[first.question].kind.value,
            **_both_sides(state),
            **item_values(asked, first),
            **values,
        },
        _buttons(state, words),
    )


def item_values(asked: tuple[Asked, ...], first: Asked) -> dict[str, Value]:
    """Which items of the sheet are asked for, and what the first of them can be; without an item
    `items` is empty and `item` 0. `allowed`: empty where it can be all of `lowest` to `highest`."""
    fact = FACTS[first.question]
    return {
        "items": " ".join(str(item_of(a.question)) for a in asked if item_of(a.question)),
        "item": item_of(first.question),
        "allowed": ", ".join(str(points) for points in fact.allowed),
        "lowest": fact.lowest,
        "highest": fact.highest,
    }


def session_values(prescription: Prescription | None) -> dict[str, Value]:
    """What a session consists of, for templates; `exercise` is empty where there is none."""
    if prescription is None:
        return dict(_NOTHING_DUE)
    level, dose = prescription.level, prescription.dose
    return {
        "level": level.name,
        "exercise": level.exercise,
        "tempo": level.tempo,
        "sets": dose.sets,
        "amount": dose.amount,
        "seconds": dose.unit is DoseUnit.SECONDS,
        "load": dose.added_load_kg,
        "heavy": level.heavy or level.hops,
    }


def _buttons(state: State, words: Words) -> tuple[tuple[Choice, ...], ...]:
    first = state.waiting[0]
    if state.guess and FACTS[first.question].kind is Kind.PLACE:
        row = tuple(Choice(words.buttons[a], a, first) for a in ("yes", "no"))
        return (row,)
    return choices(first, words.buttons)


def _both_sides(state: State) -> dict[str, Value]:
    """While enrolling, the side is what was just answered; afterwards the situation knows it."""
    for answer in state.gathered:
        if answer.question is Question.SIDE:
            return {"both_sides": answer.value == "both"}
    return {}


def _local(zone: str, now: datetime) -> str:
    """The time in a zone now, as "14:05"; empty where no zone is offered."""
    return now.astimezone(ZoneInfo(zone)).strftime("%H:%M") if zone else ""
