"""Carries out the consequences of a patient's message, in order, in the transaction that marks it
handled: what is written first; then the record is read once, for what is said and decided.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from bot.escalations.notify import notify, tell_after_closing
from bot.escalations.open import raise_escalation
from bot.escalations.take_back import take_back
from bot.patient_record.leaving import settle_opt_out
from bot.patient_record.record import UNREAD_WORDS_HOURS, PatientRecord
from bot.patient_record.say import Say, say
from bot.patients.consequence_values import (
    AddWords,
    AskSigns,
    Consequence,
    Escalate,
    KeepState,
    KeepWords,
    Record,
    SettleSign,
    ShowUnread,
    TakeBack,
    UndoMoves,
    Write,
)
from bot.patients.preferences import keep_preference
from bot.patients.reply import reply
from bot.store import (
    answers,
    audit,
    conversations,
    escalations,
    inbox,
    people,
    plans,
    sign_questions,
)
from bot.store.inbox import Outcome
from bot.store.outbox import Urgency
from dialogs.turn import (
    Answer,
    Consented,
    Declined,
    Enrolled,
    OptedIn,
    OptedOut,
    Question,
    Recorded,
    Unread,
)
from dialogs.wishes import (
    ChannelChosen,
    LanguageChosen,
    MorningTimeChosen,
    PauseAsked,
    ResumeAsked,
    ZoneChosen,
)
from rules.escalation import answer_within
from rules.protocol import Position


def apply(record: PatientRecord, come: Sequence[Consequence], message: int) -> Outcome:
    """Write, read the record again, then decide and say; gives what became of the message."""
    raised = [_write(record, one, message) for one in come if isinstance(one, Write)]
    for number in raised:
        if number is not None:
            notify(record.store, record.clinic, number, record.now)
    after = record.after_message()
    for one in come:
        if not isinstance(one, Write):
            after = reply(after, one, message)
    unread = any(isinstance(one, Record) and isinstance(one.thing, Unread) for one in come)
    return Outcome.UNREAD if unread else Outcome.HANDLED


def _write(record: PatientRecord, one: Write, message: int) -> int | None:
    """Gives the number of an escalation."""
    store, now = record.store, record.now
    match one:
        case Escalate():
            return _escalate(record, one, message)
        case AskSigns():
            for sign in one.signs:
                answer_by = now + answer_within(sign.tier)
                whose = record.patient.id
                sign_questions.ask(store, whose, sign.key, one.words, message, answer_by, now)
        case SettleSign():
            sign_questions.settle(store, record.patient.id, one.sign, one.how, now)
        case KeepWords():
            inbox.mark_unread(store, one.message)
        case AddWords():
            escalations.add_words(store, one.escalation, one.words, now, one.remarks)
            tell_after_closing(store, record.clinic, one.escalation, one.remarks, now)
        case TakeBack():
            take_back(store, record.clinic, one.escalation, one.now, record.today, now)
        case ShowUnread():
            since = now - timedelta(hours=UNREAD_WORDS_HOURS)
            for words in inbox.unread_since(store, record.patient.id, since):
                inbox.mark_shown(store, words.id, now)
        case Record():
            _record(record, one.thing, message)
        case UndoMoves():
            plans.undo_moves(store, record.episode.id, one.since, now)
        case KeepState():
            conversations.keep(store, record.patient.id, one.state, now)
    return None


def _escalate(record: PatientRecord, one: Escalate, message: int) -> int | None:
    """The patient's reply, which waits for nobody, and the escalation."""
    told = "" if one.said is None else record.words(one.said)
    if one.said is not None:
        say(record, Say(one.said, Urgency.SAFETY))
    return raise_escalation(
        record.store,
        record.patient,
        sign=one.sign,
        tier=one.tier,
        words=one.words,
        now=record.now,
        stops_loading=one.stops_loading,
        message=message,
        told_patient=told,
        once_key=one.once_key,
        remarks=one.remarks,
    )


def _record(record: PatientRecord, thing: Recorded, message: int) -> None:
    """Keep an answer, or what the patient wants or agrees to."""
    store, patient, now = record.store, record.patient, record.now
    if isinstance(thing, Unread):
        return  # The message itself is kept; its outcome says that nobody understood it.
    if isinstance(thing, Answer):
        _keep_answer(record, thing, message)
        return
    audit.note(store, patient.id, type(thing).__name__, now)
    match thing:
        case Consented():
            people.record_consent(store, patient.id, thing.wording, now)
        case Enrolled():
            _enrol(record, thing)
        case PauseAsked():
            on, episode = thing.on or record.today, record.episode.id
            plans.pause(store, episode, on, thing.until, patient.id, now, asks=thing.asks)
        case ResumeAsked():
            plans.end_pauses(store, record.episode.id, record.today, now)
        case OptedOut() | Declined():
            people.opt_out(store, patient.id, now)
        case OptedIn():
            people.opt_in(store, patient.id)
            settle_opt_out(record)
        case MorningTimeChosen() | LanguageChosen() | ChannelChosen() | ZoneChosen():
            keep_preference(record, thing)


def _keep_answer(record: PatientRecord, answer: Answer, message: int) -> None:
    store, episode, now = record.store, record.episode.id, record.now
    answers.keep(store, episode, answer.question, answer.about, answer.value, now, message)
    if answer.question is not Question.SETS_DONE:
        return
    # Sets done make a session; none at all unmake it.
    if int(answer.value):
        position = _position_on(record, answer.about)
        sets = record.protocol.dose(position).sets
        answers.keep_session(store, episode, answer.about, position, sets, now)
    else:
        answers.drop_session(store, episode, answer.about)


def _position_on(record: PatientRecord, on: date) -> Position:
    """Where the patient stood when the session of that date was done: a report that comes a day
    late belongs to the place of its own day."""
    before = [move for move in record.moves if move.on <= on]
    return (before or list(record.moves))[-1].position


def _enrol(record: PatientRecord, enrolled: Enrolled) -> None:
    people.set_zone(record.store, record.patient.id, enrolled.time_zone)
    plans.enrol(
        record.store,
        record.episode,
        side=enrolled.side,
        usual_pain=enrolled.usual_pain,
        usual_stiffness=enrolled.usual_stiffness,
        morning_time=enrolled.morning_time,
        on=record.now.astimezone(ZoneInfo(enrolled.time_zone)).date(),
        now=record.now,
    )
