"""Says every working day that the bot runs; that this does not come is the alarm.

A program that has died cannot say so. Whoever runs the clinic knows that a message is due a quarter
of an hour after opening, and looks when there is none. Never tells anything about a patient.
"""

from __future__ import annotations

from datetime import datetime, time, timedelta

from bot.clinic import Clinic
from bot.clinicians.roles import MAY, Right
from bot.escalations.rota import next_list_at, nobody_hears
from bot.patient_record.say import tell
from bot.store import answers, escalations, outbox, people, plans
from bot.store.database import Store
from bot.store.people import Role
from dialogs.turn import Said
from rules.prompt_times import instant, local_date

DAY = timedelta(days=1)


def say_running(store: Store, clinic: Clinic, now: datetime) -> None:
    """Tell owners and lead clinicians, once on each working day, from a quarter of an hour after
    opening on. A second call on the same day adds nothing."""
    today = local_date(now, clinic.zone_info)
    midnight = instant(today, time(0), clinic.zone_info)
    due_at = next_list_at(midnight, clinic.pace.working_hours)
    if now < due_at or local_date(due_at, clinic.zone_info) != today:
        return
    hearing = [role for role in Role if Right.HEAR_RUNNING in MAY[role]]
    for person in people.by_role(store, *hearing):
        key = f"running {today} {person.id}"
        if (
            person.opted_out_at is not None
            or outbox.is_written(store, key)
            or not people.contacts(store, person.id)
        ):
            continue
        said = Said(
            "clinician/running",
            {
                "patients": len(plans.treated(store)),
                "answers": answers.count_since(store, now - DAY),
                "open": len(escalations.not_closed(store)),
                "nobody": nobody_hears(store, clinic, now),
            },
        )
        tell(store, clinic, person, said, now, once_key=key)
