"""What a warning sign leads to at once: the patient's own reply, which waits for nobody, and an
escalation; or a closed question, with the time by which it must be answered."""

from __future__ import annotations

from datetime import timedelta

from bot.escalations.notify import notify
from bot.escalations.open import raise_concern
from bot.patient_record.decide import decide
from bot.patient_record.record import Case
from bot.patient_record.say import say, words_of
from bot.store import conversations, escalations, inbox, sign_questions
from bot.store.inbox import Received
from bot.store.outbox import Urgency
from bot.store.sign_questions import SignQuestion
from dialogs.advising import say_sign
from dialogs.lines import line
from dialogs.patient import ask_sign, drop_signs
from dialogs.questions import TOLD_WORDS
from dialogs.turn import Question, Said, Situation
from rules.escalation import answer_within
from rules.history import Tier
from rules.quantities import Pain
from rules.screening import screen_pain, tier_asked
from rules.warning_sign import Match, Screening, Sign

SAYS_URGENT = "says-it-is-urgent"

# How far back the words go, when a patient says it is urgent: those that were not understood, and
# any others [hours]. Convention.
UNREAD_WORDS_HOURS, WORDS_HOURS = 24, 1


def warn(case: Case, found: tuple[Match, ...], words: str, message: int | None) -> None:
    """Reply to the most urgent sign, and raise it: one message is one matter, whatever else its
    words show. What else they show is said to the clinician with it."""
    situation = case.situation(prescribe=False)
    said = say_sign(found[0].tier, found[0], situation)
    all_words = _with_others(case, words, found[1:])
    _raise_and_tell(case, said, situation, found[0].sign.key, found[0].tier, all_words, message)


def warn_and_ask(case: Case, screening: Screening, words: str, message: int | None) -> None:
    """Warn of what was found, and put the questions about what may need a person sooner."""
    warn(case, screening.found, words, message)
    if screening.sooner:
        ask_back(case.again(), screening.sooner, words, message)


def _raise_and_tell(
    case: Case,
    said: Said,
    situation: Situation,
    sign: str,
    tier: Tier,
    words: str,
    message: int | None,
) -> None:
    """The patient's reply, the matter, and a decision, so that no session is asked about today."""
    told = words_of(case.clinic, said, situation)
    say(case.store, case.clinic, case.patient.id, said, situation, Urgency.SAFETY, case.now)
    number = raise_concern(
        case.store,
        case.patient,
        sign=sign,
        tier=tier,
        words=words,
        now=case.now,
        message=message,
        told_patient=told,
    )
    if number is not None:
        notify(case.store, case.clinic, number, case.now)
    if case.episode.enrolled_on is not None:
        decide(case.again(), message)


def _with_others(case: Case, words: str, found: tuple[Match, ...]) -> str:
    """The words, with what else they show; our own words in the clinic's language."""
    known = case.clinic.lexicon.signs
    signs = [known[m.sign.key].sign if m.sign.key in known else m.sign for m in found]
    others = ", ".join(sign.title for sign in signs)
    return line("also", case.clinic.language, wrote=words, others=others) if others else words


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
    words = line("pain", case.clinic.language, worst=worst)
    if screening.found:
        warn(case, screening.found, words, received.id)
    if screening.ask:
        ask_back(case, screening.ask, words, received.id)
    return bool(screening.found or screening.ask)


def warn_of_urgent_words(case: Case, received: Received) -> None:
    """The patient says it cannot wait: what was not understood is put before a clinician now.

    Nothing that the rules know was found in the words, so a person has to read them: the last
    hour's, and of the last day those that were not understood, as they were written.
    """
    unread_since = case.now - timedelta(hours=UNREAD_WORDS_HOURS)
    since = case.now - timedelta(hours=WORDS_HOURS)
    before = inbox.typed_since(case.store, case.patient.id, since, unread_since)
    told = [text for text in before if len(text.split()) >= TOLD_WORDS]
    words = [*told, received.incoming.text]
    for one in inbox.unread_since(case.store, case.patient.id, unread_since):
        inbox.mark_shown(case.store, one.id, case.now)
    situation = case.situation(prescribe=False)
    _raise_and_tell(
        case, Said("urgent"), situation, SAYS_URGENT, Tier.SAME_DAY, " / ".join(words), received.id
    )


def sign_answered(case: Case, sign_key: str, *, yes: bool, message: int) -> SignQuestion | None:
    """A closed question was answered. Yes is the sign; the other questions then need no answer.

    Gives the question, None where it no longer waited.
    """
    how = "yes" if yes else "no"
    asked = sign_questions.settle(case.store, case.patient.id, sign_key, how, case.now)
    sign = case.lexicon.sign(sign_key)
    if yes:
        tier = sign.tier if asked is None else tier_asked(sign_key, asked.words, case.lexicon)
        before = "" if asked is None else f"{asked.words}; "
        asked_yes = line("asked-yes", case.clinic.language, question=sign.closed_question)
        words = f"{before}{asked_yes}"
        _drop_other_questions(case)
        warn(case, (Match(sign, tier, words),), words, message)
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
            late_no = line("answered-late", case.clinic.language)
            escalations.add_words(case.store, waiting.id, late_no, case.now)
