"""Promise: an old decision can be made again, the same in every number, from what is kept of it."""

from __future__ import annotations

import sqlite3
import zlib
from pathlib import Path
from random import Random

from world import World, world_at

from bot.patient_record.record import record_of
from bot.patient_record.remake import KEPT_DAYS, made_again
from bot.store import decisions
from bot.store.database import Store
from bot.store.migrations import migrate, steps

# Long enough that the first decisions keep nothing of the last days, nor the last of the first.
DAYS = KEPT_DAYS + 17


async def played(world: World) -> None:
    """A patient with good and bad days, whose clinician changes the plan now and then."""
    ilse, ana = await world.clinician("Ilse"), await world.patient()
    chance = Random(8)
    orders = {
        5: "slower Ana",
        12: "limit Ana 4",
        20: "level Ana 2",
        27: "rest Ana",
        33: "limit Ana 5",
    }
    for day in range(DAYS):
        await world.at("07:31")
        pain, minutes = chance.choice([1, 2, 2, 3, 5]), chance.choice([5, 10, 20])
        advised = await ana.says(f"{pain} {minutes}")
        if day % 9 == 4:
            await ana.says("3 15")
        await world.at("18:31")
        does = any("3 sets" in text for text in advised)
        report = ("done", f"3 {chance.choice([1, 2, 4])} 2 5", "no 20") if does else ("1",)
        for text in report:
            await ana.says(text)
        if day in orders:
            await ilse.says(orders[day])
            await ilse.says("yes")


async def test_each_decision_of_six_weeks_comes_out_the_same(tmp_path: Path) -> None:
    """Made again weeks later, under other settings: action, reason, numbers and place."""
    world = world_at(tmp_path / "clinic.db")
    async with world.stage:
        await played(world)
    store = Store(tmp_path / "clinic.db")
    (patient,) = store.rows("SELECT id FROM people WHERE name = 'Ana'")
    record = record_of(store, world.clinic, patient["id"], world.now)
    kept = decisions.every(store, record.episode.id)

    again = [made_again(record, one.id) for one in kept]

    assert len(kept) > DAYS
    assert len({one.advice.reason for one in kept}) > 3
    assert [(one.on, one.because, one.also, one.stood, one.position) for one in again] == [
        (one.on, one.because, one.also, one.stood, one.position)
        for one in (decision.advice for decision in kept)
    ]
    (size,) = store.rows("SELECT max(length(history)) AS most FROM decisions")
    assert size["most"] < 2_000


def test_decisions_of_an_earlier_release_are_packed(tmp_path: Path) -> None:
    """What stood in full is kept, packed, and nothing of it is lost."""
    store = Store(tmp_path / "old.db")
    steps.apply(store.db, stop_before="m007_small_decisions")
    store.db.conn.executescript("""
        INSERT INTO people (id, role, name, made_at) VALUES (1, 'patient', 'Ana', 'x');
        INSERT INTO episodes (id, patient, tendon, protocol, morning_time, evening_time, invited_at)
            VALUES (1, 1, 'mid-portion', 'p', '07:30', '18:30', 'x');
        INSERT INTO decisions (episode, on_date, decided_at, action, reason, evidence, also, inputs,
            protocol, protocol_version, stood_level, stood_dose, level, dose)
            VALUES (1, '2026-03-02', 'x', 'hold', 'x', '{}', '[]', '{"usual_pain": 2}',
            'p', '1', 1, 1, 1, 1);
    """)

    migrate(store)

    (row,) = store.rows("SELECT history FROM decisions")
    assert zlib.decompress(row["history"]) == b'{"usual_pain": 2}'
    columns = {row["name"] for row in store.rows("PRAGMA table_info(decisions)")}
    assert "inputs" not in columns
    assert sqlite3.sqlite_version_info >= (3, 35)
