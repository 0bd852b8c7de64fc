"""Puts the questions that wait: the message for the head of the queue, with its buttons.

Chooses no question (`patient`, `prompts`) and reads no reply (`reading`).
Read next: `wording/en/asking.toml`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from zoneinfo import ZoneInfo

from dialogs.questions import Kind
from dialogs.rendering import day_word
from dialogs.turn import Asked, Choice, Prescription, Question, Said, Situation, State, Value
from dialogs.waiting import TRIES_BEFORE_CHOICES, batch, choices
from dialogs.words import Words
from rules.protocol import DoseUnit

_FIRST_DAY = Question.NEXT_DAY_PAIN

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
    state: State, situation: Situation, words: Words, template: str = "ask", **values: Value
) -> Said:
    """The questions at the head of the queue, said by `template` (which includes "ask")."""
    asked = batch(state.waiting)
    first = asked[0]
    if first.tries >= TRIES_BEFORE_CHOICES:
        asked = asked[:1]
    return Said(
        template,
        {
            "asks": " ".join(dict.fromkeys(a.question.entry for a in asked)),
            "example": " ".join(a.question.row.example for a in asked),
            "about": first.about.isoformat(),
            "day": day_word(first.about, situation.today, language=situation.language),
            "days_ago": (situation.today - first.about).days,
            "since_session": _since_session(asked, situation),
            "out_of": first.out_of,
            "sign": first.sign,
            "sign_question": first.wording,
            "guess": state.guess,
            "guess_time": _local(state.guess, situation.now),
            "unprompted": state.unprompted,
            "kind": first.question.row.kind.value,
            **_both_sides(state),
            **item_values(asked, first),
            **values,
        },
        _buttons(state, words, asked),
    )


def _since_session(asked: tuple[Asked, ...], situation: Situation) -> str:
    """The day of the session since which the two-day question asks for the worst, because nothing
    was said of the first day; else empty, and it asks for the last 24 hours."""
    known = {answer.about for answer in situation.answered if answer.question is _FIRST_DAY}
    unknown = (a.about for a in asked if a.question is Question.TWO_DAY_PAIN)
    about = next((on for on in unknown if on not in known), None)
    return day_word(about, situation.today, language=situation.language) if about else ""


def item_values(asked: tuple[Asked, ...], first: Asked) -> dict[str, Value]:
    """Which items of the sheet are asked for, and what the first of them can be; without an item
    `items` is empty and `item` 0. `allowed`: empty where it can be all of `lowest` to `highest`."""
    fact = first.question.row
    return {
        "items": " ".join(str(a.question.row.item) for a in asked if a.question.row.item),
        "item": first.question.row.item,
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


def _buttons(
    state: State, words: Words, asked: tuple[Asked, ...]
) -> tuple[tuple[Choice, ...], ...]:
    first = state.waiting[0]
    if state.guess and first.question.row.kind is Kind.PLACE:
        row = tuple(Choice(words.buttons[a], a, first) for a in ("yes", "no"))
        return (row,)
    pad = choices(first, words.buttons)
    if len(asked) == 1:
        return pad
    # Of several questions the pad answers the first, and says so; an item by its own number.
    number = first.question.row.item or 1
    return tuple(tuple(replace(c, label=f"{number}) {c.label}") for c in row) for row in pad)


def _both_sides(state: State) -> dict[str, Value]:
    """While enrolling, the side is what was just answered; afterwards the situation knows it."""
    for answer in state.gathered:
        if answer.question is Question.SIDE:
            return {"both_sides": answer.value == "both"}
    return {}


def _local(zone: str, now: datetime) -> str:
    """The time in a zone now, as "14:05"; empty where no zone is offered."""
    return now.astimezone(ZoneInfo(zone)).strftime("%H:%M") if zone else ""
