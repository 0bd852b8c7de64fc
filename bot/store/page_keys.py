"""Keys to the clinic page: links that are good once, and the sessions they open. Only the hash of a
key is kept; the key itself is given away once."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime, timedelta

from bot.store import instants, people
from bot.store.database import Store
from bot.store.people import Person

# How long a link is good, and how long a session lasts [minutes; hours]. Convention.
LINK_MINUTES, SESSION_HOURS = 10, 12

KEY_BYTES = 32
"""Too many to be guessed: 256 bits."""


def make_link(store: Store, person: int, now: datetime) -> str:
    """A key that opens one session, for a few minutes; an earlier one that waits is void."""
    sql = """
    UPDATE page_keys SET ended_at = :at
    WHERE person = :person AND kind = 'link' AND ended_at IS NULL
    """
    store.change(sql, {"person": person, "at": instants.text(now)})
    return _make(store, person, "link", now, timedelta(minutes=LINK_MINUTES))


def open_session(store: Store, link: str, now: datetime) -> str | None:
    """Use a link, once: gives the key of the session; None if unknown, used or too old."""
    sql = """
    UPDATE page_keys SET ended_at = :at
    WHERE key_hash = :hash AND kind = 'link' AND ended_at IS NULL AND expires_at > :at
    """
    values = {"hash": _hashed(link), "at": instants.text(now)}
    if store.change(sql, values) == 0:
        return None
    row = store.one("SELECT person FROM page_keys WHERE key_hash = :hash", values, "link")
    _forget(store, int(row["person"]), link)
    return begin_session(store, int(row["person"]), now)


def begin_session(store: Store, person: int, now: datetime) -> str:
    """The key of a new session of somebody who has shown who they are."""
    return _make(store, person, "session", now, timedelta(hours=SESSION_HOURS))


def session_of(store: Store, session: str, now: datetime) -> Person | None:
    """Whose session this is, while it lasts and they are of the clinic; None for any other."""
    sql = """
    SELECT person FROM page_keys JOIN people ON people.id = person
    WHERE key_hash = :hash AND kind = 'session' AND ended_at IS NULL AND expires_at > :at
      AND erased_at IS NULL AND role <> 'patient'
    """
    row = store.row(sql, {"hash": _hashed(session), "at": instants.text(now)})
    return None if row is None else people.person(store, row["person"])


def end_all(store: Store, person: int, now: datetime) -> int:
    """No link and no session of this person is good any more; gives how many were."""
    sql = """
    UPDATE page_keys SET ended_at = :at
    WHERE person = :person AND ended_at IS NULL AND expires_at > :at
    """
    return store.change(sql, {"person": person, "at": instants.text(now)})


def _make(store: Store, person: int, kind: str, now: datetime, lasts: timedelta) -> str:
    key = secrets.token_urlsafe(KEY_BYTES)
    values = {"person": person, "kind": kind, "key_hash": _hashed(key)}
    times = {"made_at": instants.text(now), "expires_at": instants.text(now + lasts)}
    store.add("page_keys", {**values, **times})
    return key


def _forget(store: Store, person: int, link: str) -> None:
    """The message that brought the link keeps it no longer."""
    sql = """
    UPDATE outbox SET text = replace(text, :link, '...')
    WHERE person = :person AND instr(text, :link)
    """
    store.change(sql, {"person": person, "link": link})


def _hashed(key: str) -> str:
    return hashlib.sha256(key.encode()).hexdigest()
