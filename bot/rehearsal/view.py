"""What the rehearsal page shows, read from the store into frozen values. Reads only.

Times are put on wall clocks here, so that the page's template only sets them out: a patient's own
thread on the patient's clock, everything else on the clinic's.
Read next: `thread` for the two transcripts, `bot.web.rehearsal` for the page.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from bot.clinic import Clinic
from bot.clinicians.patient_summary import patient_svg, patient_words
from bot.patient_record.record import PatientRecord
from bot.rehearsal.history import Coming
from bot.rehearsal.stage import CHAT
from bot.rehearsal.thread import Thread, thread
from bot.store import decisions, escalations, instants, notices, people, plans, prompts
from bot.store.database import Row, Store
from bot.store.decisions import Decision
from bot.store.escalations import Escalation
from bot.store.people import CLINICAL, Person, Role
from bot.store.plans import Episode
from rules.protocol import Dose, Position, Protocol
from rules.reasons import Finding

# How many of what is due next are listed [rows]. Convention: what fits beside a thread.
DUE_SHOWN = 8


@dataclass(frozen=True)
class Chosen:
    """What the page is asked to show. Addresses are those of the chat channel.

    `alone`: addresses of patients who answer by themselves. `whole`: whole threads, not their ends.
    """

    patient: str
    clinician: str
    alone: frozenset[str]
    coming: tuple[Coming, ...]
    whole: bool = False


@dataclass(frozen=True)
class Who:
    """A person who can be chosen."""

    name: str
    address: str
    chosen: bool


@dataclass(frozen=True)
class Due:
    """Something that will happen by itself if time is moved that far."""

    at: datetime
    who: str
    what: str


@dataclass(frozen=True)
class Because:
    """A reason with the numbers it compared, in words."""

    action: str
    reason: str
    numbers: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Decided:
    """A decision as kept. `today`: it is about the patient's present day."""

    on: date
    at: datetime
    today: bool
    because: Because
    also: tuple[Because, ...]
    moved: str
    protocol: str


@dataclass(frozen=True)
class Rung:
    """A level of the ladder by its name. `doses`: each with whether the patient stands on it."""

    number: int
    name: str
    doses: tuple[tuple[str, bool], ...]
    here: bool


@dataclass(frozen=True)
class Step:
    """One step of an escalation's history, on the clinic's clock."""

    at: datetime
    what: str
    who: str
    note: str


@dataclass(frozen=True)
class OpenEscalation:
    """An escalation that nobody has closed."""

    number: int
    patient: str
    title: str
    tier: str
    words: str
    standing: str
    history: tuple[Step, ...]


@dataclass(frozen=True)
class Page:
    """All that the page shows at one instant.

    `course`: the patient's last weeks as SVG, None before enrolment; `course_words`: the same told.
    """

    clinic: str
    clinic_now: datetime
    patient_now: datetime
    patients: tuple[Who, ...]
    clinicians: tuple[Who, ...]
    patient: Person
    clinician: Person
    alone: bool
    patient_thread: Thread
    clinician_thread: Thread
    due: tuple[Due, ...]
    decided: Decided | None
    course: str | None
    course_words: str
    ladder: tuple[Rung, ...]
    protocol_title: str
    escalations: tuple[OpenEscalation, ...]


def read_page(store: Store, clinic: Clinic, now: datetime, chosen: Chosen) -> Page:
    """The page at an instant; an address that nobody has stands for the first of its kind."""
    patients, patient = _who(store, people.by_role(store, Role.PATIENT), chosen.patient)
    clinicians, clinician = _who(store, people.by_role(store, *CLINICAL), chosen.clinician)
    episode = plans.of_patient(store, patient.id)
    patient_now = now.astimezone(ZoneInfo(patient.zone))
    address = next((who.address for who in patients if who.chosen), "")
    case = PatientRecord(store, clinic, patient, now)
    return Page(
        clinic=clinic.name,
        clinic_now=now.astimezone(clinic.zone_info),
        patient_now=patient_now,
        patients=patients,
        clinicians=clinicians,
        patient=patient,
        clinician=clinician,
        alone=address in chosen.alone,
        patient_thread=thread(store, patient, ZoneInfo(patient.zone), whole=chosen.whole),
        clinician_thread=thread(store, clinician, clinic.zone_info, whole=chosen.whole),
        due=_due(store, clinic, chosen.coming),
        decided=_decided(store, clinic, episode, patient_now),
        course=patient_svg(case),
        course_words=patient_words(case),
        ladder=_ladder(store, clinic, episode),
        protocol_title=clinic.protocol(episode.protocol).title,
        escalations=tuple(_escalation(store, clinic, e) for e in escalations.not_closed(store)),
    )


def _who(store: Store, found: list[Person], address: str) -> tuple[tuple[Who, ...], Person]:
    addresses = {person.id: _chat_address(store, person) for person in found}
    chosen = next((person for person in found if addresses[person.id] == address), found[0])
    return tuple(
        Who(person.name, addresses[person.id], person.id == chosen.id) for person in found
    ), chosen


