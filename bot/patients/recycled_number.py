"""A text message from the number of a patient who left: a telephone number may change hands, so it
may be somebody else by now.

What is written there is held for a clinician, is never taken as the patient's answers, and never
lets anyone back in long after, unless a clinician says whose number it is (`readmit`). A warning
sign is treated as anybody's, at once. No name is told.
Chats are left alone: an account does not pass to another person.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from bot.patient_record.record import PatientRecord
from bot.patients.consequence_values import Consequence, Escalate, Record
from bot.patients.understand import Understood
from bot.phone_numbers import KEPT_DAYS
from bot.ports import kind_of
from bot.store.people import Person
from dialogs.reading import command
from dialogs.turn import Unread
from dialogs.words import shipped_words
from rules.history import Tier

SIGN = "words-after-opt-out"

# Keywords that reveal and change nothing, and that carriers want answered at any time.
ALWAYS = frozenset({"stop", "help"})


def may_be_another(patient: Person, channel: str, now: datetime) -> bool:
    """Whether the number may have changed hands; not for a time after a clinician's word that it
    has not."""
    if patient.opted_out_at is None or kind_of(channel) != "text":
        return False
    confirmed_at = patient.number_confirmed_at
    return confirmed_at is None or now - confirmed_at >= timedelta(days=KEPT_DAYS)


def is_late_start(patient: Person, text: str, now: datetime) -> bool:
    """Whether it asks to come back so long after that it is answered as any stranger."""
    left_at = patient.opted_out_at
    late = left_at is not None and now - left_at >= timedelta(days=KEPT_DAYS)
    return late and _keyword(patient, text) == "start"


def held_words(record: PatientRecord, understood: Understood) -> tuple[Consequence, ...]:
    """The message is held for a clinician; nothing where it is to be heard as the patient's: a
    closed question that they were just asked may be answered."""
    screening, text = understood.screening, understood.text
    keyword = _keyword(record.patient, text)
    early = keyword == "start" and not is_late_start(record.patient, text, record.now)
    if screening.found or screening.ask or early or keyword in ALWAYS or record.asked_signs:
        return ()
    once = f"{SIGN} {record.patient.id} {record.today}"
    held = Escalate(SIGN, Tier.NEXT_WORKING_DAY, text, once_key=once)
    return held, Record(Unread(text))


def _keyword(patient: Person, text: str) -> str:
    return command(text, shipped_words(patient.language))
