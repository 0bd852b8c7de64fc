"""Nothing that a message or a tick reads grows with the years: SQLite itself is asked how it finds
the rows of each statement that a week of a clinic runs."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from world import World, world_at

from bot.store.database import Row, Store

# What a clinic types: a few rows, whatever the years. Read whole.
TYPED = {"shifts", "days_off"}

# A whole table in the plan of a statement, or a whole index of one that is not partial.
SCAN = re.compile(r"SCAN (\w+)(?: USING (?:COVERING )?INDEX (\w+))?")


async def a_week(world: World) -> None:
    """A careful patient, one with a swollen calf, and a clinician who asks about both."""
    ilse, ana, ben = (
        await world.clinician("Ilse"),
        await world.patient("Ana"),
        await world.patient("Ben"),
    )
    for day in range(8):
        await world.at("07:31", days=1)
        await ana.says("2 10")
        await world.at("18:31")
        for text in ("done", "3 2 2", "4 no", "0"):
            await ana.says(text)
        if day == 3:
            await ben.says("my calf is swollen and hot")
        if day == 4:
            for text in ("I have it", "closed 1 rest until friday", "yes"):
                await ilse.says(text)
        await ilse.says("who needs me?")
        await ilse.says("summary Ana")
    for text in (
        "why Ana", "words Ana", "history 1", "numbers", "level Ana 2", "yes", "tell Ana well done",
        "pause Ana until friday", "yes", "discharge Ben", "yes",
    ):  # fmt: skip
        await ilse.says(text)
    await ana.says("what is this")
    await ana.says("stop")


async def test_no_statement_reads_a_table_that_grows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every row is found by an index; a partial index that holds what is open may be read whole."""
    ran: dict[str, Mapping[str, Any]] = {}
    rows, change = Store.rows, Store.change

    def heard_rows(store: Store, sql: str, values: Mapping[str, Any] | None = None) -> list[Row]:
        ran.setdefault(" ".join(sql.split()), values or {})
        return rows(store, sql, values)

    def heard_change(store: Store, sql: str, values: Mapping[str, Any] | None = None) -> int:
        ran.setdefault(" ".join(sql.split()), values or {})
        return change(store, sql, values)

    monkeypatch.setattr(Store, "rows", heard_rows)
    monkeypatch.setattr(Store, "change", heard_change)
    world = world_at(tmp_path / "clinic.db")
    async with world.stage:
        await a_week(world)
    monkeypatch.undo()

    store = Store(tmp_path / "clinic.db")
    tables = {row["name"] for row in store.rows("SELECT name FROM sqlite_schema")}
    partial = {
        row["name"]
        for row in store.rows("SELECT name FROM sqlite_schema WHERE sql LIKE '% WHERE %'")
    }
    read_whole = {
        sql: step["detail"]
        for sql, values in ran.items()
        for step in store.rows(f"EXPLAIN QUERY PLAN {sql}", values)
        for table, index in SCAN.findall(step["detail"])
        if table in tables - TYPED and index not in partial
    }

    assert len(ran) > 70
    assert read_whole == {}
