"""A text message from the number of a patient who left: a telephone number may change hands, so it
may be somebody else by now.

What is written there is held for a clinician, is never taken as the patient's answers, and never
lets anyone back in long after, unless a clinician says whose number it is (`readmit`). A warning
sign is treated as anybody's, at once. No name is told.
Chats are left alone: an account does not pass to another person.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from bot.clinicians.opt_out import give_up_number
from bot.escalations.open import raise_concern
from bot.patient_record.record import Case
from bot.patient_record.say import words_of
from bot.phone_numbers import KEPT_DAYS
from bot.ports import kind_of
from bot.store import outbox
from bot.store.inbox import Outcome, Received
from dialogs.reading import command
from dialogs.turn import Said
from dialogs.words import shipped_words
from rules.history import Tier
from rules.screening import screen

SIGN = "words-after-opt-out"

# Keywords that reveal and change nothing, and that carriers want answered at any time.
ALWAYS = frozenset({"stop", "help"})


def release_number(case: Case, received: Received) -> bool:
    """Take the number from the patient who left, if its new holder sends an invitation of their
    own; False where nothing of the kind is the case."""
    if not _may_be_another(case, received):
        return False
    return give_up_number(case.store, case.patient, received, case.now)


def hold_words(case: Case, received: Received) -> Outcome | None:
    """Hold the message for a clinician; None where it is to be heard as the patient's."""
    if not _may_be_another(case, received):
        return None
    text = received.incoming.text
    screening = screen(text, case.lexicon)
    keyword = _keyword(case, text)
    if screening.found or screening.ask or keyword in ALWAYS:
        return None
    if keyword == "start":
        if case.now - _left_at(case) < timedelta(days=KEPT_DAYS):
            return None
        _answer(case, received)
    raise_concern(
        case.store,
        case.patient,
        sign=SIGN,
        tier=Tier.NEXT_WORKING_DAY,
        words=text,
        now=case.now,
        stops_loading=False,
        message=received.id,
        once_key=f"{SIGN} {case.patient.id} {case.today}",
    )
    return Outcome.UNREAD


def _may_be_another(case: Case, received: Received) -> bool:
    """Whether the number may have changed hands; not for a time after a clinician's word that it
    has not."""
    left = case.patient.opted_out_at is not None
    confirmed_at = case.patient.number_confirmed_at
    if confirmed_at is not None and case.now - confirmed_at < timedelta(days=KEPT_DAYS):
        return False
    return left and kind_of(received.incoming.channel) == "text"


def _left_at(case: Case) -> datetime:
    assert case.patient.opted_out_at is not None
    return case.patient.opted_out_at


def _keyword(case: Case, text: str) -> str:
    return command(text, shipped_words(case.patient.language))


def _answer(case: Case, received: Received) -> None:
    """The one fixed reply of a day, as to any stranger."""
    incoming = received.incoming
    text = words_of(case.clinic, Said("stranger"), case.situation(prescribe=False))
    key = f"stranger {incoming.channel} {incoming.address} {case.now:%Y-%m-%d}"
    outbox.write_to_stranger(case.store, incoming.channel, incoming.address, text, key, case.now)
