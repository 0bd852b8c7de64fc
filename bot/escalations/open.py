"""Raises an escalation, or joins one that waits: few alarms, and none lost."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from bot.store import escalations, notices
from bot.store.database import Store
from bot.store.people import Person
from rules.history import Tier

# A message to the patient will not arrive; its words are what the channel said of it.
UNREACHABLE = "unreachable"

# How long after "I have it" the same sign still belongs to the same escalation. Convention, all
# three: about as long as a clinician needs to speak to the patient or to see them.
SAME_ESCALATION_FOR = {
    Tier.EMERGENCY: timedelta(hours=1),  # Convention.
    Tier.SAME_DAY: timedelta(hours=12),  # Convention.
    Tier.NEXT_WORKING_DAY: timedelta(hours=72),  # Convention: a Friday and its Monday.
}


def raise_escalation(
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
    remarks: str = "",
) -> int | None:
    """Raise an escalation about a patient; gives its number, None if `once_key` was raised before.

    The same sign, at least as urgent, still open takes the new words along, and whoever has it
    hears them once; `SAME_ESCALATION_FOR` after "I have it" it is a new one, and so are words of
    the patient's while everyone was told of the other in vain.
    """
    if once_key is not None and escalations.is_raised(store, once_key):
        return None
    waiting = _open_already(store, patient, sign, tier, now)
    if waiting is not None and (message is None or not _in_vain(store, waiting)):
        _join(store, waiting, words, remarks, now, daily=once_key is not None)
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
        remarks=remarks,
    )


def _join(
    store: Store,
    waiting: escalations.Escalation,
    words: str,
    remarks: str,
    now: datetime,
    *,
    daily: bool,
) -> None:
    """What the daily look finds, it finds again tomorrow: only what is new is told."""
    known = notices.has_words(store, waiting.id, words)
    if remarks or not (daily and known):
        fresh = "" if known and remarks else words
        escalations.add_words(store, waiting.id, fresh, now, remarks)


def _open_already(
    store: Store, patient: Person, sign: str, tier: Tier, now: datetime
) -> escalations.Escalation | None:
    """The one that takes the words along, one that nobody has before the others."""
    still_open = escalations.not_closed(store, patient.id)
    still_open.sort(key=lambda one: one.acknowledged_at is not None)
    return next((one for one in still_open if _same_escalation(one, sign, tier, now)), None)


def _in_vain(store: Store, waiting: escalations.Escalation) -> bool:
    """Whether nobody has it although all were told, so that it is told of more slowly."""
    told = notices.history(store, waiting.id, notices.NoticeKind.TOLD_EVERYONE)
    return waiting.acknowledged_at is None and bool(told)


def _same_escalation(
    open_one: escalations.Escalation, sign: str, tier: Tier, now: datetime
) -> bool:
    if open_one.sign != sign or open_one.tier.urgency > tier.urgency:
        return False
    taken_at = open_one.acknowledged_at
    return taken_at is None or now < taken_at + SAME_ESCALATION_FOR[open_one.tier]
