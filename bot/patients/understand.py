"""What a patient's message means: its warning signs first, then one turn of the dialog. Pure."""

from __future__ import annotations

from dataclasses import dataclass, replace

from bot.patient_record.record import PatientRecord
from bot.patients import slips
from bot.ports import Incoming
from bot.store import inbox, sign_questions
from dialogs.answering import only_answers
from dialogs.errors import StateError
from dialogs.memory import read_payload
from dialogs.patient import correct, step
from dialogs.preferences import beside_leaving, holds_opt_out
from dialogs.reading import read_answers
from dialogs.turn import (
    Answer,
    Asked,
    Message,
    Question,
    Said,
    SignAnswered,
    Turn,
    Unread,
    took_all,
)
from dialogs.words import bare, shipped_words
from rules.screening import screen
from rules.warning_sign import Screening, Sign


@dataclass(frozen=True)
class Understood:
    """A message, read. `leaves`: it asks to stop, whatever else it says. `slip`: the question by
    which a number of it is asked back. `slip_ended`: how the one that waited has ended. `told`: the
    words that were screened, with those just before where only both show a sign."""

    text: str
    screening: Screening
    turn: Turn
    leaves: bool
    slip: Sign | None = None
    slip_ended: str = ""
    told: str = ""

    @property
    def is_quiet(self) -> bool:
        """Whether it shows and asks nothing, of words or of numbers."""
        return not (self.screening.found or self.screening.ask or self.slip or self.leaves)


def understand(
    record: PatientRecord, incoming: Incoming, before: tuple[str, ...] = ()
) -> Understood:
    """Screen the text, also as one with what was typed just before, then step the dialog. What the
    dialog takes whole is not asked about for its likeness to a warning sign alone. A number that
    may be a slip is asked back first."""
    slip = slips.waiting_slip(record.state)
    if slip is not None:
        return _after_asking_back(record, incoming, slip, before)
    turn = _stepped(record, incoming)
    typed = incoming.pressed is None and incoming.corrects is None
    leaves = typed and holds_opt_out(incoming.text, record.patient.language)
    worst = None if leaves else slips.doubtful_pain(record, incoming, turn)
    if worst is not None:
        turn, asked_back = slips.ask_back(record, worst)
        return Understood(incoming.text, Screening(), turn, leaves, asked_back)
    screening, told = _screened(record, incoming, _in_words(record, before))
    if screening.likeness_alone and took_all(record.state, turn):
        screening = Screening()
    if typed:
        turn = _late_to_a_question(record, incoming.text, turn)
    return Understood(incoming.text, screening, turn, leaves, told=told)


def number_stands(record: PatientRecord, message: int, ended: str) -> Understood:
    """The message whose number was asked back, taken as it was sent."""
    sent = slips.standing(inbox.get(record.store, message).incoming)
    turn = _stepped(slips.without_slip(record), sent)
    return Understood(sent.text, Screening(), turn, leaves=False, slip_ended=ended)


def _after_asking_back(
    record: PatientRecord, incoming: Incoming, slip: Asked, earlier: tuple[str, ...]
) -> Understood:
    """A number was asked back: yes, or the same again, lets it stand; another takes its place; in
    what is anything else the question waits on."""
    asked = sign_questions.last(record.store, record.patient.id, slips.SLIP)
    before = None if asked is None or asked.message is None else asked.message
    message = _message(incoming)
    about_it = message.pressed is None or message.pressed.key == slip.key
    words = shipped_words(record.patient.language)
    reads = read_answers(message.text, (slip,), words).reads if about_it else ()
    if before is not None:
        same = bare(inbox.get(record.store, before).incoming.text) == bare(incoming.text)
        if same or (reads and reads[0].value):
            return number_stands(record, before, "yes")
    if reads and not reads[0].value:
        turn = slips.denied(record)
        return Understood(incoming.text, Screening(), turn, leaves=False, slip_ended="no")
    understood = understand(slips.without_slip(record), incoming, earlier)
    meant = slips.meant_instead(record, incoming, before)
    if meant is not None and not slips.pains_of(understood.turn) and understood.is_quiet:
        understood = understand(slips.without_slip(record), meant, earlier)
    if understood.slip is not None or slips.pains_of(understood.turn):
        return replace(understood, slip_ended="another")
    state = understood.turn.state
    turn = replace(understood.turn, state=replace(state, waiting=(slip, *state.waiting)))
    return replace(understood, turn=turn)


