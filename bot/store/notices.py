"""What happened to each escalation, a row a step: who was told, on which channel, who took it, who
closed it. Never changed, but for what became of a message."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum

from bot.store import instants
from bot.store.database import Row, Store
from rules.history import Tier


class NoticeKind(StrEnum):
    """What happened to an escalation."""

    RAISED = "raised"
    TOLD = "told"
    TOLD_EVERYONE = "told everyone"
    NOBODY_REACHED = "nobody reached"
    MORE_WORDS = "more words"
    GIVEN_BACK = "given back"
    NOTE = "note"
    REMINDED = "reminded"
    OFFERED = "offered"
    ACKNOWLEDGED = "acknowledged"
    CLOSED = "closed"
    LIFTED = "lifted"


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


def history(store: Store, number: int, kind: NoticeKind | None = None) -> list[Row]:
    """All that happened to an escalation, oldest first."""
    sql = """
    SELECT notices.*, people.name, accepted_at FROM notices
    LEFT JOIN people ON people.id = notices.person LEFT JOIN outbox ON outbox.id = outbox
    WHERE notices.escalation = :number AND (:kind IS NULL OR kind = :kind) ORDER BY notices.id
    """
    return store.rows(sql, {"number": number, "kind": kind})


def unreached(store: Store, settled_by: datetime) -> list[int]:
    """What nobody has, and of which the latest whole round reached nobody: no channel has accepted
    a message of that round, or what it accepted did not arrive. Each round once. A channel that
    still tries is waited for, but not where the round ended before `settled_by`."""
    sql = """
    WITH open AS (
        SELECT id, (SELECT max(at) FROM notices
            WHERE escalation = escalations.id AND kind = 'told everyone') AS ended
        FROM escalations WHERE closed_at IS NULL AND acknowledged_at IS NULL),
    rounds AS (
        SELECT id, ended, coalesce((SELECT max(at) FROM notices
            WHERE escalation = open.id AND kind = 'told everyone' AND at < ended), '') AS began
        FROM open WHERE ended IS NOT NULL),
    written AS (
        SELECT rounds.id AS round, outbox.accepted_at, outbox.failed_at
        FROM rounds JOIN outbox ON escalation IS NOT NULL AND written_at = ended
        UNION ALL SELECT rounds.id, outbox.accepted_at, outbox.failed_at
        FROM rounds JOIN outbox ON escalation = rounds.id AND written_at > began
        UNION ALL SELECT rounds.id, outbox.accepted_at, outbox.failed_at
        FROM rounds JOIN notices ON notices.escalation = rounds.id AND at > began
        JOIN outbox ON outbox.id = notices.outbox)
    SELECT id FROM rounds
    WHERE NOT EXISTS (SELECT 1 FROM notices WHERE escalation = rounds.id
          AND kind = 'nobody reached' AND at >= ended)
      AND NOT EXISTS (SELECT 1 FROM written WHERE round = rounds.id AND failed_at IS NULL
            AND (accepted_at IS NOT NULL OR ended > :settled_by))
    ORDER BY id
    """
    return [row["id"] for row in store.rows(sql, {"settled_by": instants.text(settled_by)})]


def happened_at(notice: Row) -> datetime:
    """The instant of one row of a history."""
    return instants.read(notice["at"])


def has_words(store: Store, number: int, words: str) -> bool:
    """Whether the escalation has these words already, from its beginning or since."""
    sql = "SELECT 1 FROM notices WHERE escalation = :number AND note = :words"
    return store.row(sql, {"number": number, "words": words}) is not None


def untold_words(store: Store, number: int) -> list[Row]:
    """What the patient wrote since somebody has the escalation, and the holder was not told of or
    could not be told; oldest first."""
    sql = """
    SELECT notices.* FROM notices JOIN escalations ON escalations.id = notices.escalation
    WHERE escalation = :number AND kind = 'more words' AND at >= acknowledged_at
      AND (round = 0 OR failed_at IS NOT NULL)
    ORDER BY notices.id
    """
    return store.rows(sql, {"number": number})


def words_told(store: Store, notice: int, outbox: int | None) -> None:
    """These words are on their way to whoever has the escalation; None: they became one of its
    own."""
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
