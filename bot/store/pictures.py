"""Pictures that go out with messages, as SVG or PNG. One that shows an exercise is kept once for
all; one that shows a patient's own weeks belongs to them, and goes when their data goes."""

from __future__ import annotations

from datetime import datetime

from bot.store import instants
from bot.store.database import Store


def keep(store: Store, name: str, drawn: bytes, now: datetime, person: int | None = None) -> int:
    """Keep a picture; gives its number. One of the same name for everybody is kept once.

    person: whose data it shows, None where it shows nobody's.
    """
    if person is None and (known := number(store, name)) is not None:
        return known
    values = {"name": name, "person": person, "png": drawn, "made_at": instants.text(now)}
    return store.add("pictures", values)


def number(store: Store, name: str) -> int | None:
    """The number of a picture for everybody by its name, or None."""
    row = store.row("SELECT id FROM pictures WHERE name = :name AND person IS NULL", {"name": name})
    return None if row is None else int(row["id"])


def png(store: Store, picture: int | None) -> bytes | None:
    """The picture itself; None where there is none."""
    if picture is None:
        return None
    row = store.row("SELECT png FROM pictures WHERE id = :id", {"id": picture})
    return None if row is None else bytes(row["png"])


def drop(store: Store, name: str) -> None:
    """Forget the pictures of this name, and of this name and more words; messages that showed them
    keep their text."""
    named = "name BETWEEN :name AND :name || ' ~'"
    sql = (
        f"UPDATE outbox SET picture = NULL WHERE picture IN (SELECT id FROM pictures WHERE {named})"
    )
    store.change(sql, {"name": name})
    store.change(f"DELETE FROM pictures WHERE {named}", {"name": name})


def take_out_of_messages(store: Store, person: int) -> None:
    """Messages that showed a person's pictures, to whomever, keep their text alone."""
    sql = """
    UPDATE outbox SET picture = NULL
    WHERE picture IN (SELECT id FROM pictures WHERE person = :person)
    """
    store.change(sql, {"person": person})
