"""People, their contact points and invitations. Roles are known by verified address only."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from bot.store import instants
from bot.store.database import Row, Store

# How long an invitation can be used [days]. Convention: longer than a holiday week.
INVITATION_DAYS = 14

# Letters and digits of a code that cannot be mistaken for one another on a small screen.
CODE_LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"

# Length of a code [characters]: 31^8 is about 8.5e11 codes, beside a limit on tries per sender.
CODE_LENGTH = 8


class Role(StrEnum):
    """Who somebody is to the clinic."""

    PATIENT = "patient"
    CLINICIAN = "clinician"
    LEAD_CLINICIAN = "lead clinician"
    OWNER = "owner"


CLINICAL = frozenset({Role.CLINICIAN, Role.LEAD_CLINICIAN})

# Why a contact point is closed whose person wants no messages there. Nothing but their word opens
# it again.
STOPPED = "asked to stop"


@dataclass(frozen=True)
class Person:
    """A person as stored. `zone` is an IANA name: where the person is now. `home_zone`: where they
    go back to after a stay elsewhere, None when at home; `away_until`: its last day, or None.
    `number_confirmed_at`: when a clinician said, since the person left, that the number is still
    theirs. `identifier`: what the clinic's own record calls them; `born_on`: their birth date."""

    id: int
    role: Role
    name: str
    language: str
    zone: str
    opted_out_at: datetime | None
    home_zone: str | None = None
    away_until: date | None = None
    number_confirmed_at: datetime | None = None
    identifier: str | None = None
    born_on: date | None = None


@dataclass(frozen=True)
class Contact:
    """A way to reach a person. `rank` 1 is tried first."""

    id: int
    person: int
    channel: str
    address: str
    rank: int


def _person(row: Row) -> Person:
    return Person(
        id=row["id"],
        role=Role(row["role"]),
        name=row["name"],
        language=row["language"],
        zone=row["zone"],
        opted_out_at=instants.read_maybe(row["opted_out_at"]),
        home_zone=row["home_zone"],
        away_until=instants.day(row["away_until"]),
        number_confirmed_at=instants.read_maybe(row["number_confirmed_at"]),
        identifier=row["identifier"],
        born_on=instants.day(row["born_on"]),
    )


def _contact(row: Row) -> Contact:
    return Contact(row["id"], row["person"], row["channel"], row["address"], row["rank"])


def add(
    store: Store, role: Role, name: str, now: datetime, *, language: str = "en", zone: str = "UTC"
) -> Person:
    """Add a person; the name is kept as given."""
    row = {"role": role, "name": name, "language": language, "zone": zone}
    return person(store, store.add("people", {**row, "made_at": instants.text(now)}))


def person(store: Store, person_id: int) -> Person:
    """One person by number; raises NotFoundError."""
    sql = "SELECT * FROM people WHERE id = :id"
    return _person(store.one(sql, {"id": person_id}, f"person {person_id}"))


def by_role(store: Store, *roles: Role) -> list[Person]:
    """All people of these roles who were not erased, in the order they were added."""
    wanted = ", ".join(f"'{role.value}'" for role in roles)
    sql = f"SELECT * FROM people WHERE erased_at IS NULL AND role IN ({wanted}) ORDER BY id"
    return [_person(row) for row in store.rows(sql)]


def by_address(store: Store, channel: str, address: str) -> Person | None:
    """Whose address this is, or None for a stranger."""
    sql = """
    SELECT people.* FROM people JOIN contact_points ON contact_points.person = people.id
    WHERE channel = :channel AND address = :address AND erased_at IS NULL
    """
    row = store.row(sql, {"channel": channel, "address": address})
    return None if row is None else _person(row)


def patients_named(store: Store, name: str) -> list[Person]:
    """Patients whose name is, or begins with, the whole words typed; capitals do not matter."""
    wanted = name.casefold().strip()
    patients = by_role(store, Role.PATIENT)
    exact = [found for found in patients if found.name.casefold() == wanted]
    words = wanted.split()
    return exact or [
        found
        for found in patients
        if words and found.name.casefold().split()[: len(words)] == words
    ]


def add_contact(
    store: Store, person_id: int, channel: str, address: str, now: datetime
) -> Contact | None:
    """Add a verified way to reach someone, after those there are. None: the address is taken."""
    count = store.one(
        "SELECT count(*) AS n FROM contact_points WHERE person = :person",
        {"person": person_id},
        "count",
    )["n"]
    values = {
        "person": person_id,
        "channel": channel,
        "address": address,
        "rank": count + 1,
        "verified_at": instants.text(now),
    }
    row_id = store.add_once("contact_points", values)
    return None if row_id is None else Contact(row_id, person_id, channel, address, count + 1)


