"""Invites people. A patient: a person, an episode on the clinic's ladder for the tendon, a code.
A clinician or an owner: a person and a code."""

from __future__ import annotations

from datetime import datetime

from bot.clinic import Clinic
from bot.clinicians.plan import check_place, to_begin
from bot.clinicians.refusal import NotDoneError
from bot.store import audit, people, plans
from bot.store.database import Store
from bot.store.people import Role
from dialogs.clinician_commands import WhyNot
from rules.protocol import Position, Tendon


def invite_patient(
    store: Store,
    clinic: Clinic,
    name: str,
    tendon: Tendon,
    made_by: int | None,
    now: datetime,
    begins: Position | None = None,
) -> str:
    """Add a patient and give the single-use code. Raises NotDoneError where the name is taken:
    clinicians call patients by name, so two must not share one.

    begins: where the ladder begins; None: at its first level. NotDoneError where there is no such
    place, or it is barred for this tendon.
    """
    name = " ".join(name.split())
    if not name:
        raise NotDoneError(WhyNot.NO_NAME)
    if any(p.name.casefold() == name.casefold() for p in people.by_role(store, Role.PATIENT)):
        raise NotDoneError(WhyNot.NAME_TAKEN, wanted=name)
    protocol = clinic.protocol(clinic.ladders[tendon])
    if begins is not None:
        history = to_begin(tendon, begins, now.astimezone(clinic.zone_info).date())
        check_place(history, protocol, name, begins)
    patient = people.add(store, Role.PATIENT, name, now, language=clinic.language, zone=clinic.zone)
    episode = plans.open_episode(store, patient.id, tendon, protocol, now)
    if begins is not None:
        plans.begin_at(store, episode.id, history.moves[0], now, made_by)
    audit.note(store, made_by, "patient invited", now, patient=patient.id)
    return people.invite(store, patient.id, made_by, now)


def invite_staff(
    store: Store, role: Role, name: str, language: str, now: datetime, made_by: int | None = None
) -> str:
    """Add a clinician, a lead clinician or an owner, and give the single-use code. Raises
    NotDoneError where somebody of the clinic has the name: escalations name people by it."""
    name = " ".join(name.split())
    if not name:
        raise NotDoneError(WhyNot.NO_NAME)
    staff = people.by_role(store, *people.CLINICAL, Role.OWNER)
    taken = next((one for one in staff if one.name.casefold() == name.casefold()), None)
    if taken is not None:
        raise NotDoneError(WhyNot.COLLEAGUE_TAKEN, wanted=taken.name)
    person = people.add(store, role, name, now, language=language)
    audit.note(store, person.id, f"{role} invited", now, **({"by": made_by} if made_by else {}))
    return people.invite(store, person.id, made_by, now)
