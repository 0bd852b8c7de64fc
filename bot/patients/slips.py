"""Numbers that may be slips of the finger: "11", or 10 after weeks of 2. They are asked back, and
nothing rests on them until they are answered for; unanswered they stand, and are told the same day.
A correction within the hour takes back what a number has raised. Read next: `understand`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass, replace
from datetime import timedelta

from bot.patient_record.record import PatientRecord
from bot.ports import Incoming
from bot.store import inbox
from bot.store.escalations import Escalation
from bot.store.sign_questions import SignQuestion
from dialogs.asking import ask
from dialogs.lines import is_of_number
from dialogs.patient import step
from dialogs.prompts import ask_sign
from dialogs.questions import PAINS
from dialogs.turn import Answer, Asked, Message, Said, State, Turn
from dialogs.words import shipped_words
from rules.history import Tier
from rules.quantities import Pain
from rules.screening import SEVERE_PAIN, screen
from rules.startling import STARTLING_DAYS, startling_from
from rules.warning_sign import Sign

# The key under which the question waits, among those about warning signs.
SLIP = "slip"

# How the question ends where the number is taken as it was sent.
STANDS = ("yes", "not answered")

# Over the top of the scale and up to this it may be meant as the worst; beyond, it is minutes or
# numbers run together, and is only asked again [points, included]. Convention.
IMPOSSIBLE_MAX = 2 * Pain.highest

# How long after an alarm a correction takes it back without a clinician. Convention.
TAKEN_BACK_WITHIN = timedelta(hours=1)

# The most words beside a number that takes the place of one asked back [count]. Convention.
WORDS_MAX = 5

_NUMBER = re.compile(r"\d+")


def waiting_slip(state: State) -> Asked | None:
    """The question whether a number is right, while it waits."""
    return next((asked for asked in state.waiting if asked.sign == SLIP), None)


def without_slip(record: PatientRecord) -> PatientRecord:
    """The same record, as if nothing were asked back."""
    after = copy(record)
    waiting = tuple(asked for asked in record.state.waiting if asked.sign != SLIP)
    after.__dict__["state"] = replace(record.state, waiting=waiting)
    return after


def doubtful_pain(record: PatientRecord, incoming: Incoming, turn: Turn) -> int | None:
    """The pain of a message that is asked back first; None where there is none, or where words
    beside it tell of a warning sign."""
    if record.episode.enrolled_on is None or record.episode.discharged:
        return None
    worst = max(pains_of(turn), default=0)
    if worst < Pain.highest:
        worst = _impossible(incoming.text, turn)
        if not worst:
            return None
    elif worst < _startling_from(record):
        return None
    beside = screen(_NUMBER.sub(" ", incoming.text), record.lexicon)
    return None if beside.found or beside.ask else worst


def ask_back(record: PatientRecord, worst: int) -> tuple[Turn, Sign]:
    """The question whether a pain is right; the conversation stays where it was otherwise."""
    question = record.words(Said("slip", {"worst": worst}))
    sign = Sign(SLIP, Tier.SAME_DAY, "", question, "")
    return ask_sign(record.state, (sign,), record.situation()), sign


def denied(record: PatientRecord) -> Turn:
    """The number was not right: it is asked for again."""
    state = without_slip(record).state
    words = shipped_words(record.patient.language)
    asked = (ask(state, record.situation(), words),) if state.waiting else ()
    return Turn(state, said=(Said("slip-no"), *asked))


def standing(incoming: Incoming) -> Incoming:
    """The message as its number stands: what is over the top counts as the top."""
    found = next(iter(_impossibles(incoming.text)), None)
    if found is None or incoming.pressed is not None:
        return incoming
    text = incoming.text
    return replace(incoming, text=f"{text[: found.start()]}{Pain.highest}{text[found.end() :]}")


def meant_instead(record: PatientRecord, incoming: Incoming, before: int | None) -> Incoming | None:
    """The message that was asked back, with the one number that a few words put in its place
    ("sorry I meant 1"); None where this is no such thing."""
    numbers = _NUMBER.findall(incoming.text)
    words = _NUMBER.sub(" ", incoming.text).split()
    if before is None or len(numbers) != 1 or len(words) > WORDS_MAX or "?" in incoming.text:
        return None
    sent = standing(inbox.get(record.store, before).incoming)
    pains = pains_of(step(without_slip(record).state, Message(sent.text), record.situation()))
    worst = re.compile(rf"\b{max(pains, default=Pain.highest)}\b")
    return replace(incoming, text=worst.sub(numbers[0], sent.text, count=1))


def pains_of(turn: Turn) -> list[int]:
    """The pains that a turn records [points]."""
    answers = (one for one in turn.recorded if isinstance(one, Answer))
    return [int(one.value) for one in answers if one.question in PAINS]


@dataclass(frozen=True)
class TakenBack:
    """What has rested on nothing but numbers that a turn has just replaced by lower ones:
    escalations of the last hour, and closed questions that wait. `highest`: of them [points]."""

    raised: tuple[Escalation, ...] = ()
    asked: tuple[SignQuestion, ...] = ()
    highest: int = 0

    @property
    def any(self) -> bool:
        """Whether there is something."""
        return bool(self.raised or self.asked)


def taken_back(record: PatientRecord, turn: Turn) -> TakenBack:
    """What a turn takes back by its corrections."""
    given = {
        (one.question.value, one.about): int(one.value)
        for one in turn.recorded
        if isinstance(one, Answer) and one.question in PAINS
    }
    severe = record.protocol.settings.pain_questioned
    if not given or max(given.values()) >= severe:
        return TakenBack()
    high = [
        one
        for one in record.kept
        if one.question in PAINS and isinstance(one.value, int) and one.value >= severe
    ]
    gone = {one.message for one in high} - {
        one.message for one in high if (one.question, one.about) not in given
    }
    if not gone:
        return TakenBack()
    return TakenBack(
        tuple(one for one in record.not_closed if one.message in gone and _by_number(record, one)),
        tuple(one for one in record.asked_signs if one.message in gone and not one.told),
        max(int(one.value) for one in high if one.message in gone),
    )


def _by_number(record: PatientRecord, one: Escalation) -> bool:
    """Whether an escalation of the last hour came of a number alone: no word was added to it, and
    no closed question answered with yes."""
    by_number = is_of_number(one.words, record.clinic.language)
    if record.now - one.raised_at > TAKEN_BACK_WITHIN or not by_number:
        return False
    asked = record.last_asked(one.sign)
    return one.sign == SEVERE_PAIN or (asked is not None and asked.message == one.message)


def _startling_from(record: PatientRecord) -> int:
    since = record.today - timedelta(days=STARTLING_DAYS)
    pains = [
        one.value
        for one in record.kept
        if one.question in PAINS and one.about >= since and isinstance(one.value, int)
    ]
    return startling_from(pains, record.episode.usual_pain, record.protocol.settings)


def _impossible(text: str, turn: Turn) -> int:
    """The pain over the top of the scale, where a message was refused for it; else 0."""
    taken = any(isinstance(one, Answer) for one in turn.recorded)
    numbers_alone = not any(letter.isalpha() for letter in text) and not taken
    refused = numbers_alone or any(said.template == "unclear/out-of-range" for said in turn.said)
    waiting = turn.state.waiting
    if not refused or not waiting or waiting[0].question not in PAINS:
        return 0
    return max((int(found[0]) for found in _impossibles(text)), default=0)


def _impossibles(text: str) -> Sequence[re.Match[str]]:
    return [
        found
        for found in _NUMBER.finditer(text)
        if len(found[0]) <= 2 and Pain.highest < int(found[0]) <= IMPOSSIBLE_MAX
    ]
