"""Keeps a conversation's state as text, and a button's question as a payload of 64 bytes.

Reads back only what it wrote: anything else raises `StateError`, so a damaged row is seen.
Read next: `turn`.
"""

from __future__ import annotations

import json
from datetime import date, datetime
from typing import Any

from dialogs.errors import StateError
from dialogs.turn import Answer, Asked, Completed, Question, State

# Longest payload of a button [bytes, included]. Source: Bot API, callback_data.
PAYLOAD_BYTES_MAX = 64
SEPARATOR = "|"


def state_text(state: State) -> str:
    """The state as one line of JSON."""
    return json.dumps(
        {
            "waiting": [_asked_values(asked) for asked in state.waiting],
            "last": [_asked_values(asked) for asked in state.last],
            "gathered": [
                [a.question.value, a.about.isoformat(), a.value, a.corrects] for a in state.gathered
            ],
            "guess": state.guess,
            "loose": state.unprompted,
            "missed": [_asked_values(asked) for asked in state.missed],
            "held": [[c.group, c.about.isoformat()] for c in state.held],
        },
        separators=(",", ":"),
    )


def read_state(text: str) -> State:
    """The state that `state_text` wrote. Raises `StateError` on anything else."""
    try:
        kept = json.loads(text)
        return State(
            waiting=tuple(_asked(values) for values in kept["waiting"]),
            last=tuple(_asked(values) for values in kept["last"]),
            gathered=tuple(_answer(values) for values in kept["gathered"]),
            guess=_checked(kept["guess"], str),
            unprompted=_checked(kept["loose"], str),
            held=tuple(_completed(values) for values in kept["held"]),
            missed=tuple(_asked(values) for values in kept["missed"]),
        )
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise StateError(f"expected a conversation's state as JSON, found {text[:80]!r}") from error


def payload(asked: Asked, answer: str) -> str:
    """What a button carries: its question and its answer. Raises `StateError` over 64 bytes."""
    text = SEPARATOR.join((asked.question.value, asked.about.isoformat(), asked.sign, answer))
    if len(text.encode()) > PAYLOAD_BYTES_MAX:
        raise StateError(f"a button takes at most {PAYLOAD_BYTES_MAX} bytes, found {text!r}")
    return text


def read_payload(text: str) -> tuple[Asked, str]:
    """The question and the answer of a pressed button. Raises `StateError` on anything else."""
    try:
        question, about, sign, answer = text.split(SEPARATOR)
        return Asked(Question(question), date.fromisoformat(about), sign), answer
    except ValueError as error:
        raise StateError(f"expected a button's payload, found {text[:80]!r}") from error


def _asked_values(asked: Asked) -> list[str | int]:
    return [
        asked.question.value,
        asked.about.isoformat(),
        asked.sign,
        asked.tries,
        asked.wording,
        asked.out_of,
        "" if asked.closes_at is None else asked.closes_at.isoformat(),
    ]


def _asked(values: list[Any]) -> Asked:
    question, about, sign, tries, wording, out_of, closes_at = values
    return Asked(
        Question(question),
        date.fromisoformat(about),
        _checked(sign, str),
        _checked(tries, int),
        _checked(wording, str),
        _checked(out_of, int),
        _instant(_checked(closes_at, str)),
    )


def _instant(text: str) -> datetime | None:
    """An aware instant, or None for an empty text; raises ValueError for one without a zone."""
    if not text:
        return None
    found = datetime.fromisoformat(text)
    if found.tzinfo is None:
        raise ValueError(text)
    return found


def _answer(values: list[Any]) -> Answer:
    question, about, value, corrects = values
    if isinstance(value, bool) or not isinstance(value, int | str):
        raise TypeError(value)
    return Answer(
        Question(question), date.fromisoformat(about), value, bool(_checked(corrects, bool))
    )


def _completed(values: list[Any]) -> Completed:
    group, about = values
    return Completed(_checked(group, str), date.fromisoformat(about))


def _checked(value: Any, kind: type) -> Any:
    if type(value) is not kind:
        raise TypeError(f"expected {kind.__name__}, found {value!r}")
    return value
