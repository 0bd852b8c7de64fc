"""Keeps what a patient wants of the bot: morning time, language, channel, time zone.

A stay elsewhere ends by itself: `end_stays`, at every tick. Says nothing.
"""

from __future__ import annotations

from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from bot.clinic import Clinic
from bot.patient_record.prompt_schedule import plan_prompts
from bot.patient_record.record import PatientRecord, record_of
from bot.ports import kind_of
from bot.store import people, plans
from bot.store.database import Store
from dialogs.wishes import ChannelChosen, LanguageChosen, MorningTimeChosen, ZoneChosen
from rules.prompt_times import instant

Preference = MorningTimeChosen | LanguageChosen | ChannelChosen | ZoneChosen


def keep_preference(record: PatientRecord, wish: Preference) -> None:
    """Keep one wish."""
    store, patient = record.store, record.patient
    match wish:
        case MorningTimeChosen():
            plans.set_morning_time(store, record.episode.id, wish.at)
        case LanguageChosen():
            people.set_language(store, patient.id, wish.language)
        case ChannelChosen():
            # The first of the patient's own addresses of this kind; nothing where there is none.
            of_kind = [one for one in record.contacts if kind_of(one.channel) == wish.kind]
            if of_kind:
                people.put_first(store, of_kind[0])
        case ZoneChosen():
            _go(record, wish)


def end_stays(store: Store, clinic: Clinic, now: datetime) -> None:
    """Patients whose stay elsewhere ended yesterday are asked by the time at home again."""
    for person in people.stays_over(store, now):
        people.come_home(store, person.id)
        plan_prompts(record_of(store, clinic, person.id, now))


def _go(record: PatientRecord, wish: ZoneChosen) -> None:
    if not wish.zone:
        people.come_home(record.store, record.patient.id)
    elif wish.until is None:
        people.set_zone(record.store, record.patient.id, wish.zone)
    else:
        ends_at = instant(wish.until + timedelta(days=1), time(0), ZoneInfo(wish.zone))
        people.go_away(record.store, record.patient.id, wish.zone, wish.until, ends_at)
