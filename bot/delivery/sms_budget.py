"""Counts what a message costs before it is sent, and keeps the clinic within its monthly limit.

At 80 % of the limit clinicians and owners are told once; at 100 % prompts wait until the month is
over. Never holds back an escalation, a safety reply or an answer to a patient; how often an
alarm is repeated is another matter, see `bot.escalations.repeats`.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from bot.clinic import Clinic
from bot.patient_record.say import tell
from bot.ports import LAST_RESORT, Outgoing, kind_of
from bot.store import outbox, people, spending
from bot.store.database import Store
from bot.store.outbox import Urgency
from bot.store.people import CLINICAL, Role
from dialogs.rendering import gsm, segments
from dialogs.turn import Said

# Shares of the limit at which the clinic is told, highest first [percent]. Convention.
TOLD_AT = (100, 80)


def least_urgent(store: Store, clinic: Clinic, channel: str, now: datetime) -> Urgency:
    """The least urgent kind of message that may leave on a channel now."""
    limit = clinic.segments_a_month
    if limit is None or not _costs(channel):
        return Urgency.PROMPT
    return Urgency.PROMPT if spending.in_month(store, channel, now) < limit else Urgency.REPLY


def spend(store: Store, clinic: Clinic, outgoing: Outgoing, now: datetime) -> Outgoing:
    """Count a message that is about to be sent; gives it with its segments.

    On a text channel it goes out in letters of the GSM-7 alphabet: one accent outside it would
    more than double what the whole message costs.
    """
    channel = outgoing.channel
    if not _costs(channel):
        return outgoing
    text = gsm(outgoing.text)
    count = segments(text).count
    spending.add(store, channel, count, now)
    spending.keep_of_attempt(store, outgoing.id, count)
    limit = clinic.segments_a_month
    if limit is not None:
        used = spending.in_month(store, channel, now)
        reached = next((share for share in TOLD_AT if used * 100 >= limit * share), None)
        if reached is not None:
            _tell(store, clinic, channel, reached, used, now)
    return replace(outgoing, text=text, segments=count)


def _costs(channel: str) -> bool:
    return kind_of(channel) == "text" and channel != LAST_RESORT


def _tell(store: Store, clinic: Clinic, channel: str, share: int, used: int, now: datetime) -> None:
    """Tell everyone who runs the clinic, once a month for each share."""
    limit = clinic.segments_a_month
    assert limit is not None
    said = Said("clinician/spending", {"used": used, "limit": limit, "held": share >= 100})
    for person in people.by_role(store, *CLINICAL, Role.OWNER):
        key = f"spending {channel} {spending.month_of(now)} {share} {person.id}"
        if outbox.is_written(store, key):
            continue
        tell(store, clinic, person, said, now, once_key=key)
