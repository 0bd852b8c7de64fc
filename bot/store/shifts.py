"""The rota as it was set at the clinic page; until somebody sets one, the settings hold."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date, datetime, time

from bot.clinic import Shift
from bot.store import instants
from bot.store.database import Store


def in_force(store: Store, settings: tuple[Shift, ...]) -> tuple[Shift, ...]:
    """The shifts that hold, with all days off. `settings`: those of the configuration."""
    return tuple(numbered(store).values()) if is_set(store) else _with_days_off(store, settings)


def is_set(store: Store) -> bool:
    """Whether the rota was ever set here."""
    return store.row("SELECT 1 FROM shifts LIMIT 1") is not None


def numbered(store: Store) -> Mapping[int, Shift]:
    """The shifts set here, by number."""
    rows = store.rows("SELECT * FROM shifts WHERE ended_at IS NULL ORDER BY id")
    shifts = [
        Shift(
            row["clinician"],
            time.fromisoformat(row["opens"]),
            time.fromisoformat(row["closes"]),
            frozenset(map(int, row["weekdays"])),
        )
        for row in rows
    ]
    return dict(zip((row["id"] for row in rows), _with_days_off(store, shifts), strict=True))


def add(store: Store, shift: Shift, settings: tuple[Shift, ...], now: datetime) -> None:
    """Add a shift. With the first, those of the settings are taken over."""
    for one in (*(() if is_set(store) else settings), shift):
        values = {
            "clinician": one.clinician,
            "weekdays": "".join(map(str, sorted(one.weekdays))),
            "opens": one.opens.isoformat("minutes"),
            "closes": one.closes.isoformat("minutes"),
            "made_at": instants.text(now),
        }
        store.add("shifts", values)
        for on in one.days_off:
            add_day_off(store, one.clinician, on)


def end(store: Store, number: int, now: datetime) -> bool:
    """End a shift; False where there is none of this number."""
    sql = "UPDATE shifts SET ended_at = :at WHERE id = :id AND ended_at IS NULL"
    return store.change(sql, {"id": number, "at": instants.text(now)}) > 0


def end_all(store: Store, clinician: str, now: datetime) -> None:
    """End the shifts of somebody who is of the clinic no more."""
    sql = "UPDATE shifts SET ended_at = :at WHERE clinician = :name AND ended_at IS NULL"
    store.change(sql, {"name": clinician, "at": instants.text(now)})


def add_day_off(store: Store, clinician: str, on: date) -> None:
    """No shift of theirs begins on this day."""
    store.add_once("days_off", {"clinician": clinician, "on_date": on.isoformat()})


def end_day_off(store: Store, clinician: str, on: date) -> bool:
    """The shifts of that day are on after all; False where none of theirs was off."""
    sql = "DELETE FROM days_off WHERE clinician = :clinician AND on_date = :on"
    return store.change(sql, {"clinician": clinician, "on": on.isoformat()}) > 0


def days_off(store: Store, since: date) -> list[tuple[str, date]]:
    """Who is off on which day, from `since` on."""
    sql = "SELECT * FROM days_off WHERE on_date >= :since ORDER BY on_date, clinician"
    rows = store.rows(sql, {"since": since.isoformat()})
    return [(row["clinician"], date.fromisoformat(row["on_date"])) for row in rows]


def _with_days_off(store: Store, shifts: Iterable[Shift]) -> tuple[Shift, ...]:
    off: dict[str, set[date]] = {}
    for clinician, on in days_off(store, date.min):
        off.setdefault(clinician, set()).add(on)
    return tuple(
        replace(one, days_off=one.days_off | off.get(one.clinician, set())) for one in shifts
    )
