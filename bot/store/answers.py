"""Answers, append-only: a correction is a new row that names the one it corrects."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from bot.store import instants
from bot.store.database import Row, Store
from rules.protocol import Position


@dataclass(frozen=True)
class Kept:
    """One answer that stands. `value` is an integer, or text for enrolment questions."""

    id: int
    question: str
    about: date
    value: int | str
    answered_at: datetime
    message: int | None = None


@dataclass(frozen=True)
class SessionRow:
    """A session that was reported, with the place on the ladder it was done at."""

    on: date
    position: Position
    sets_prescribed: int
    reported_at: datetime


def keep(
    store: Store,
    episode: int,
    question: str,
    about: date,
    value: int | str,
    now: datetime,
    message: int | None,
) -> None:
    """Keep an answer. Where the question was answered before, this one corrects it."""
    sql = """
    INSERT INTO answers (episode, question, about_date, value, answered_at, message, corrects)
    VALUES (:episode, :question, :about, :value, :at, :message, (
        SELECT max(id) FROM answers
        WHERE episode = :episode AND question = :question AND about_date = :about))
    """
    key = {"episode": episode, "question": question, "about": about.isoformat()}
    store.change(sql, {**key, "value": str(value), "at": instants.text(now), "message": message})


def standing(store: Store, episode: int, since: date = date.min) -> list[Kept]:
    """The latest answer to each question about each date from `since` on, by date."""
    sql = """
    SELECT * FROM answers WHERE id IN (
        SELECT max(id) FROM answers WHERE episode = :episode AND about_date >= :since
        GROUP BY question, about_date
    ) ORDER BY about_date, id
    """
    values = {"episode": episode, "since": since.isoformat()}
    return [_kept(row) for row in store.rows(sql, values)]


def by_message(store: Store, channel: str, message_id: str) -> list[Kept]:
    """The answers that one message of a channel gave."""
    sql = """
    SELECT answers.* FROM answers JOIN inbox ON inbox.id = answers.message
    WHERE inbox.channel = :channel AND inbox.message_id = :message_id ORDER BY answers.id
    """
    values = {"channel": channel, "message_id": message_id}
    return [_kept(row) for row in store.rows(sql, values)]


def keep_session(
    store: Store, episode: int, on: date, position: Position, sets_prescribed: int, now: datetime
) -> None:
    """A session of this local date was reported. A second report changes nothing here."""
    values = {
        "episode": episode,
        "on_date": on.isoformat(),
        "level": position.level,
        "dose": position.dose,
        "sets_prescribed": sets_prescribed,
        "reported_at": instants.text(now),
    }
    store.add_once("sessions", values)


def drop_session(store: Store, episode: int, on: date) -> None:
    """A correction says that no session was done on the date. The answers stay."""
    sql = "DELETE FROM sessions WHERE episode = :episode AND on_date = :on"
    store.change(sql, {"episode": episode, "on": on.isoformat()})


def sessions(store: Store, episode: int) -> list[SessionRow]:
    """All sessions, oldest first."""
    sql = "SELECT * FROM sessions WHERE episode = :episode ORDER BY on_date"
    return [
        SessionRow(
            on=date.fromisoformat(row["on_date"]),
            position=Position(row["level"], row["dose"]),
            sets_prescribed=row["sets_prescribed"],
            reported_at=instants.read(row["reported_at"]),
        )
        for row in store.rows(sql, {"episode": episode})
    ]


def _kept(row: Row) -> Kept:
    value: str = row["value"]
    return Kept(
        id=row["id"],
        question=row["question"],
        about=date.fromisoformat(row["about_date"]),
        value=int(value) if value.lstrip("-").isdecimal() else value,
        answered_at=instants.read(row["answered_at"]),
        message=row["message"],
    )


def count_since(store: Store, since: datetime) -> int:
    """Answers given at or after an instant, of all patients [count]."""
    sql = "SELECT count(*) AS n FROM answers WHERE answered_at >= :since"
    return int(store.one(sql, {"since": instants.text(since)}, "count")["n"])
