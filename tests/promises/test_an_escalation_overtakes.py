"""Promise: an escalation overtakes. With 100,000 prompts waiting it is the next message sent, a
worry is handled before the numbers that came first, and daily work waits for both."""

from __future__ import annotations

import asyncio
import threading
from pathlib import Path

from world import MONDAY

from bot.delivery.send import take_next
from bot.ports import Incoming, Outgoing
from bot.store import inbox, instants, outbox, people
from bot.store.database import Store, Writer
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


def test_words_are_handled_before_numbers_that_came_first(tmp_path: Path) -> None:
    """600 people answer and one has heard a snap; what one person wrote keeps its order, on one
    channel and on two."""
    store = Store(tmp_path / "full.sqlite")
    migrate(store)
    ana = store.do(people.add, Role.PATIENT, "Ana", MONDAY)
    for channel in ("chat", "text"):
        store.do(people.add_contact, ana.id, channel, "ana", MONDAY)
    texts = [(f"{n}", "2 10") for n in range(600)]
    texts[300:300] = [("ana", "3 15"), ("ana", "I heard a snap in my heel")]
    for number, (address, text) in enumerate(texts):
        channel = "text" if text == "3 15" else "chat"
        store.do(inbox.keep, Incoming(channel, f"{number}", address, text), MONDAY)

    first = store.rows("SELECT id, text FROM inbox ORDER BY id")
    said = {row["id"]: row["text"] for row in first}
    handled = [said[number] for number in inbox.waiting(store, 4)]

    assert handled == ["3 15", "I heard a snap in my heel", "2 10", "2 10"]


async def test_daily_work_waits_for_messages(tmp_path: Path) -> None:
    """What is asked for while daily work is done comes before the rest of it."""
    writer = Writer(tmp_path / "a.sqlite", migrate)
    writer.start()
    done: list[str] = []
    all_wait = threading.Event()

    busy = asyncio.create_task(writer.run_between(lambda _: all_wait.wait()))
    await asyncio.sleep(0)
    works = {"digest": writer.run_between, "plan": writer.run_between, "message": writer.run}
    rest = [
        asyncio.create_task(run(lambda _, w=what: done.append(w))) for what, run in works.items()
    ]
    await asyncio.sleep(0)
    all_wait.set()
    await asyncio.gather(busy, *rest)
    writer.close()

    assert done == ["message", "digest", "plan"]
