"""Invites a patient: a person, an episode on the clinic's ladder for the tendon, and a code."""

from __future__ import annotations

from datetime import datetime

from bot.clinic import Clinic
from bot.errors import RefusedError
from bot.store import audit, people, plans
from bot.store.database import Store
from bot.store.people import Role
from rules.protocol import Tendon


def invite_patient(
    store: Store, clinic: Clinic, name: str, tendon: Tendon, made_by: int | None, now: datetime
) -> str:
    """Add a patient and give the single-use code. Raises RefusedError where the name is taken:
    clinicians call patients by name, so two must not share one."""
    name = " ".join(name.split())
    if not name:
        raise RefusedError("expected the patient's name; found nothing")
    if any(p.name.casefold() == name.casefold() for p in people.by_role(store, Role.PATIENT)):
        raise RefusedError(f"there is a patient named {name!r} already; add an initial")
    patient = people.add(store, Role.PATIENT, name, now, language=clinic.language, zone=clinic.zone)
    plans.open_episode(store, patient.id, tendon, clinic.protocol(clinic.ladders[tendon]), now)
    audit.note(store, made_by, "patient invited", now, patient=patient.id)
    return people.invite(store, patient.id, made_by, now)
