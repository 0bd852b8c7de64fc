"""All that happened to a matter, in short lines: raised, told, taken, closed. Reads only."""

from __future__ import annotations

from bot.clinic import Clinic
from bot.store import escalations, people
from bot.store.database import Row, Store
from bot.store.escalations import Escalation

# Matters of a list without a number [count, at most].
LINES_MAX = 20


def history_lines(store: Store, clinic: Clinic, number: int | None) -> list[str]:
    """One matter from the beginning, oldest first; None: the latest matters, a line each, newest
    first. Raises NotFoundError."""
    if number is None:
        latest = escalations.latest(store, LINES_MAX)
        return [_line(store, clinic, one) for one in latest] or ["Nothing was ever raised."]
    escalation = escalations.get(store, number)
    rows = escalations.history(store, number)
    return [_line(store, clinic, escalation), *(_happened(clinic, row) for row in rows)]


def _line(store: Store, clinic: Clinic, escalation: Escalation) -> str:
    patient = people.person(store, escalation.patient).name
    at = escalation.raised_at.astimezone(clinic.zone_info)
    if escalation.closed_at is not None:
        state = "closed"
    elif escalation.acknowledged_by is None:
        state = "nobody has it"
    else:
        state = f"{people.person(store, escalation.acknowledged_by).name} has it"
    what = escalation.sign.replace("-", " ")
    return f"{escalation.id} {escalation.tier}: {patient}, {what}, {at:%a %d %b %H:%M}, {state}"


def _happened(clinic: Clinic, row: Row) -> str:
    at = escalations.happened_at(row).astimezone(clinic.zone_info)
    parts = [f"{at:%a %d %b %H:%M:%S} {row['kind']}"]
    if row["name"]:
        parts.append(row["name"])
    if row["channel"]:
        parts.append(f"on {row['channel']}")
    if row["failed_at"] is not None:
        parts.append("(did not arrive)")
    line = " ".join(parts)
    return f"{line}: {row['note']}" if row["note"] else line
