"""What a patient's message means: its warning signs first, then one turn of the dialog. Pure."""

from __future__ import annotations

from dataclasses import dataclass, replace

from bot.patient_record.record import PatientRecord
from bot.ports import Incoming
from dialogs.answering import only_answers
from dialogs.errors import StateError
from dialogs.memory import read_payload
from dialogs.patient import correct, step
from dialogs.preferences import beside_leaving, holds_opt_out
from dialogs.turn import Message, Turn, took_all
from dialogs.words import shipped_words
from rules.screening import screen
from rules.warning_sign import Screening


@dataclass(frozen=True)
class Understood:
    """A message, read. `leaves`: it asks to stop, whatever else it says."""

    text: str
    screening: Screening
    turn: Turn
    leaves: bool


def understand(record: PatientRecord, incoming: Incoming) -> Understood:
    """Screen the text, then step the dialog. What the dialog takes whole is not asked about for
    its likeness to a warning sign alone."""
    screening = _screened(record, incoming)
    turn = _stepped(record, incoming)
    if screening.likeness_alone and took_all(record.state, turn):
        screening = Screening()
    typed = incoming.pressed is None and incoming.corrects is None
    leaves = typed and holds_opt_out(incoming.text, record.patient.language)
    return Understood(incoming.text, screening, turn, leaves)


def _screened(record: PatientRecord, incoming: Incoming) -> Screening:
    """The warning signs of typed text. A button says nothing of its own, and nor does a bare
    answer: its numbers are looked at as pain."""
    words = shipped_words(record.patient.language)
    if incoming.pressed is not None:
        return Screening()
    if only_answers(record.state, incoming.text, record.situation(), words):
        return Screening()
    screening = screen(incoming.text, record.lexicon)
    beside = beside_leaving(incoming.text, record.patient.language)
    if screening.likeness_alone and beside != incoming.text:
        # "I want to stop" is like despair; what stands beside it is still read.
        screening = screen(beside, record.lexicon)
    if not screening.ask:
        return screening
    settled = record.settled_about(incoming.text)
    return replace(screening, ask=tuple(one for one in screening.ask if one.key not in settled))


def _stepped(record: PatientRecord, incoming: Incoming) -> Turn:
    """An edited message corrects what it answered, any other is a new one."""
    situation = record.situation(prescribe=True)
    if incoming.corrects is not None:
        asked = record.answered_by(incoming.channel, incoming.corrects)
        if asked:
            return correct(record.state, asked, incoming.text, situation)
    return step(record.state, _message(incoming), situation)


def _message(incoming: Incoming) -> Message:
    """The message as the dialog takes it; a button that cannot be read counts as its label."""
    if incoming.pressed is None:
        return Message(incoming.text)
    try:
        asked, answer = read_payload(incoming.pressed)
    except StateError:
        return Message(incoming.text)
    return Message(answer, asked)
