"""Receipts: which message one speaks of, and what a message that did not arrive leads to."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from world import MONDAY

from bot.delivery.receive import receive
from bot.delivery.send import settle, take_next
from bot.ports import Accepted, Receipt, ReceiptState
from bot.rehearsal.clinic import made_up_clinic
from bot.store import escalations, notices, outbox, people
from bot.store.database import Store
from bot.store.migrations import migrate
from bot.store.notices import NoticeKind
from bot.store.outbox import Draft, Urgency
from bot.store.people import Person, Role
from rules.history import Tier

SMS, CHAT = "sms", "chat"
ANA = "+447700900123"
FAILED, DELIVERED = ReceiptState.FAILED, ReceiptState.DELIVERED


@pytest.fixture
def store(tmp_path: Path) -> Store:
    """An empty store."""
    made = Store(tmp_path / "receipts.sqlite")
    migrate(made)
    return made


def somebody(store: Store, *channels: str, role: Role = Role.PATIENT) -> Person:
    """A person with these channels, in this order."""

    def add(store: Store) -> Person:
        person = people.add(store, role, "Ana", MONDAY)
        for channel in channels:
            people.add_contact(store, person.id, channel, ANA, MONDAY)
        return person

    return store.do(add)


def sent(store: Store, person: Person, reference: str, text: str = "How is it?") -> int:
    """A message that the carrier accepted, with this reference."""
    number = store.do(outbox.write, Draft(person.id, text, Urgency.PROMPT), MONDAY)
    assert number is not None
    accept(store, reference)
    return number


def accept(store: Store, reference: str, channel: str = SMS) -> None:
    """Take the next message, and have it accepted."""
    outgoing = store.do(take_next, channel, "run", MONDAY)
    assert outgoing is not None
    store.do(settle, made_up_clinic(), outgoing, Accepted(reference), MONDAY)


def told(
    store: Store,
    reference: str,
    state: ReceiptState = FAILED,
    address: str = ANA,
    at: Any = MONDAY,
    raw: str = "stat:UNDELIV",
) -> None:
    """A receipt comes in."""
    receipt = Receipt(SMS, reference, address, state, raw)
    store.do(receive, [receipt], SMS, None, at)


def channels(store: Store) -> list[tuple[str, bool]]:
    """Where each message is, and whether it failed."""
    rows = store.rows("SELECT channel, failed_at FROM outbox ORDER BY id")
    return [(row["channel"], row["failed_at"] is not None) for row in rows]


def matched(store: Store) -> list[int | None]:
    """Which message each receipt was found to speak of."""
    return [row["outbox"] for row in store.rows("SELECT outbox FROM receipts ORDER BY id")]


def test_a_message_that_did_not_arrive_goes_to_the_next_channel(store: Store) -> None:
    """And the number stays open: the telephone may only have been off."""
    person = somebody(store, SMS, CHAT)
    sent(store, person, "A1")

    told(store, "A1")

    assert channels(store) == [(CHAT, False)]
    assert store.do(take_next, CHAT, "run", MONDAY) is not None
    assert [c.channel for c in people.contacts(store, person.id)] == [SMS, CHAT]


def test_with_no_other_channel_the_clinician_is_told_once_a_day(store: Store) -> None:
    """However many of the day's messages fail, and even when somebody has closed the matter."""
    person = somebody(store, SMS)
    raised = []
    for number, day in enumerate((0, 0, 1)):
        at = MONDAY + timedelta(days=day)
        sent(store, person, f"A{number}")
        told(store, f"A{number}", at=at)
        rows = store.rows("SELECT id FROM escalations WHERE closed_at IS NULL")
        for row in rows:
            on = {"on": at.date(), "loads_from": at.date(), "now": at}
            values = {"outcome": "spoke to them", "words": "", **on}
            store.do(escalations.close, row["id"], person.id, **values)
        raised.append(len(rows))

    assert raised == [1, 0, 1]
    assert channels(store) == [(SMS, True)] * 3


@pytest.mark.parametrize("state", [DELIVERED, ReceiptState.ON_ITS_WAY, ReceiptState.UNKNOWN])
def test_other_states_change_nothing(store: Store, state: ReceiptState) -> None:
    """They are kept, with the message they speak of."""
    number = sent(store, somebody(store, SMS, CHAT), "A1")

    told(store, "A1", state)

    assert channels(store) == [(SMS, False)]
    assert matched(store) == [number]


def test_a_receipt_before_the_acceptance_waits_for_it(store: Store) -> None:
    """The carrier may be faster than its own response."""
    person = somebody(store, SMS, CHAT)
    store.do(outbox.write, Draft(person.id, "How is it?", Urgency.PROMPT), MONDAY)
    outgoing = store.do(take_next, SMS, "run", MONDAY)
    assert outgoing is not None

    told(store, "A1")
    before = channels(store)
    store.do(settle, made_up_clinic(), outgoing, Accepted("A1"), MONDAY)

    assert before == [(SMS, False)]
    assert channels(store) == [(CHAT, False)]
    assert matched(store) == [outgoing.id]


def test_a_receipt_twice_counts_once(store: Store) -> None:
    """The second finds the message gone elsewhere and leaves it alone."""
    person = somebody(store, SMS, CHAT)
    sent(store, person, "A1")

    told(store, "A1")
    accept(store, "c1", CHAT)
    told(store, "A1")
    told(store, "A1", raw="stat:UNDELIV once more")

    rows = store.rows("SELECT channel, reference, failed_at FROM outbox")
    assert rows == [{"channel": CHAT, "reference": "c1", "failed_at": None}]


def test_a_receipt_for_somebody_else_is_kept_and_harmless(store: Store) -> None:
    """The same reference at another number, and a reference that nobody gave."""
    sent(store, somebody(store, SMS, CHAT), "A1")

    told(store, "A1", address="+447700900999")
    told(store, "B7")
    told(store, "", raw="447700900123,9,BAD")

    assert channels(store) == [(SMS, False)]
    assert matched(store) == [None] * 3


def test_a_notice_that_did_not_arrive_makes_the_next_one_due(store: Store) -> None:
    """The escalation chooses whom to try; it does not wait for the end of the interval."""
    clinician = somebody(store, SMS, role=Role.CLINICIAN)

    def raised(store: Store) -> int:
        patient = people.add(store, Role.PATIENT, "Bo", MONDAY)
        number = escalations.open_one(
            store,
            patient.id,
            sign="calf-swollen",
            tier=Tier.EMERGENCY,
            words="hot",
            on=MONDAY.date(),
            now=MONDAY,
            stops_loading=True,
        )
        assert number is not None
        draft = Draft(clinician.id, "Bo: hot", Urgency.ESCALATION, escalation=number)
        row = outbox.write(store, draft, MONDAY)
        kind = NoticeKind.TOLD
        notices.note(store, number, kind, MONDAY, person=clinician.id, channel=SMS, outbox=row)
        escalations.wait_until(store, number, MONDAY + timedelta(minutes=5))
        return number

    number = store.do(raised)
    accept(store, "A1")

    told(store, "A1", at=MONDAY + timedelta(minutes=1))

    assert [notice.failed for notice in escalations.view(store, number).notices] == [True]
    (row,) = store.rows("SELECT next_at, acknowledged_at FROM escalations")
    assert row["next_at"] < "2026-03-02T09:05"
    assert row["acknowledged_at"] is None
    assert channels(store) == [(SMS, True)]
