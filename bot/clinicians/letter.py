"""The letter that an invited patient is handed, in their language: what it is, and the code."""

from __future__ import annotations

from datetime import datetime

from bot.clinic import Clinic
from bot.clinicians.invite_many import Invited
from bot.patient_record.say import words_of
from bot.store.people import INVITATION_DAYS
from dialogs.turn import Said, Situation, Value


def letter(clinic: Clinic, invited: Invited, now: datetime) -> str:
    """The whole letter."""
    patient = invited.patient
    situation = Situation(
        now=now.astimezone(clinic.zone_info),
        language=patient.language or clinic.language,
        patient_name=patient.name,
        clinic=clinic.name,
    )
    values: dict[str, Value] = {
        "code": invited.code,
        "days": INVITATION_DAYS,
        "on_sms": patient.channel == "sms",
        "sms_number": clinic.sms_number,
    }
    return words_of(clinic, Said("letter", values), situation)
