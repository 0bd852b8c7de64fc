"""Ranks who needs somebody by what can hurt, one entry a person with all their reasons. Reads only.

Chat, shell and page show this one list. What a clinician has set aside is kept from theirs alone.
Read next: `need`, which finds the reasons; `bot.store.looks`, for what somebody has seen.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from bot.clinic import Clinic
from bot.clinicians.need import Found, Need, NeedKind, found_of
from bot.patient_record.record import PatientRecord
from bot.store import looks, people
from bot.store.database import Store
from bot.store.people import Person, Role
from dialogs.lines import line
from rules.history import Tier

SIGNS = (
    "crisis", "lung-clot", "limb-ischaemia", "cauda-equina", "spreading-infection",
    "tendon-rupture", "motor-loss", "leg-clot", "local-infection", "fracture", "severe-pain",
    "pain-very-high", "crisis-denied", "low-mood", "fluoroquinolone", "corticosteroid", "nerve",
    "systemic", "inflammatory", "lumps-and-cholesterol", "says-it-is-urgent", "not-handled",
    "asks-for-a-person", "words-after-opt-out",
)  # fmt: skip
"""Within a tier: life, then limb, then what a person asked for. A sign that is not here ranks by
the numbers. Source: convention, for want of one."""

DONE_DAYS = 7
"""How long something set aside stays so while it is the same [days, at most]. Convention."""


@dataclass(frozen=True)
class Entry:
    """One person of the list. `new`: not seen by this clinician, or worse than when they saw it."""

    person: int
    patient: str
    needs: tuple[Need, ...]
    new: bool = False

    @property
    def reasons(self) -> dict[str, int]:
        """Each reason by name, with how much of it there is."""
        return {need.key: need.amount for need in self.needs}

    @property
    def is_open(self) -> bool:
        """Whether an escalation waits: only closing it takes it from the list."""
        return any(need.kind is NeedKind.ESCALATION for need in self.needs)


@dataclass(frozen=True)
class Worklist:
    """Who needs somebody, most urgent first. `aside`: those this clinician has set aside."""

    entries: tuple[Entry, ...]
    aside: tuple[Entry, ...] = ()


def needs_of(store: Store, clinic: Clinic, now: datetime, language: str = "en") -> list[Entry]:
    """Everybody there is a reason to look at, with the reasons in a clinician's language.

    By tier, what nobody has before what somebody has; by sign; by how far the numbers stand from
    limit and usual; by days of silence; by words that could not be read; then by the rest.
    """
    ranked = []
    for patient in people.by_role(store, Role.PATIENT):
        found = found_of(PatientRecord(store, clinic, patient, now), language)
        if found.needs:
            entry = Entry(patient.id, patient.name, found.needs)
            ranked.append((_rank(found), patient.id, entry))
    return [entry for *_, entry in sorted(ranked, key=lambda one: one[:2])]


def worklist(store: Store, clinic: Clinic, now: datetime, viewer: Person) -> Worklist:
    """One clinician's list: what is new since they looked is marked, what they set aside apart."""
    seen = looks.of(store, viewer.id)
    shown: list[Entry] = []
    aside: list[Entry] = []
    for entry in needs_of(store, clinic, now, viewer.language):
        look = seen.get(entry.person)
        new = bool(seen) and (look is None or _is_more(entry.reasons, look.reasons))
        done_at = None if look is None else look.done_at
        is_done = done_at is not None and now - done_at < timedelta(days=DONE_DAYS)
        if is_done and not new and not entry.is_open:
            aside.append(entry)
        else:
            shown.append(Entry(entry.person, entry.patient, entry.needs, new))
    return Worklist(tuple(shown), tuple(aside))


def entry_line(entry: Entry, language: str = "en") -> str:
    """One person with all reasons, in the language they were found in."""
    reasons = "; ".join(need.why for need in entry.needs)
    name = "new-need" if entry.new else "need"
    return line(name, language, patient=entry.patient, reasons=reasons)


def entry_lines(entries: Iterable[Entry], language: str = "en") -> list[str]:
    """A line for each person."""
    return [entry_line(entry, language) for entry in entries]


def _is_more(reasons: dict[str, int], seen: dict[str, int]) -> bool:
    """Whether there is a reason that was not seen, or more of one that was."""
    return any(key not in seen or amount > seen[key] for key, amount in reasons.items())


def _rank(found: Found) -> tuple[float, ...]:
    """What two people are compared by, the lower first."""
    far = found.distance
    return (
        *min(_alarm(need) for need in found.needs),
        -(far.over_limit if far else 0),
        -(far.over_usual if far else 0),
        -found.days_silent,
        -sum(need.kind is NeedKind.UNREAD for need in found.needs),
        min(need.kind.rank for need in found.needs),
        min((need.escalation or 0 for need in found.needs), default=0),
    )


def _alarm(need: Need) -> tuple[int, ...]:
    """Tier, whether somebody has it, and sign. What needs no answer today is ranked by sign and
    numbers alone, whether somebody has it or not."""
    tier = Tier.NEXT_WORKING_DAY if need.tier is None else Tier(need.tier)
    sign = SIGNS.index(need.sign) if need.tier and need.sign in SIGNS else len(SIGNS)
    held = need.held_by is not None
    if tier is Tier.NEXT_WORKING_DAY:
        return tier.urgency, 0, sign, held
    return tier.urgency, held, sign, 0
