"""Escalations: raised, notified, acknowledged, closed, each step an instant. The history of one is
its `notices`."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from bot.store import instants
from bot.store.database import Row, Store
from bot.store.notices import NoticeKind, happened_at, history, note
from rules.escalation import EscalationView, Notice
from rules.history import LoadingStop, Tier

# The outcome of one that the patient's own correction has closed.
CORRECTED = "corrected"
CAME_BACK = "came-back"


@dataclass(frozen=True)
class Escalation:
    """One escalation that needs a person. `words`: what the patient wrote or answered. `remarks`:
    our own, shown beside them. `outcome`: what it was closed with. `loads_from`: the patient's
    local date from which it stops no loading; None while it does."""

    id: int
    patient: int
    sign: str
    tier: Tier
    words: str
    message: int | None
    raised_at: datetime
    told_patient: str
    acknowledged_at: datetime | None
    acknowledged_by: int | None
    closed_at: datetime | None
    stops_loading: bool = True
    remarks: str = ""
    outcome: str = ""
    closed_by: int | None = None
    loads_from: date | None = None


def open_one(
    store: Store,
    patient: int,
    *,
    sign: str,
    tier: Tier,
    words: str,
    on: date,
    now: datetime,
    stops_loading: bool,
    message: int | None = None,
    once_key: str | None = None,
    told_patient: str = "",
    remarks: str = "",
) -> int | None:
    """Raise an escalation; its first notice is due at once. None: this key was raised before.

    `stops_loading`: nothing is loaded until a clinician has closed it.
    """
    values = {
        "patient": patient,
        "sign": sign,
        "tier": tier,
        "words": words,
        "message": message,
        "once_key": once_key,
        "raised_at": instants.text(now),
        "raised_on": on.isoformat(),
        "next_at": instants.text(now),
        "told_patient": told_patient,
        "remarks": remarks,
        "stops_loading": int(stops_loading),
    }
    number = store.add_once("escalations", values)
    if number is not None:
        note(store, number, NoticeKind.RAISED, now, note=words)
    return number


def add_words(store: Store, number: int, words: str, now: datetime, remarks: str = "") -> None:
    """The patient wrote more about the same escalation. Whoever has it is due to hear of it at
    once; an escalation that nobody has keeps its pace. `remarks`: our own on these words."""
    sql = """
    UPDATE escalations SET words = words || iif(:words = '', '', ' / ' || :words),
        remarks = CASE WHEN instr(remarks, :remarks) THEN remarks
            ELSE trim(remarks || ' ' || :remarks) END,
        next_at = CASE WHEN acknowledged_at IS NULL THEN next_at ELSE :at END
    WHERE id = :id AND closed_at IS NULL
    """
    values = {"id": number, "words": words, "remarks": remarks, "at": instants.text(now)}
    store.change(sql, values)
    note(store, number, NoticeKind.MORE_WORDS, now, note=words or remarks)


def has_more_words(store: Store, number: int) -> bool:
    """Whether the patient wrote more about it after it was raised."""
    sql = "SELECT 1 FROM notices WHERE escalation = :id AND kind = :kind LIMIT 1"
    return store.row(sql, {"id": number, "kind": NoticeKind.MORE_WORDS.value}) is not None


def get(store: Store, number: int) -> Escalation:
    """One escalation; raises NotFoundError."""
    sql = "SELECT * FROM escalations WHERE id = :id"
    return _escalation(store.one(sql, {"id": number}, f"escalation {number}"))


def due(store: Store, now: datetime) -> list[int]:
    """Open escalations whose next step is due, the longest waiting first: those nobody has
    acknowledged, and those about which the patient wrote more to whoever has them."""
    sql = """
    SELECT id FROM escalations
    WHERE next_at IS NOT NULL AND closed_at IS NULL AND next_at <= :now ORDER BY next_at, id
    """
    return [row["id"] for row in store.rows(sql, {"now": instants.text(now)})]


def is_raised(store: Store, once_key: str) -> bool:
    """Whether an escalation with this key was raised before, closed or not."""
    sql = "SELECT 1 FROM escalations WHERE once_key = :key"
    return store.row(sql, {"key": once_key}) is not None


def wait_until(store: Store, number: int, instant: datetime | None) -> None:
    """The next step is due then; None: only when something new happens."""
    sql = "UPDATE escalations SET next_at = :at WHERE id = :id"
    store.change(sql, {"id": number, "at": None if instant is None else instants.text(instant)})


def give_back(store: Store, number: int, why: str, now: datetime) -> None:
    """Nobody has the escalation any more: it is chased again, from now."""
    sql = """
    UPDATE escalations SET acknowledged_at = NULL, acknowledged_by = NULL, next_at = :at
    WHERE id = :id AND closed_at IS NULL
    """
    store.change(sql, {"id": number, "at": instants.text(now)})
    note(store, number, NoticeKind.GIVEN_BACK, now, note=why)


def without_holder(store: Store) -> list[int]:
    """Open escalations whose holder has left: erased, opted out, or no clinician any more."""
    sql = """
    SELECT escalations.id FROM escalations JOIN people ON people.id = acknowledged_by
    WHERE closed_at IS NULL AND (erased_at IS NOT NULL OR opted_out_at IS NOT NULL
        OR role NOT IN ('clinician', 'lead clinician'))
    """
    return sorted(row["id"] for row in store.rows(sql))


def unacknowledged(store: Store, patient: int | None = None) -> list[Escalation]:
    """Those nobody has acknowledged, most urgent first, then oldest first."""
    return [one for one in not_closed(store, patient) if one.acknowledged_at is None]


def not_closed(store: Store, patient: int | None = None) -> list[Escalation]:
    """Those nobody has closed, most urgent first, then oldest first."""
    whose = "" if patient is None else "AND patient = :patient"
    sql = f"SELECT * FROM escalations WHERE closed_at IS NULL {whose}"
    found = [_escalation(row) for row in store.rows(sql, {"patient": patient})]
    return sorted(found, key=lambda escalation: (escalation.tier.urgency, escalation.id))


def of_patient(store: Store, patient: int) -> list[Escalation]:
    """All that was ever raised about a patient, oldest first."""
    sql = "SELECT * FROM escalations WHERE patient = :patient ORDER BY id"
    return [_escalation(row) for row in store.rows(sql, {"patient": patient})]


def still_stopping(store: Store, patient: int, today: date) -> list[Escalation]:
    """What is closed and keeps stopping the patient's loading tomorrow, so that it may be
    lifted; oldest first."""
    return [
        one
        for one in of_patient(store, patient)
        if one.stops_loading and one.closed_at is not None
        if one.loads_from is None or one.loads_from > today + timedelta(days=1)
    ]


def latest(store: Store, count: int) -> list[Escalation]:
    """The last ones raised, closed or not, newest first."""
    sql = "SELECT * FROM escalations ORDER BY id DESC LIMIT :count"
    return [_escalation(row) for row in store.rows(sql, {"count": count})]


def acknowledge(store: Store, number: int, person: int, now: datetime) -> bool:
    """A clinician has it. False: somebody else was first."""
    sql = """
    UPDATE escalations SET acknowledged_at = :at, acknowledged_by = :person, next_at = :at
    WHERE id = :id AND acknowledged_at IS NULL
    """
    values = {"id": number, "person": person, "at": instants.text(now)}
    if store.change(sql, values) == 0:
        return False
    note(store, number, NoticeKind.ACKNOWLEDGED, now, person=person)
    return True


def offer(store: Store, number: int, person: int, by: int, now: datetime) -> None:
    """Whoever has it wants somebody else to take it; until they do, the holder still has it."""
    note(store, number, NoticeKind.OFFERED, now, person=person, note=str(by))


def is_offered(store: Store, number: int, person: int) -> bool:
    """Whether it was offered to this person, since somebody has it."""
    taken_at = get(store, number).acknowledged_at
    offers = history(store, number, NoticeKind.OFFERED)
    return taken_at is not None and any(
        row["person"] == person and happened_at(row) >= taken_at for row in offers[-1:]
    )


def hand_over(store: Store, number: int, person: int, now: datetime) -> None:
    """Somebody else has it from now on."""
    sql = """
    UPDATE escalations SET acknowledged_at = :at, acknowledged_by = :person, next_at = :at
    WHERE id = :id AND closed_at IS NULL
    """
    store.change(sql, {"id": number, "person": person, "at": instants.text(now)})
    note(store, number, NoticeKind.ACKNOWLEDGED, now, person=person)


def close(
    store: Store,
    number: int,
    person: int,
    *,
    outcome: str,
    words: str,
    on: date,
    loads_from: date | None,
    now: datetime,
) -> bool:
    """The escalation is dealt with. False: it was closed before. Closing acknowledges as well.

    `loads_from`: the patient's local date from which it stops no loading; None: only from the day
    on which a clinician lifts it, see `lift`.
    """
    acknowledge(store, number, person, now)
    sql = """
    UPDATE escalations SET closed_at = :at, closed_on = :on, closed_by = :person, next_at = NULL,
        outcome = :outcome, note = :note, loads_from = :loads_from,
        stops_loading = max(stops_loading, :stops)
    WHERE id = :id AND closed_at IS NULL
    """
    values = {"id": number, "person": person, "outcome": outcome, "note": words}
    days = {"on": on.isoformat(), "loads_from": loads_from and loads_from.isoformat()}
    stops = int(loads_from is None or loads_from > on)
    if store.change(sql, {**values, **days, "stops": stops, "at": instants.text(now)}) == 0:
        return False
    note(store, number, NoticeKind.CLOSED, now, person=person, note=f"{outcome} {words}".strip())
    return True


def take_back(
    store: Store, number: int, patient: int, on: date, now: datetime, how: str = CORRECTED
) -> bool:
    """The patient has undone what it was raised for. False: it was closed before."""
    sql = """
    UPDATE escalations SET closed_at = :at, closed_on = :on, closed_by = :patient, next_at = NULL,
        outcome = :outcome, loads_from = :on
    WHERE id = :id AND closed_at IS NULL
    """
    values = {"id": number, "patient": patient, "on": on.isoformat(), "at": instants.text(now)}
    if store.change(sql, {**values, "outcome": how}) == 0:
        return False
    note(store, number, NoticeKind.CLOSED, now, person=patient, note=how)
    return True


def lift(store: Store, patient: int, person: int, loads_from: date, now: datetime) -> None:
    """What was closed and still stops loading does so no longer from a day on."""
    sql = """
    SELECT id FROM escalations
    WHERE patient = :patient AND stops_loading = 1 AND closed_at IS NOT NULL
      AND (loads_from IS NULL OR loads_from > :day)
    """
    day = loads_from.isoformat()
    for row in store.rows(sql, {"patient": patient, "day": day}):
        values = {"id": row["id"], "day": day}
        store.change("UPDATE escalations SET loads_from = :day WHERE id = :id", values)
        note(store, row["id"], NoticeKind.LIFTED, now, person=person, note=day)


def view(store: Store, number: int) -> EscalationView:
    """The escalation as the rules need it."""
    escalation = get(store, number)
    told = history(store, number, NoticeKind.TOLD)
    everyone = history(store, number, NoticeKind.TOLD_EVERYONE)
    taken_at = escalation.acknowledged_at
    reminded = [
        happened_at(row)
        for row in history(store, number, NoticeKind.REMINDED)
        if taken_at is not None and happened_at(row) >= taken_at
    ]
    return EscalationView(
        tier=escalation.tier,
        raised_at=escalation.raised_at,
        notices=tuple(
            Notice(
                clinician=str(row["person"]),
                channel=row["channel"],
                at=instants.read(row["at"]),
                failed=row["failed_at"] is not None,
            )
            for row in told
        ),
        told_everyone_at=tuple(instants.read(row["at"]) for row in everyone),
        acknowledged_at=escalation.acknowledged_at,
        closed_at=escalation.closed_at,
        reminded_at=tuple(sorted(set(reminded))),
    )


def loading_stops(store: Store, patient: int) -> tuple[LoadingStop, ...]:
    """What stops the patient's loading, or has stopped it, as the rules see it; oldest first."""
    sql = """
    SELECT * FROM escalations WHERE patient = :patient AND stops_loading = 1 ORDER BY id
    """
    return tuple(
        LoadingStop(
            sign=row["sign"],
            tier=Tier(row["tier"]),
            raised_on=date.fromisoformat(row["raised_on"]),
            loads_from=instants.day(row["loads_from"]),
            looked_at=row["closed_at"] is not None,
        )
        for row in store.rows(sql, {"patient": patient})
    )


def _escalation(row: Row) -> Escalation:
    return Escalation(
        id=row["id"],
        patient=row["patient"],
        sign=row["sign"],
        tier=Tier(row["tier"]),
        words=row["words"],
        message=row["message"],
        raised_at=instants.read(row["raised_at"]),
        told_patient=row["told_patient"],
        acknowledged_at=instants.read_maybe(row["acknowledged_at"]),
        acknowledged_by=row["acknowledged_by"],
        closed_at=instants.read_maybe(row["closed_at"]),
        stops_loading=bool(row["stops_loading"]),
        remarks=row["remarks"],
        outcome=row["outcome"] or "",
        closed_by=row["closed_by"],
        loads_from=instants.day(row["loads_from"]),
    )
