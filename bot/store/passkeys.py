"""Passkeys of people of the clinic: the public half; the private one never leaves its device."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from bot.store import instants
from bot.store.database import Store


@dataclass(frozen=True)
class Passkey:
    """One passkey. `uses`: how often its device says it was used; 0 where it does not count."""

    id: int
    person: int
    credential: bytes
    public_key: bytes
    uses: int


def add(
    store: Store, person: int, credential: bytes, public_key: bytes, uses: int, now: datetime
) -> bool:
    """Keep one; False where it is known already."""
    values = {"person": person, "credential": credential, "public_key": public_key, "uses": uses}
    return store.add_once("passkeys", {**values, "made_at": instants.text(now)}) is not None


def by_credential(store: Store, credential: bytes) -> Passkey | None:
    """The passkey of this name that its device gave."""
    sql = "SELECT * FROM passkeys WHERE credential = :credential"
    row = store.row(sql, {"credential": credential})
    if row is None:
        return None
    return Passkey(row["id"], row["person"], row["credential"], row["public_key"], row["uses"])


def of(store: Store, person: int) -> list[bytes]:
    """The names of a person's passkeys."""
    sql = "SELECT credential FROM passkeys WHERE person = :person ORDER BY id"
    return [row["credential"] for row in store.rows(sql, {"person": person})]


def used(store: Store, passkey: int, uses: int) -> None:
    """Its device counted on."""
    store.change("UPDATE passkeys SET uses = :uses WHERE id = :id", {"id": passkey, "uses": uses})


def forget(store: Store, person: int) -> int:
    """None of a person's passkeys lets anybody in any more; gives how many there were."""
    return store.change("DELETE FROM passkeys WHERE person = :person", {"person": person})
