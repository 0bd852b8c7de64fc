"""Promise: an escalation overtakes. With 100,000 prompts waiting it is the next message sent."""

from __future__ import annotations

from pathlib import Path

from world import MONDAY

from bot.delivery.send import take_next
from bot.ports import Outgoing
from bot.store import instants, outbox, people
from bot.store.database import Store
from bot.store.migrations import migrate
from bot.store.outbox import Draft, Urgency
from bot.store.people import Role

WAITING = 100_000


def test_with_a_hundred_thousand_prompts_waiting_an_escalation_is_next(tmp_path: Path) -> None:
    """Whatever waits, the escalation is taken first; the query looks it up in an index."""
    store = Store(tmp_path / "full.sqlite")
    migrate(store)
    patient = store.do(people.add, Role.PATIENT, "Ana", MONDAY)
    contact = store.do(people.add_contact, patient.id, "chat", "ana", MONDAY)
    clinician = store.do(people.add, Role.CLINICIAN, "Ilse", MONDAY)
    store.do(people.add_contact, clinician.id, "chat", "ilse", MONDAY)
    assert contact is not None
    at = instants.text(MONDAY)
    sql = """
    INSERT INTO outbox (person, contact, channel, address, urgency, text, written_at, due_at)
    VALUES (?, ?, 'chat', ?, 3, 'prompt', ?, ?)
    """
    with store.transaction():
        store.db.conn.executemany(
            sql, ((patient.id, contact.id, f"{n}", at, at) for n in range(WAITING))
        )
    store.do(outbox.write, Draft(clinician.id, "escalation", Urgency.ESCALATION), MONDAY)

    taken = store.do(take_next, "chat", "run", MONDAY)

    assert isinstance(taken, Outgoing)
    assert taken.text == "escalation"
    plan = store.rows(
        "EXPLAIN QUERY PLAN SELECT * FROM outbox WHERE channel = 'chat' AND accepted_at IS NULL"
        " AND failed_at IS NULL AND due_at <= 'x' ORDER BY urgency, due_at, id LIMIT 1"
    )
    assert "outbox_waiting" in plan[0]["detail"]
    assert not any("TEMP B-TREE FOR ORDER BY" in row["detail"] for row in plan)
