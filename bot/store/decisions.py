"""Decisions: what was advised, why, made from what, by which version of which protocol."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date, datetime

from bot.store import instants
from bot.store.database import Row, Store
from rules.protocol import Position, Protocol
from rules.reasons import Action, Advice, Finding, Reason


@dataclass(frozen=True)
class Decision:
    """An advice as kept, with when it was decided."""

    id: int
    advice: Advice
    protocol: str
    protocol_version: str
    decided_at: datetime


def keep(
    store: Store,
    episode: int,
    advice: Advice,
    protocol: Protocol,
    history: bytes,
    now: datetime,
    message: int | None,
) -> Decision:
    """Keep an advice with the packed history it was worked out from."""
    values = {
        "episode": episode,
        "on_date": advice.on.isoformat(),
        "decided_at": instants.text(now),
        "action": advice.action,
        "reason": advice.reason,
        "evidence": json.dumps(dict(advice.because.evidence)),
        "also": json.dumps([[f.action, f.reason, dict(f.evidence)] for f in advice.also]),
        "history": history,
        "protocol": protocol.name,
        "protocol_version": protocol.version,
        "stood_level": advice.stood.level,
        "stood_dose": advice.stood.dose,
        "level": advice.position.level,
        "dose": advice.position.dose,
        "message": message,
    }
    number = store.add("decisions", values)
    return Decision(number, advice, protocol.name, protocol.version, now)


def keep_protocol(store: Store, protocol: Protocol, text: str, now: datetime) -> None:
    """Keep a protocol's text the first time its version is used, so that old decisions can be
    explained after the file has changed."""
    values = {"name": protocol.name, "version": protocol.version, "text": text}
    store.add_once("protocols", {**values, "first_used_at": instants.text(now)})


def latest(store: Store, episode: int, on: date | None = None) -> Decision | None:
    """The latest decision, of one local date or of all."""
    day = "" if on is None else "AND on_date = :on"
    sql = f"SELECT * FROM decisions WHERE episode = :episode {day} ORDER BY id DESC LIMIT 1"
    row = store.row(sql, {"episode": episode, "on": None if on is None else on.isoformat()})
    return None if row is None else _decision(row)


def every(store: Store, episode: int) -> list[Decision]:
    """All decisions, oldest first."""
    sql = "SELECT * FROM decisions WHERE episode = :episode ORDER BY id"
    return [_decision(row) for row in store.rows(sql, {"episode": episode})]


def kept_with(store: Store, number: int) -> Row:
    """What one decision keeps to be made again: `history`, packed; `text` of its protocol;
    `on_date`."""
    sql = """
    SELECT history, on_date, text FROM decisions JOIN protocols
        ON protocols.name = protocol AND version = protocol_version
    WHERE id = :id
    """
    return store.one(sql, {"id": number}, f"decision {number}")


def rest_days(store: Store, episode: int) -> tuple[date, ...]:
    """Local dates whose last decision before a session was not to load."""
    sql = """
    SELECT on_date FROM decisions WHERE id IN (
        SELECT max(id) FROM decisions
        WHERE episode = :episode AND NOT EXISTS (
            SELECT 1 FROM sessions
            WHERE sessions.episode = decisions.episode AND sessions.on_date = decisions.on_date
        ) GROUP BY on_date
    ) AND action IN ('rest day', 'stop', 'step back', 'do less') ORDER BY on_date
    """
    return tuple(
        date.fromisoformat(row["on_date"]) for row in store.rows(sql, {"episode": episode})
    )


def _decision(row: Row) -> Decision:
    also = [Finding(Action(a), Reason(r), e) for a, r, e in json.loads(row["also"])]
    because = Finding(Action(row["action"]), Reason(row["reason"]), json.loads(row["evidence"]))
    advice = Advice(
        on=date.fromisoformat(row["on_date"]),
        because=because,
        also=tuple(also),
        stood=Position(row["stood_level"], row["stood_dose"]),
        position=Position(row["level"], row["dose"]),
    )
    decided_at = instants.read(row["decided_at"])
    return Decision(row["id"], advice, row["protocol"], row["protocol_version"], decided_at)
