"""Raises an escalation, or joins one that waits: few alarms, and none lost."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from bot.store import escalations
from bot.store.database import Store
from bot.store.people import Person
from rules.history import Tier


def raise_concern(
    store: Store,
    patient: Person,
    *,
    sign: str,
    tier: Tier,
    words: str,
    now: datetime,
    stops_loading: bool = True,
    message: int | None = None,
    told_patient: str = "",
    once_key: str | None = None,
) -> int | None:
    """Raise a matter about a patient; gives its number, None if `once_key` was raised before.

    The same sign, at least as urgent, that nobody has acknowledged yet takes the new words along
    instead: one matter, one alarm. Once acknowledged, new words are a new matter.
    """
    for waiting in escalations.unacknowledged(store, patient.id):
        if waiting.sign == sign and waiting.tier.urgency <= tier.urgency:
            escalations.add_words(store, waiting.id, words, now)
            return waiting.id
    return escalations.open_one(
        store,
        patient.id,
        sign=sign,
        tier=tier,
        words=words,
        on=now.astimezone(ZoneInfo(patient.zone)).date(),
        now=now,
        stops_loading=stops_loading,
        message=message,
        once_key=once_key,
        told_patient=told_patient,
    )