def _chat_address(store: Store, person: Person) -> str:
    contacts = people.contacts(store, person.id)
    return next((c.address for c in contacts if c.channel == CHAT), "")


def _due(store: Store, clinic: Clinic, coming: tuple[Coming, ...]) -> tuple[Due, ...]:
    """The soonest of what will happen by itself, on the clinic's clock."""
    names = {person.id: person.name for person in people.by_role(store, *Role)}
    found = [
        (prompt.due_at, names[prompt.patient], f"{_plain(prompt.kind)} message")
        for prompt in prompts.next_due(store, limit=DUE_SHOWN)
    ]
    found += [
        (instants.read(row["due"]), names[row["patient"]], row["what"])
        for row in store.rows(OTHER_DUE)
    ]
    found += [(answer.at, answer.who, "answers alone") for answer in coming]
    soonest = sorted(found)[:DUE_SHOWN]
    return tuple(Due(at.astimezone(clinic.zone_info), who, what) for at, who, what in soonest)


OTHER_DUE = """
SELECT next_at AS due, patient, 'next notice of escalation ' || id AS what
FROM escalations WHERE acknowledged_at IS NULL AND next_at IS NOT NULL
UNION ALL
SELECT answer_by, patient, 'time to answer the closed question runs out'
FROM sign_questions WHERE settled_at IS NULL
UNION ALL
SELECT due_at, person, 'message to send again'
FROM outbox WHERE accepted_at IS NULL AND failed_at IS NULL AND person IS NOT NULL
"""


def _decided(
    store: Store, clinic: Clinic, episode: Episode, patient_now: datetime
) -> Decided | None:
    """The latest decision of today, else the latest of all; None before the first."""
    kept = decisions.latest(store, episode.id)
    if kept is None:
        return None
    return Decided(
        on=kept.advice.on,
        at=kept.decided_at.astimezone(patient_now.tzinfo),
        today=kept.advice.on == patient_now.date(),
        because=_because(kept.advice.because),
        also=tuple(_because(finding) for finding in kept.advice.also),
        moved=_moved(clinic.protocol(episode.protocol), kept),
        protocol=f"{kept.protocol}, version {kept.protocol_version}",
    )


def _because(finding: Finding) -> Because:
    numbers = tuple(
        (_plain(name), "not known" if value is None else str(value))
        for name, value in finding.evidence.items()
    )
    return Because(finding.action.value, _plain(finding.reason), numbers)


def _moved(protocol: Protocol, kept: Decision) -> str:
    before, after = kept.advice.stood, kept.advice.position
    if before == after:
        return f"stays at {_place(after)}: {_dose(protocol.dose(after))}"
    return f"from {_place(before)} to {_place(after)}: {_dose(protocol.dose(after))}"


def _place(position: Position) -> str:
    return f"level {position.level}, dose {position.dose}"


def _dose(dose: Dose) -> str:
    load = f", {dose.added_load_kg:g} kg added" if dose.added_load_kg else ""
    return f"{dose.sets} x {dose.amount} {dose.unit}{load}"


def _ladder(store: Store, clinic: Clinic, episode: Episode) -> tuple[Rung, ...]:
    """The levels of the patient's protocol, lowest first, and where the patient stands."""
    made = plans.moves(store, episode.id)
    stands = made[-1].position if made else None
    return tuple(
        Rung(
            number=number,
            name=level.name,
            doses=tuple(
                (_dose(dose), stands == Position(number, place))
                for place, dose in enumerate(level.doses, start=1)
            ),
            here=stands is not None and stands.level == number,
        )
        for number, level in enumerate(clinic.protocol(episode.protocol).levels, start=1)
    )


def _escalation(store: Store, clinic: Clinic, escalation: Escalation) -> OpenEscalation:
    sign = clinic.lexicon.signs.get(escalation.sign)
    return OpenEscalation(
        number=escalation.id,
        patient=people.person(store, escalation.patient).name,
        title=_plain(escalation.sign) if sign is None else sign.sign.title,
        tier=escalation.tier.value,
        words=escalation.words,
        standing=_standing(store, clinic, escalation),
        history=tuple(_step(clinic, row) for row in notices.history(store, escalation.id)),
    )


def _standing(store: Store, clinic: Clinic, escalation: Escalation) -> str:
    """Whether somebody has it, in one clause."""
    if escalation.acknowledged_at is None or escalation.acknowledged_by is None:
        return "nobody has it yet"
    name = people.person(store, escalation.acknowledged_by).name
    return f"{name} has it since {escalation.acknowledged_at.astimezone(clinic.zone_info):%H:%M}"


def _step(clinic: Clinic, row: Row) -> Step:
    by = f"by {row['channel']}" if row["channel"] else ""
    failed = "could not be delivered" if row["failed_at"] else ""
    return Step(
        at=instants.read(row["at"]).astimezone(clinic.zone_info),
        what=row["kind"],
        who=" ".join(filter(None, (row["name"], by))),
        note="; ".join(filter(None, (row["note"], failed))),
    )


def _plain(code: str) -> str:
    return code.replace("-", " ").replace("_", " ")
