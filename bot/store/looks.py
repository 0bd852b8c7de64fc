"""What each clinician has seen of the list of who needs somebody: by patient, the reasons and when;
whether they set it aside; and whom the rest of a list in pages is about."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from bot.store import instants
from bot.store.database import Store


@dataclass(frozen=True)
class Look:
    """What one clinician saw last of one patient. `done_at`: since when it is set aside."""

    patient: int
    reasons: dict[str, int]
    seen_at: datetime
    done_at: datetime | None


def of(store: Store, clinician: int) -> dict[int, Look]:
    """All that a clinician has seen, by patient."""
    rows = store.rows("SELECT * FROM looks WHERE clinician = :id", {"id": clinician})
    return {
        row["patient"]: Look(
            patient=row["patient"],
            reasons=json.loads(row["reasons"]),
            seen_at=instants.read(row["seen_at"]),
            done_at=instants.read_maybe(row["done_at"]),
        )
        for row in rows
    }


def keep(
    store: Store, clinician: int, patient: int, reasons: Mapping[str, int], now: datetime
) -> None:
    """The clinician has seen these reasons. What was set aside stays so, until there is more."""
    sql = """
    INSERT INTO looks (clinician, patient, reasons, seen_at)
    VALUES (:clinician, :patient, :reasons, :at)
    ON CONFLICT (clinician, patient) DO UPDATE SET reasons = excluded.reasons,
        seen_at = excluded.seen_at,
        done_at = iif(reasons = excluded.reasons, done_at, NULL)
    """
    kept = json.dumps(dict(reasons), sort_keys=True)
    values = {"clinician": clinician, "patient": patient, "reasons": kept}
    store.change(sql, {**values, "at": instants.text(now)})


def set_aside(store: Store, clinician: int, patient: int, now: datetime) -> None:
    """Done for now, with the reasons that were seen."""
    sql = "UPDATE looks SET done_at = :at WHERE clinician = :clinician AND patient = :patient"
    values = {"clinician": clinician, "patient": patient, "at": instants.text(now)}
    store.change(sql, values)


def last_at(store: Store, clinician: int) -> datetime | None:
    """When this clinician looked last."""
    row = store.row("SELECT max(seen_at) AS at FROM looks WHERE clinician = :id", {"id": clinician})
    return None if row is None else instants.read_maybe(row["at"])


def keep_rest(store: Store, clinician: int, patients: Mapping[int, bool], now: datetime) -> None:
    """Whom the pages of the list that were not shown yet are about, in that order, and whether each
    was new when the list began."""
    sql = """
    INSERT INTO list_rests (clinician, patients, kept_at) VALUES (:clinician, :patients, :at)
    ON CONFLICT (clinician) DO UPDATE SET patients = excluded.patients, kept_at = excluded.kept_at
    """
    kept = json.dumps(list(patients.items()))
    store.change(sql, {"clinician": clinician, "patients": kept, "at": instants.text(now)})


def rest(store: Store, clinician: int) -> dict[int, bool]:
    """Those whom the next page begins with; empty after the last page, and before the first."""
    row = store.row("SELECT patients FROM list_rests WHERE clinician = :id", {"id": clinician})
    return {} if row is None else dict(json.loads(row["patients"]))