def contacts(store: Store, person_id: int) -> list[Contact]:
    """The ways to reach someone that still work, first choice first."""
    sql = """
    SELECT * FROM contact_points WHERE person = :person AND closed_at IS NULL ORDER BY rank
    """
    return [_contact(row) for row in store.rows(sql, {"person": person_id})]


def contact(store: Store, contact_id: int) -> Contact:
    """One contact point by number, closed or not; raises NotFoundError."""
    sql = "SELECT * FROM contact_points WHERE id = :id"
    return _contact(store.one(sql, {"id": contact_id}, f"contact point {contact_id}"))


def contact_at(store: Store, channel: str, address: str) -> Contact | None:
    """The contact point with this address, closed or not."""
    sql = "SELECT * FROM contact_points WHERE channel = :channel AND address = :address"
    row = store.row(sql, {"channel": channel, "address": address})
    return None if row is None else _contact(row)


def close_contact(store: Store, contact_id: int, why: str, now: datetime) -> bool:
    """The channel says this address can never be reached. False: it was closed before."""
    sql = """
    UPDATE contact_points SET closed_at = :at, closed_why = :why
    WHERE id = :id AND closed_at IS NULL
    """
    return store.change(sql, {"id": contact_id, "why": why, "at": instants.text(now)}) > 0


def open_contact(store: Store, channel: str, address: str) -> None:
    """A message came from the address, so it works again; one whose person asked for silence stays
    closed."""
    sql = """
    UPDATE contact_points SET closed_at = NULL, closed_why = NULL
    WHERE channel = :channel AND address = :address AND closed_at IS NOT NULL
      AND closed_why IS NOT :stopped
    """
    store.change(sql, {"channel": channel, "address": address, "stopped": STOPPED})


def stopped_at(store: Store, contact_id: int) -> datetime | None:
    """When the person asked for silence on this contact point; None where they did not."""
    sql = "SELECT closed_at FROM contact_points WHERE id = :id AND closed_why = :stopped"
    row = store.row(sql, {"id": contact_id, "stopped": STOPPED})
    return None if row is None else instants.read(row["closed_at"])


def end_stop(store: Store, contact_id: int) -> None:
    """The person wants messages on this contact point again."""
    sql = "UPDATE contact_points SET closed_at = NULL, closed_why = NULL WHERE id = :id"
    store.change(sql, {"id": contact_id})


def set_zone(store: Store, person_id: int, zone: str) -> None:
    """The person lives by this zone from now on, and is at home there."""
    sql = """
    UPDATE people SET zone = :zone, home_zone = NULL, away_until = NULL, away_ends_at = NULL
    WHERE id = :id
    """
    store.change(sql, {"id": person_id, "zone": zone})


def go_away(store: Store, person_id: int, zone: str, until: date, ends_at: datetime) -> None:
    """The person lives by another zone up to and including a day; `ends_at` is the end of it."""
    sql = """
    UPDATE people SET home_zone = coalesce(home_zone, zone), zone = :zone,
        away_until = :until, away_ends_at = :ends
    WHERE id = :id
    """
    values = {"id": person_id, "zone": zone, "until": until.isoformat()}
    store.change(sql, {**values, "ends": instants.text(ends_at)})


def come_home(store: Store, person_id: int) -> None:
    """The stay elsewhere is over. Changes nothing for somebody at home."""
    found = person(store, person_id)
    if found.home_zone is not None:
        set_zone(store, person_id, found.home_zone)


def stays_over(store: Store, now: datetime) -> list[Person]:
    """Those whose stay elsewhere is over and who are still kept as away."""
    sql = "SELECT * FROM people WHERE away_ends_at <= :now ORDER BY away_ends_at, id"
    return [_person(row) for row in store.rows(sql, {"now": instants.text(now)})]


def set_language(store: Store, person_id: int, language: str) -> None:
    """The person is written to in this language from now on."""
    sql = "UPDATE people SET language = :language WHERE id = :id"
    store.change(sql, {"id": person_id, "language": language})


def identify(store: Store, person_id: int, identifier: str | None, born_on: date | None) -> None:
    """Keep what the clinic's own record calls the person, and their birth date."""
    sql = "UPDATE people SET identifier = :identifier, born_on = :born WHERE id = :id"
    born = None if born_on is None else born_on.isoformat()
    store.change(sql, {"id": person_id, "identifier": identifier, "born": born})


