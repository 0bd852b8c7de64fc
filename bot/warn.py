"""What a warning sign leads to at once: the patient's own reply, which waits for nobody, and an
escalation; or a closed question, with the time by which it must be answered."""

from __future__ import annotations

from bot.case import Case
from bot.decide import decide
from bot.notify import notify
from bot.raise_concern import raise_concern
from bot.say import say, words_of
from bot.store import conversations, escalations, sign_questions
from bot.store.inbox import Received
from bot.store.outbox import Urgency
from bot.store.sign_questions import SignQuestion
from dialogs.advising import say_sign
from dialogs.patient import ask_sign, drop_signs
from dialogs.turn import Question
from rules.escalation import answer_within
from rules.quantities import Pain
from rules.screening import screen_pain
from rules.warning_sign import Match, Sign


def warn(case: Case, found: tuple[Match, ...], words: str, message: int | None) -> None:
    """Reply to the most urgent sign, and raise it: one message is one matter, whatever else its
    words show. What else they show is said to the clinician with it."""
    situation = case.situation(prescribe=False)
    said = say_sign(found[0].tier, found[0], situation)
    told = words_of(case.clinic, said, situation)
    say(case.store, case.clinic, case.patient.id, said, situation, Urgency.SAFETY, case.now)
    others = ", ".join(match.sign.title for match in found[1:])
    number = raise_concern(
        case.store,
        case.patient,
        sign=found[0].sign.key,
        tier=found[0].tier,
        words=f"{words} (also: {others})" if others else words,
        now=case.now,
        message=message,
        told_patient=told,
    )
    if number is not None:
        notify(case.store, case.clinic, number, case.now)
    if case.episode.enrolled_on is not None:
        # Kept as a decision as well, so that no session is asked about today.
        decide(case.again(), message)


def ask_back(case: Case, signs: tuple[Sign, ...], words: str, message: int | None) -> None:
    """Put the closed questions, and keep by when each must be answered."""
    turn = ask_sign(case.state, signs, case.situation())
    conversations.keep(case.store, case.patient.id, turn.state, case.now)
    for sign in signs:
        answer_by = case.now + answer_within(sign.tier)
        sign_questions.ask(
            case.store, case.patient.id, sign.key, words, message, answer_by, case.now
        )
    situation = case.situation(prescribe=False)
    for said in turn.said:
        say(case.store, case.clinic, case.patient.id, said, situation, Urgency.SAFETY, case.now)


def warn_of_pain(case: Case, pains: tuple[int, ...], received: Received) -> bool:
    """What a very high pain answer leads to. True: signs were raised, or asked about."""
    worst = max(pains, default=0)
    screening = screen_pain(Pain(worst), case.protocol.settings, case.lexicon)
    words = f"pain {worst} of 10"
    if screening.found:
        warn(case, screening.found, words, received.id)
    if screening.ask:
        ask_back(case, screening.ask, words, received.id)
    return bool(screening.found or screening.ask)


def sign_answered(case: Case, sign_key: str, *, yes: bool, message: int) -> SignQuestion | None:
    """A closed question was answered. Yes is the sign; the other questions then need no answer.

    Gives the question, None where it no longer waited.
    """
    how = "yes" if yes else "no"
    asked = sign_questions.settle(case.store, case.patient.id, sign_key, how, case.now)
    sign = case.lexicon.sign(sign_key)
    if yes:
        before = "" if asked is None else f"{asked.words}; "
        words = f"{before}asked: {sign.closed_question} Answered: yes"
        _drop_other_questions(case)
        warn(case, (Match(sign, sign.tier, words),), words, message)
    elif asked is None:
        _tell_late_no(case, sign)
    return asked


def _drop_other_questions(case: Case) -> None:
    state = case.state
    for asked in state.waiting:
        if asked.question is Question.SIGN:
            sign_questions.settle(
                case.store, case.patient.id, asked.sign, "another was yes", case.now
            )
    conversations.keep(case.store, case.patient.id, drop_signs(state), case.now)


def _tell_late_no(case: Case, sign: Sign) -> None:
    """The matter went to a clinician when no answer came; the late "no" goes there as well."""
    for waiting in escalations.not_closed(case.store, case.patient.id):
        if waiting.sign == sign.key:
            escalations.add_words(case.store, waiting.id, "answered late: no", case.now)
