"""Whether an alarm is repeated by SMS: not after the parts that a clinic gives to alarms in a day.
The first notice, and the first word that nobody has it, always go out."""

from __future__ import annotations

from datetime import datetime

from bot.clinic import Clinic
from bot.patient_record.say import tell
from bot.ports import LAST_RESORT, kind_of
from bot.store import outbox, people
from bot.store.database import Store
from bot.store.people import CLINICAL, Role
from dialogs.rendering import gsm, segments
from dialogs.turn import Said


def may_repeat(store: Store, clinic: Clinic, channel: str, now: datetime) -> bool:
    """Whether an alarm may be repeated on a channel today. Owners, or where there is none the
    clinicians, hear once a day that it may not. Never asked about a first notice."""
    limit = clinic.alarm_segments_a_day
    if limit is None or kind_of(channel) != "text" or channel == LAST_RESORT:
        return True
    day = now.astimezone(clinic.zone_info).replace(hour=0, minute=0, second=0, microsecond=0)
    used = sum(segments(gsm(text)).count for text in outbox.alarms_since(store, channel, day))
    if used < limit:
        return True
    said = Said("clinician/repeats-end", {"used": used, "limit": limit})
    for person in people.by_role(store, Role.OWNER) or people.by_role(store, *CLINICAL):
        key = f"repeats {channel} {day:%Y-%m-%d} {person.id}"
        if not outbox.is_written(store, key):
            tell(store, clinic, person, said, now, once_key=key)
    return False
