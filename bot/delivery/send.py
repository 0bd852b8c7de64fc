"""The two halves around a delivery: take the most urgent row, and settle what became of it.

Between them the channel sends, with no transaction open. A row taken by an earlier run of the
program and never settled may have arrived: it is sent again, marked as a possible double.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from bot.clinic import Clinic
from bot.delivery.sms_budget import least_urgent, spend
from bot.delivery.undelivered import apply_receipt, never, next_contact
from bot.escalations.unreached import tell_last_resort_failed
from bot.ports import LAST_RESORT, Accepted, Delivery, Later, Never, Outgoing, Unknown
from bot.store import instants, outbox, receipts, spending
from bot.store.database import Row, Store
from bot.store.outbox import Urgency

# Pauses between tries: doubled each time, from the first to the longest. Convention.
FIRST_PAUSE = timedelta(seconds=5)
LONGEST_PAUSE = timedelta(minutes=10)

# Tries before an ordinary message is given up on this address [tries]. Convention: about two hours.
# An escalation is never given up by counting.
TRIES_MAX = 20


def take_next(
    store: Store, channel: str, run: str, now: datetime, clinic: Clinic | None = None
) -> Outgoing | None:
    """The next message for the channel, written down as started; None when nothing waits.

    `clinic`: whose limit on segments counts; None where nothing is counted.
    """
    least = Urgency.PROMPT if clinic is None else least_urgent(store, clinic, channel, now)
    while (row := outbox.next_due(store, channel, run, now, least)) is not None:
        if row["expires_at"] is not None and row["expires_at"] <= instants.text(now):
            outbox.failed(store, row["id"], "too late", now)
            continue
        outgoing = outbox.start(store, row, run, now)
        return outgoing if clinic is None else spend(store, clinic, outgoing, now)
    return None


def settle(
    store: Store, clinic: Clinic, outgoing: Outgoing, delivery: Delivery, now: datetime
) -> None:
    """Keep what became of one try, and decide what happens to the message."""
    why = getattr(delivery, "why", "")
    reference = getattr(delivery, "reference", "")
    kind = type(delivery).__name__.lower()
    outbox.end_attempt(store, outgoing.id, kind, why, reference, now)
    if isinstance(delivery, Later | Never):
        spending.take_off(store, outgoing.id)
    match delivery:
        case Accepted():
            outbox.accepted(store, outgoing.id, reference, now)
            _heed_early_receipts(store, outgoing.id, now)
        case Never():
            never(store, clinic, outbox.row(store, outgoing.id), why, now)
        case Later() | Unknown():
            if outgoing.channel == LAST_RESORT:
                tell_last_resort_failed(store, clinic, outgoing.id, why, now)
            _again(store, outbox.row(store, outgoing.id), delivery, now)


def _heed_early_receipts(store: Store, outbox_id: int, now: datetime) -> None:
    """A receipt may overtake the acceptance it belongs to."""
    for receipt in receipts.waiting_for(store, outbox.row(store, outbox_id)):
        apply_receipt(store, outbox.row(store, outbox_id), receipt, now)


def _again(store: Store, row: Row, delivery: Later | Unknown, now: datetime) -> None:
    if row["escalation"] is None and row["tries"] >= TRIES_MAX:
        next_contact(store, row, f"given up after {row['tries']} tries: {delivery.why}", now)
        return
    wait = delivery.wait if isinstance(delivery, Later) else None
    due_at = now + (wait or pause_after(row["tries"]))
    double = isinstance(delivery, Unknown)
    outbox.again(store, row["id"], due_at, double=double, counts=wait is None)


def pause_after(tries: int) -> timedelta:
    """How long to wait after so many tries [1 or more]: 5 s, 10 s, 20 s ... at most 10 min."""
    doublings = min(max(tries - 1, 0), 10)
    return min(LONGEST_PAUSE, FIRST_PAUSE * int(2**doublings))
