"""Prompts: one a patient, kind and local date, for ever. The unique key is what makes it once."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from bot.store import instants
from bot.store.database import Row, Store


@dataclass(frozen=True)
class Prompt:
    """A prompt as stored. `written_at`: when it was handed to the outbox."""

    id: int
    patient: int
    kind: str
    on: date
    due_at: datetime
    expires_at: datetime


def plan(
    store: Store, patient: int, kind: str, on: date, due_at: datetime, expires_at: datetime
) -> None:
    """Plan a prompt. One that waits is moved to the new time; one that is done stays done."""
    sql = """
    INSERT INTO prompts (patient, kind, on_date, due_at, expires_at)
    VALUES (:patient, :kind, :on, :due, :expires)
    ON CONFLICT (patient, kind, on_date) DO UPDATE
    SET due_at = excluded.due_at, expires_at = excluded.expires_at
    WHERE written_at IS NULL AND dropped_at IS NULL
    """
    values = {"patient": patient, "kind": kind, "on": on.isoformat()}
    due = {"due": instants.text(due_at), "expires": instants.text(expires_at)}
    store.change(sql, {**values, **due})


def due(store: Store, now: datetime, limit: int) -> list[Prompt]:
    """Prompts that are due, oldest first, at most `limit`."""
    sql = """
    SELECT * FROM prompts
    WHERE due_at <= :now AND written_at IS NULL AND dropped_at IS NULL
    ORDER BY due_at, id LIMIT :limit
    """
    return [_prompt(row) for row in store.rows(sql, {"now": instants.text(now), "limit": limit})]


def next_due(store: Store, patient: int | None = None, limit: int = 5) -> list[Prompt]:
    """What is due next, of one patient or of all."""
    sql = """
    SELECT * FROM prompts
    WHERE written_at IS NULL AND dropped_at IS NULL
      AND (:patient IS NULL OR patient = :patient)
    ORDER BY due_at, id LIMIT :limit
    """
    return [_prompt(row) for row in store.rows(sql, {"patient": patient, "limit": limit})]


def written(store: Store, prompt_id: int, now: datetime) -> None:
    """The prompt is in the outbox."""
    sql = "UPDATE prompts SET written_at = :at WHERE id = :id"
    store.change(sql, {"id": prompt_id, "at": instants.text(now)})


def drop(store: Store, prompt_id: int, why: str, now: datetime) -> None:
    """The prompt will not be sent: too late, or no longer needed."""
    sql = "UPDATE prompts SET dropped_at = :at, dropped_why = :why WHERE id = :id"
    store.change(sql, {"id": prompt_id, "why": why, "at": instants.text(now)})


def dates_written(store: Store, patient: int, kind: str, since: date) -> list[date]:
    """The local dates from `since` on for which this kind of prompt has gone out, oldest first."""
    sql = """
    SELECT on_date FROM prompts
    WHERE patient = :patient AND kind = :kind AND on_date >= :since AND written_at IS NOT NULL
    ORDER BY on_date
    """
    values = {"patient": patient, "kind": kind, "since": since.isoformat()}
    return [date.fromisoformat(row["on_date"]) for row in store.rows(sql, values)]


def _prompt(row: Row) -> Prompt:
    return Prompt(
        id=row["id"],
        patient=row["patient"],
        kind=row["kind"],
        on=date.fromisoformat(row["on_date"]),
        due_at=instants.read(row["due_at"]),
        expires_at=instants.read(row["expires_at"]),
    )
