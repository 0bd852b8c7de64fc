"""Keeps what a patient wants of the bot: morning time, language, channel, time zone.

A stay elsewhere ends by itself: `end_stays`, at every tick. Says nothing.
"""

from __future__ import annotations

from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from bot.clinic import Clinic
from bot.patient_record.prompt_schedule import plan_prompts
from bot.patient_record.record import Case
from bot.ports import kind_of
from bot.store import audit, people, plans
from bot.store.database import Store
from dialogs.wishes import ChannelChosen, LanguageChosen, MorningTimeChosen, ZoneChosen
from rules.prompt_times import instant

Kept = MorningTimeChosen | LanguageChosen | ChannelChosen | ZoneChosen


def keep_life(case: Case, wish: Kept) -> None:
    """Keep one wish, and plan the prompts anew where it moves them."""
    store, patient = case.store, case.patient
    audit.note(store, patient.id, type(wish).__name__, case.now)
    match wish:
        case MorningTimeChosen():
            plans.set_morning_time(store, case.episode.id, wish.at)
            plan_prompts(case.again())
        case LanguageChosen():
            people.set_language(store, patient.id, wish.language)
        case ChannelChosen():
            _put_first(case, wish.kind)
        case ZoneChosen():
            _go(case, wish)
            plan_prompts(case.again())


def end_stays(store: Store, clinic: Clinic, now: datetime) -> None:
    """Whoever was elsewhere until yesterday lives by the time at home again."""
    for person in people.stays_over(store, now):
        people.come_home(store, person.id)
        plan_prompts(Case(store, clinic, people.person(store, person.id), now))


def _put_first(case: Case, kind: str) -> None:
    """The first of the patient's own addresses of this kind; nothing where there is none."""
    for contact in people.contacts(case.store, case.patient.id):
        if kind_of(contact.channel) == kind:
            people.put_first(case.store, contact)
            return


def _go(case: Case, wish: ZoneChosen) -> None:
    if not wish.zone:
        people.come_home(case.store, case.patient.id)
    elif wish.until is None:
        people.set_zone(case.store, case.patient.id, wish.zone)
    else:
        ends_at = instant(wish.until + timedelta(days=1), time(0), ZoneInfo(wish.zone))
        people.go_away(case.store, case.patient.id, wish.zone, wish.until, ends_at)
