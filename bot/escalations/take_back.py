"""A patient has corrected the number for which an escalation was raised: it is closed, and each
person who was told hears so. Read next: `open`.
"""

from __future__ import annotations

from datetime import date, datetime

from bot.clinic import Clinic
from bot.patient_record.say import tell
from bot.store import escalations, notices, people
from bot.store.database import Store
from bot.store.notices import NoticeKind
from dialogs.turn import Said, Value


def take_back(
    store: Store, clinic: Clinic, number: int, pains: str, on: date, now: datetime
) -> None:
    """Close it by the patient's own word; loading no longer stops for it from `on` on."""
    escalation = escalations.get(store, number)
    if not escalations.take_back(store, number, escalation.patient, on, now):
        return
    values: dict[str, Value] = {
        "number": number,
        "patient": people.person(store, escalation.patient).name,
        "words": escalation.words,
        "pains": pains,
    }
    told = (NoticeKind.TOLD, NoticeKind.ACKNOWLEDGED)
    heard = {row["person"] for row in notices.history(store, number) if row["kind"] in told}
    for person in sorted(heard):
        tell(
            store,
            clinic,
            people.person(store, person),
            Said("clinician/number-taken-back", values),
            now,
        )
