"""Escalations: raised, notified, acknowledged, closed, each step an instant. The history of one is
its notices."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from bot.store import instants
from bot.store.database import Row, Store
from rules.escalation import EscalationView, Notice
from rules.history import Concern, Tier


class NoticeKind(StrEnum):
    """What happened to an escalation."""

    RAISED = "raised"
    TOLD = "told"
    TOLD_EVERYONE = "told everyone"
    MORE_WORDS = "more words"
    GIVEN_BACK = "given back"
    NOTE = "note"
    ACKNOWLEDGED = "acknowledged"
    CLOSED = "closed"


@dataclass(frozen=True)
class Escalation:
    """One matter that needs a person. `words`: what the patient wrote or answered."""

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
        "stops_loading": int(stops_loading),
    }
    number = store.add_once("escalations", values)
    if number is not None:
        note(store, number, NoticeKind.RAISED, now, note=words)
    return number


def note(
    store: Store,
    number: int,
    kind: NoticeKind,
    now: datetime,
    *,
    person: int | None = None,
    channel: str | None = None,
    round_number: int = 0,
    outbox: int | None = None,
    note: str = "",
) -> None:
    """Keep one step of an escalation's history."""
    values = {"escalation": number, "at": instants.text(now), "kind": kind, "person": person}
    more = {"channel": channel, "round": round_number, "outbox": outbox, "note": note}
    store.add("notices", {**values, **more})


def add_words(store: Store, number: int, words: str, now: datetime) -> None:
    """The patient wrote more about the same matter. Whoever has it is due to hear of it at once;
    a matter that nobody has keeps its pace."""
    sql = """
    UPDATE escalations SET words = words || ' / ' || :words,
        next_at = CASE WHEN acknowledged_at IS NULL THEN next_at ELSE :at END
    WHERE id = :id AND closed_at IS NULL
    """
    store.change(sql, {"id": number, "words": words, "at": instants.text(now)})
    note(store, number, NoticeKind.MORE_WORDS, now, note=words)


def fail_notice(store: Store, outbox: int, now: datetime) -> None:
    """A notice can never arrive: the next step of what it was about is due at once."""
    at = instants.text(now)
    values = {"outbox": outbox, "at": at}
    store.change("UPDATE notices SET failed_at = :at WHERE outbox = :outbox", values)
    sql = """
    UPDATE escalations SET next_at = :at
    WHERE closed_at IS NULL AND id IN (
        SELECT escalation FROM notices
        WHERE outbox = :outbox AND (acknowledged_at IS NULL OR kind = 'more words'))
    """
    store.change(sql, values)


def fail_notices_to(store: Store, person: int, channel: str, now: datetime) -> None:
    """Somebody hears no more on a channel: what they were told there, and nobody else has, counts
    as not heard, and its next step is due at once."""
    values = {"person": person, "channel": channel, "at": instants.text(now)}
    told = """
    kind = 'told' AND person = :person AND channel = :channel AND failed_at IS NULL
    """
    open_ones = """
    SELECT id FROM escalations
    WHERE closed_at IS NULL AND (acknowledged_at IS NULL OR acknowledged_by = :person)
    """
    sql = f"""
    UPDATE escalations SET next_at = :at
    WHERE id IN ({open_ones}) AND id IN (SELECT escalation FROM notices WHERE {told})
    """
    store.change(sql, values)
    sql = f"UPDATE notices SET failed_at = :at WHERE {told} AND escalation IN ({open_ones})"
    store.change(sql, values)


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
    """Whether a matter with this key was raised before, closed or not."""
    sql = "SELECT 1 FROM escalations WHERE once_key = :key"
    return store.row(sql, {"key": once_key}) is not None


def has_words(store: Store, number: int, words: str) -> bool:
    """Whether the matter has these words already, from its beginning or since."""
    sql = "SELECT 1 FROM notices WHERE escalation = :number AND note = :words"
    return store.row(sql, {"number": number, "words": words}) is not None


def wait_until(store: Store, number: int, instant: datetime | None) -> None:
    """The next step is due then; None: only when something new happens."""
    sql = "UPDATE escalations SET next_at = :at WHERE id = :id"
    store.change(sql, {"id": number, "at": None if instant is None else instants.text(instant)})


def untold_words(store: Store, number: int) -> list[Row]:
    """What the patient wrote since somebody has the matter, and the holder was not told of or
    could not be told; oldest first."""
    sql = """
    SELECT notices.* FROM notices JOIN escalations ON escalations.id = notices.escalation
    WHERE escalation = :number AND kind = 'more words' AND at >= acknowledged_at
      AND (round = 0 OR failed_at IS NOT NULL)
    ORDER BY notices.id
    """
    return store.rows(sql, {"number": number})


def words_told(store: Store, notice: int, outbox: int | None) -> None:
    """These words are on their way to whoever has the matter; None: they became one of its own."""
    sql = "UPDATE notices SET round = 1, outbox = :outbox, failed_at = NULL WHERE id = :id"
    store.change(sql, {"id": notice, "outbox": outbox})


def listed_since(store: Store, since: datetime) -> frozenset[int]:
    """Who was sent the list of what can wait for a working day at or after an instant [person]."""
    sql = """
    SELECT DISTINCT person FROM notices JOIN escalations ON escalations.id = notices.escalation
    WHERE kind = 'told' AND tier = :tier AND at >= :since AND failed_at IS NULL
    """
    values = {"tier": Tier.NEXT_WORKING_DAY, "since": instants.text(since)}
    return frozenset(row["person"] for row in store.rows(sql, values))