def put_first(store: Store, contact: Contact) -> None:
    """This way of reaching a person is tried first from now on; the others keep their order."""
    sql = "UPDATE contact_points SET rank = rank + 1 WHERE person = :person AND rank < :rank"
    store.change(sql, {"person": contact.person, "rank": contact.rank})
    store.change("UPDATE contact_points SET rank = 1 WHERE id = :id", {"id": contact.id})


def record_consent(store: Store, person_id: int, wording: str, now: datetime) -> None:
    """The person agreed to be asked, to this wording, at this time."""
    sql = "UPDATE people SET consented_at = :at, consent_wording = :wording WHERE id = :id"
    store.change(sql, {"id": person_id, "wording": wording, "at": instants.text(now)})


def opt_out(store: Store, person_id: int, now: datetime) -> None:
    """No more prompts to this person."""
    sql = "UPDATE people SET opted_out_at = :at, number_confirmed_at = NULL WHERE id = :id"
    store.change(sql, {"id": person_id, "at": instants.text(now)})


def confirm_number(store: Store, person_id: int, now: datetime) -> None:
    """A clinician says that the number is still that of the person who left."""
    sql = "UPDATE people SET number_confirmed_at = :at WHERE id = :id"
    store.change(sql, {"id": person_id, "at": instants.text(now)})


def opt_in(store: Store, person_id: int) -> None:
    """Prompts go out again."""
    store.change("UPDATE people SET opted_out_at = NULL WHERE id = :id", {"id": person_id})


def invite(store: Store, person_id: int, made_by: int | None, now: datetime) -> str:
    """Make a single-use code for a person. Only its hash is kept; the code is returned once."""
    code = "".join(secrets.choice(CODE_LETTERS) for _ in range(CODE_LENGTH))
    values = {
        "code_hash": _hashed(code),
        "person": person_id,
        "made_by": made_by,
        "made_at": instants.text(now),
        "expires_at": instants.text(now + timedelta(days=INVITATION_DAYS)),
    }
    store.add("invitations", values)
    return code


def redeem(store: Store, code: str, now: datetime) -> Person | None:
    """Use an invitation: gives whom it was for, once; None if unknown, used or expired."""
    sql = """
    UPDATE invitations SET used_at = :at
    WHERE code_hash = :hash AND used_at IS NULL AND expires_at > :at
    """
    values = {"hash": _hashed(code), "at": instants.text(now)}
    if store.change(sql, values) == 0:
        return None
    row = store.row("SELECT person FROM invitations WHERE code_hash = :hash", values)
    return None if row is None else person(store, row["person"])


def invited_by(store: Store, code: str, now: datetime) -> int | None:
    """Whom an invitation that can still be used is for; it stays unused."""
    sql = """
    SELECT person FROM invitations
    WHERE code_hash = :hash AND used_at IS NULL AND expires_at > :at
    """
    row = store.row(sql, {"hash": _hashed(code), "at": instants.text(now)})
    return None if row is None else int(row["person"])


def give_up_address(store: Store, channel: str, address: str, now: datetime) -> None:
    """The address is no longer its person's: it is kept with a mark, and free for another."""
    sql = """
    UPDATE contact_points SET address = address || ' until ' || :at, closed_at = :at,
        closed_why = 'another person has it'
    WHERE channel = :channel AND address = :address
    """
    store.change(sql, {"channel": channel, "address": address, "at": instants.text(now)})


def leave(store: Store, person_id: int, now: datetime) -> None:
    """Somebody has left the clinic: no address is theirs, no code lets them in, and of them
    the name is left, for what they did."""
    values = {"id": person_id, "at": instants.text(now)}
    sql = """
    UPDATE contact_points SET address = address || ' until ' || :at,
        closed_at = coalesce(closed_at, :at), closed_why = 'has left the clinic'
    WHERE person = :id
    """
    store.change(sql, values)
    sql = "UPDATE invitations SET expires_at = :at WHERE person = :id AND used_at IS NULL"
    store.change(sql, values)
    sql = "UPDATE page_keys SET ended_at = :at WHERE person = :id AND ended_at IS NULL"
    store.change(sql, values)
    store.change("DELETE FROM passkeys WHERE person = :id", {"id": person_id})
    sql = "UPDATE people SET erased_at = :at, opted_out_at = :at WHERE id = :id"
    store.change(sql, values)


def _hashed(code: str) -> str:
    return hashlib.sha256(code.strip().upper().encode()).hexdigest()
