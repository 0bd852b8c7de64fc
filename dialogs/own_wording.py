"""Checks a clinic's own templates before the first patient sees one, and measures all of them.

Names what is wrong in one sentence each; mends nothing. Read next: `samples`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from dialogs.advising import prescription_at
from dialogs.errors import WordingError
from dialogs.prompts import open_prompt
from dialogs.questions import VISA_A
from dialogs.rendering import (
    GSM_ESCAPED,
    GSM_LETTERS,
    Segments,
    gsm,
    parsed,
    render,
    segments,
    template_names,
)
from dialogs.samples import SITUATION, sample_texts, used_values
from dialogs.turn import Prescription, Question, Situation, State
from rules.protocol import Position, Protocol

# A long name, as prompts are measured with it [letters]. Convention.
LONG_NAME = "Maximiliane-Alexandrina"

# What a prompt may ask in one message, by its kind.
PROMPTS: tuple[tuple[str, tuple[Question, ...]], ...] = (
    ("morning", (Question.FIRST_STEP_PAIN, Question.STIFFNESS)),
    ("morning", (Question.FIRST_STEP_PAIN, Question.STIFFNESS, Question.NEXT_DAY_PAIN)),
    ("morning", (Question.FIRST_STEP_PAIN, Question.STIFFNESS, Question.TWO_DAY_PAIN, *VISA_A[6:])),
    ("evening", (Question.SETS_DONE,)),
    ("evening", (Question.NEXT_DAY_PAIN, Question.SETS_DONE)),
    ("evening", (Question.SETS_DONE, Question.HEEL_RAISES)),
    ("follow-up", (Question.NEXT_DAY_PAIN,)),
    ("weekly", (Question.HEEL_RAISES,)),
)


@dataclass(frozen=True)
class Message:
    """A template as the clinic will send it: its text with sample values, the longest there is.

    `own`: the clinic words it itself. `size`: by SMS, in plain letters.
    """

    name: str
    language: str
    text: str
    size: Segments
    own: bool


def messages(
    language: str, wording: Mapping[str, str], *, changed: bool = False
) -> Iterator[Message]:
    """Every template of a language in order. wording: the clinic's own, by name.

    changed: only those. Raises `WordingError` where one cannot be made; see `problems`.
    """
    for name in sorted(wording) if changed else template_names(language):
        texts = sample_texts(name, language, wording)
        longest = max(texts, key=lambda text: segments(gsm(text)).units)
        yield Message(name, language, longest, segments(gsm(longest)), name in wording)


def problems(
    language: str, wording: Mapping[str, str], protocols: Iterable[Protocol]
) -> tuple[tuple[str, str], ...]:
    """What is wrong with a clinic's own templates of one language: (template, sentence).

    protocols: those in use, for the length of prompts.
    """
    known = frozenset(template_names(language))
    found = [(name, problem) for name in sorted(wording)
             if (problem := _problem(name, language, wording, known))]  # fmt: skip
    if not found:
        found += _long_prompts(language, wording, protocols)
    return tuple(found)


def _problem(name: str, language: str, wording: Mapping[str, str], known: frozenset[str]) -> str:
    """The first thing that is wrong with one template; "" where nothing is."""
    if name not in known:
        return "there is no message of this name; `nextmorning wording --list` shows them"
    try:
        _tree, used = parsed(name, language, wording[name])
        foreign = sorted(used - used_values(name, language) - ALWAYS)
        if foreign:
            return f"asks for {', '.join(foreign)}, which this message is never given"
        texts = sample_texts(name, language, wording)
    except WordingError as error:
        return f"cannot be read: {error}"
    wide = sorted({letter for text in texts for letter in gsm(text) if not _cheap(letter)})
    if wide:
        shown = " ".join(wide)
        return f"holds what a text message cannot carry in its plain alphabet: {shown}"
    return ""


# What every message is given.
ALWAYS = frozenset({
    "name", "clinic", "clinician", "clinic_phone", "emergency_number", "crisis_line", "both_sides",
    "today", "br",
})  # fmt: skip


def _cheap(letter: str) -> bool:
    return letter in GSM_LETTERS or letter in GSM_ESCAPED


def _long_prompts(
    language: str, wording: Mapping[str, str], protocols: Iterable[Protocol]
) -> list[tuple[str, str]]:
    """Prompts that take more than one SMS segment however far they are cut: the longest one."""
    touched = [n for n in sorted(wording) if n in ("ask", "prompt") or n.startswith("question/")]
    if not touched:
        return []
    longest = max(prompt_texts(language, wording, protocols), key=lambda t: segments(gsm(t)).units)
    size = segments(gsm(longest))
    if size.count == 1:
        return []
    said = f"makes a prompt of {size.units} units, over one segment of a text message: {longest!r}"
    return [(", ".join(touched), said)]


def prompt_texts(
    language: str, wording: Mapping[str, str], protocols: Iterable[Protocol]
) -> Iterator[str]:
    """Every prompt with every dose of the protocols, for one sore side and for two."""
    sessions = [None, *(one for protocol in protocols for one in _sessions(protocol))]
    base = replace(SITUATION, language=language, wording=wording, patient_name=LONG_NAME)
    for side in ("left", "both"):
        for session in sessions:
            situation = replace(base, side=side, prescription=session)
            for kind, asks in PROMPTS:
                yield from _prompted(kind, asks, situation)


def _prompted(kind: str, asks: tuple[Question, ...], situation: Situation) -> Iterator[str]:
    turn = open_prompt(kind, State(), situation, asks, {})
    yield from (render(said, situation) for said in turn.said)
    again = open_prompt(f"{kind}-reminder", turn.state, situation, asks, {})
    yield from (render(said, situation) for said in again.said)


def _sessions(protocol: Protocol) -> Iterator[Prescription]:
    for number, level in enumerate(protocol.levels, 1):
        for dose in range(1, len(level.doses) + 1):
            yield prescription_at(protocol, Position(number, dose))