def _late_to_a_question(record: PatientRecord, text: str, turn: Turn) -> Turn:
    """A bare yes or no that nothing was made of is about the closed question that ran out in the
    last day, even where a clinician has closed what it led to."""
    unclear = any(said.template.startswith("unclear/") for said in turn.said)
    nothing = all(isinstance(one, Unread) for one in turn.recorded)
    meant = shipped_words(record.patient.language).answers.get(bare(text), "")
    if meant not in ("yes", "no") or not nothing or not (unclear or turn.recorded):
        return turn
    question = record.unanswered_sign
    if question is None:
        return turn
    said = () if meant == "yes" else (Said("sign-no"),)
    return Turn(record.state, (SignAnswered(question.sign, meant == "yes"),), said)


def _in_words(record: PatientRecord, before: tuple[str, ...]) -> list[str]:
    """Those that say something of their own: no numbers, no "yes" or "left", and no keyword."""
    words = shipped_words(record.patient.language)
    known = {*words.answers, *words.commands}
    return [t for t in before if any(c.isalpha() for c in t) and bare(t) not in known]


def _screened(
    record: PatientRecord, incoming: Incoming, before: list[str]
) -> tuple[Screening, str]:
    """The warning signs of typed text, and the words that show them. A button says nothing of its
    own, and nor does a bare answer: its numbers are looked at as pain."""
    words = shipped_words(record.patient.language)
    if incoming.pressed is not None:
        return Screening(), incoming.text
    if only_answers(record.state, incoming.text, record.situation(), words):
        return Screening(), incoming.text
    screening, told = _read_together(record, incoming.text, before)
    beside = beside_leaving(incoming.text, record.patient.language)
    if screening.likeness_alone and beside != incoming.text:
        # "I want to stop" is like despair; what stands beside it is still read.
        screening = screen(beside, record.lexicon)
    if not screening.ask:
        return screening, told
    settled = record.settled_about(told)
    ask = tuple(one for one in screening.ask if one.key not in settled)
    return replace(screening, ask=ask), told


def _read_together(record: PatientRecord, text: str, before: list[str]) -> tuple[Screening, str]:
    """The text as one with as little of what stands before it as shows a sign."""
    screening = screen(text, record.lexicon) if not before else Screening()
    earlier = ""
    for one in reversed(before):
        earlier = f"{one} {earlier}".strip()
        screening = screen(text, record.lexicon, before=earlier)
        if screening.with_before:
            return screening, f"{earlier} {text}"
    return screening, text


def _stepped(record: PatientRecord, incoming: Incoming) -> Turn:
    """An edited message corrects what it answered, any other is a new one."""
    situation = record.situation(prescribe=True)
    message = _message(incoming)
    again = _sent_again(record, incoming)
    if again is not None:
        return again
    if message.pressed is not None and message.pressed.sign == slips.SLIP:
        # An old button: the number stands by now, and another may be sent.
        return Turn(record.state, said=(Said("too-late-button"),))
    if incoming.corrects is not None:
        asked = record.answered_by(incoming.channel, incoming.corrects)
        if asked:
            return correct(record.state, asked, incoming.text, situation)
    return step(record.state, message, situation)


def _sent_again(record: PatientRecord, incoming: Incoming) -> Turn | None:
    """Numbers under a closed question that nothing but a number has led to: other ones in its
    place, where they leave nothing to ask about."""
    state = record.state
    asks = bool(state.waiting) and state.waiting[0].question is Question.SIGN
    digits = any(letter.isdecimal() for letter in incoming.text)
    if not asks or not state.last or not digits or incoming.pressed is not None:
        return None
    turn = correct(state, state.last, incoming.text, record.situation())
    whole = sum(isinstance(one, Answer) for one in turn.recorded) == len(state.last)
    return turn if whole and slips.taken_back(record, turn).any else None


def _message(incoming: Incoming) -> Message:
    """The message as the dialog takes it; a button that cannot be read counts as its label."""
    if incoming.pressed is None:
        return Message(incoming.text)
    try:
        asked, answer = read_payload(incoming.pressed)
    except StateError:
        return Message(incoming.text)
    return Message(answer, asked)
