"""What happens to a message that does not arrive: the person's next channel, or a clinician is
told. An escalation chooses by itself whom to try next. Read next: `send`, `receive`."""

from __future__ import annotations

from datetime import datetime

from bot.clinic import Clinic
from bot.escalations.open import UNREACHABLE, raise_escalation
from bot.escalations.unreached import tell_closed
from bot.ports import Receipt, ReceiptState
from bot.store import notices, outbox, people
from bot.store.database import Row, Store
from bot.store.people import Role
from rules.history import Tier


def never(store: Store, clinic: Clinic, row: Row, why: str, now: datetime) -> None:
    """The channel says that nothing can ever arrive at this address. Of somebody of the clinic,
    everybody else there hears it at once."""
    contact = row["contact"]
    if contact is not None and people.close_contact(store, contact, why, now):
        tell_closed(store, clinic, people.contact(store, contact), why, now)
    not_arrived(store, row, why, now)


def apply_receipt(store: Store, row: Row, receipt: Receipt, now: datetime) -> None:
    """Act on what became of an accepted message; only a failure asks for anything.

    The address stays open: a receipt speaks of one message, and a telephone that was off for a day
    fails it as one that does not exist would. A message that has moved on is left alone.
    """
    if receipt.state is ReceiptState.FAILED and row["failed_at"] is None:
        not_arrived(store, row, f"not delivered: {receipt.raw}".rstrip(": "), now)


def not_arrived(store: Store, row: Row, why: str, now: datetime) -> None:
    """This message will not arrive at this address."""
    if row["escalation"] is None:
        next_contact(store, row, why, now)
        return
    outbox.failed(store, row["id"], why, now)
    notices.fail_notice(store, row["id"], now)


def next_contact(store: Store, row: Row, why: str, now: datetime) -> None:
    """Try the person's next channel; where there is none, the clinician is told."""
    if row["contact"] is None:
        outbox.failed(store, row["id"], why, now)
        return
    rank = people.contact(store, row["contact"]).rank
    later = [c for c in people.contacts(store, row["person"]) if c.rank > rank]
    if later:
        outbox.move_to(store, row["id"], later[0], now)
        return
    outbox.failed(store, row["id"], why, now)
    person = people.person(store, row["person"])
    if person.role is Role.PATIENT:
        raise_escalation(
            store,
            person,
            sign=UNREACHABLE,
            tier=Tier.NEXT_WORKING_DAY,
            words=why,
            now=now,
            stops_loading=False,
            # While the address stays open, each day's prompts would fail anew.
            once_key=f"unreachable {person.id} {now:%Y-%m-%d}",
        )
