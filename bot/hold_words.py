"""A text message from the number of a patient who left: a telephone number may change hands, so it
may be somebody else by now.

What is written there is held for a clinician, is never taken as the patient's answers, and never
lets anyone back in long after. A warning sign is treated as anybody's, at once. No name is told.
Chats are left alone: an account does not pass to another person.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from bot.case import Case
from bot.ports import kind_of
from bot.raise_concern import raise_concern
from bot.say import words_of
from bot.store import audit, outbox, people
from bot.store.inbox import Outcome, Received
from dialogs.reading import command
from dialogs.turn import Said
from dialogs.words import shipped_words
from rules.history import Tier
from rules.screening import screen

# How long a given-up number stays with nobody, at the least [days]: until then "START" is the
# patient's. Source: 47 CFR 52.15(f)(1)(ii), FCC 18-177 (from memory); other countries wait longer.
KEPT_DAYS = 45

SIGN = "words-after-opt-out"

# Keywords that reveal and change nothing, and that carriers want answered at any time.
ALWAYS = frozenset({"stop", "help"})


def release_number(case: Case, received: Received) -> bool:
    """Take the number from the patient who left, if its new holder sends an invitation of their
    own; False where nothing of the kind is the case."""
    if not _may_be_another(case, received):
        return False
    words = received.incoming.text.split()
    invited = people.invited_by(case.store, words[-1], case.now) if words else None
    if invited is None:
        return False
    incoming = received.incoming
    people.give_up_address(case.store, incoming.channel, incoming.address, case.now)
    audit.note(case.store, case.patient.id, "number given up", case.now, channel=incoming.channel)
    return True


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
    left = case.patient.opted_out_at is not None
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