def give_back(store: Store, number: int, why: str, now: datetime) -> None:
    """Nobody has the matter any more: it is chased again, from now."""
    sql = """
    UPDATE escalations SET acknowledged_at = NULL, acknowledged_by = NULL, next_at = :at
    WHERE id = :id AND closed_at IS NULL
    """
    store.change(sql, {"id": number, "at": instants.text(now)})
    note(store, number, NoticeKind.GIVEN_BACK, now, note=why)


def without_holder(store: Store) -> list[int]:
    """Open matters whose holder has left: erased, opted out, or no clinician any more."""
    sql = """
    SELECT escalations.id FROM escalations JOIN people ON people.id = acknowledged_by
    WHERE closed_at IS NULL AND (erased_at IS NOT NULL OR opted_out_at IS NOT NULL
        OR role NOT IN ('clinician', 'lead clinician'))
    ORDER BY escalations.id
    """
    return [row["id"] for row in store.rows(sql)]


def unacknowledged(store: Store, patient: int | None = None) -> list[Escalation]:
    """Those nobody has acknowledged, most urgent first, then oldest first."""
    sql = """
    SELECT * FROM escalations
    WHERE acknowledged_at IS NULL AND (:patient IS NULL OR patient = :patient) ORDER BY id
    """
    found = [_escalation(row) for row in store.rows(sql, {"patient": patient})]
    return sorted(found, key=lambda escalation: (escalation.tier.urgency, escalation.id))


def not_closed(store: Store, patient: int | None = None) -> list[Escalation]:
    """Those nobody has closed, most urgent first, then oldest first."""
    sql = """
    SELECT * FROM escalations
    WHERE closed_at IS NULL AND (:patient IS NULL OR patient = :patient) ORDER BY id
    """
    found = [_escalation(row) for row in store.rows(sql, {"patient": patient})]
    return sorted(found, key=lambda escalation: (escalation.tier.urgency, escalation.id))


def of_patient(store: Store, patient: int) -> list[Escalation]:
    """All that was ever raised about a patient, oldest first."""
    sql = "SELECT * FROM escalations WHERE patient = :patient ORDER BY id"
    return [_escalation(row) for row in store.rows(sql, {"patient": patient})]


def latest(store: Store, count: int) -> list[Escalation]:
    """The last ones raised, closed or not, newest first."""
    sql = "SELECT * FROM escalations ORDER BY id DESC LIMIT :count"
    return [_escalation(row) for row in store.rows(sql, {"count": count})]


def acknowledge(store: Store, number: int, person: int, now: datetime) -> bool:
    """A clinician has it. False: somebody else was first."""
    sql = """
    UPDATE escalations SET acknowledged_at = :at, acknowledged_by = :person, next_at = NULL
    WHERE id = :id AND acknowledged_at IS NULL
    """
    values = {"id": number, "person": person, "at": instants.text(now)}
    if store.change(sql, values) == 0:
        return False
    note(store, number, NoticeKind.ACKNOWLEDGED, now, person=person)
    return True


def close(
    store: Store, number: int, person: int, outcome: str, words: str, on: date, now: datetime
) -> bool:
    """The matter is dealt with. False: it was closed before. Closing acknowledges as well."""
    acknowledge(store, number, person, now)
    sql = """
    UPDATE escalations SET closed_at = :at, closed_on = :on, closed_by = :person, next_at = NULL,
        outcome = :outcome, note = :note
    WHERE id = :id AND closed_at IS NULL
    """
    values = {"id": number, "person": person, "outcome": outcome, "note": words}
    if store.change(sql, {**values, "on": on.isoformat(), "at": instants.text(now)}) == 0:
        return False
    note(store, number, NoticeKind.CLOSED, now, person=person, note=f"{outcome} {words}".strip())
    return True


def view(store: Store, number: int) -> EscalationView:
    """The escalation as the rules need it."""
    escalation = get(store, number)
    told = history(store, number, NoticeKind.TOLD)
    everyone = history(store, number, NoticeKind.TOLD_EVERYONE)
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
    )


def history(store: Store, number: int, kind: NoticeKind | None = None) -> list[Row]:
    """All that happened to an escalation, oldest first."""
    sql = """
    SELECT notices.*, people.name FROM notices LEFT JOIN people ON people.id = notices.person
    WHERE escalation = :number AND (:kind IS NULL OR kind = :kind) ORDER BY notices.id
    """
    return store.rows(sql, {"number": number, "kind": kind})


def happened_at(notice: Row) -> datetime:
    """The instant of one row of a history."""
    return instants.read(notice["at"])


def concerns(store: Store, patient: int) -> tuple[Concern, ...]:
    """What stops the patient's loading, or has stopped it, as the rules see it; oldest first."""
    sql = """
    SELECT * FROM escalations WHERE patient = :patient AND stops_loading = 1 ORDER BY id
    """
    return tuple(
        Concern(
            sign=row["sign"],
            tier=Tier(row["tier"]),
            raised_on=date.fromisoformat(row["raised_on"]),
            closed_on=instants.day(row["closed_on"]),
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
    )
