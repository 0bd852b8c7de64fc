"""A store as the first release left it, with an escalation open and one closed: a day is played on
it, and what stopped loading then still does."""

from __future__ import annotations

import sqlite3
import zlib
from datetime import timedelta
from pathlib import Path

from sqlite_utils import Database
from world import Voice, world_at

from bot.store.migrations import steps


def _as_it_was(new: Path, old: Path) -> None:
    """Copies what the first tables can hold: later columns, tables and indices are left behind."""
    steps.apply(Database(old), stop_before="m002_what_follows_an_escalation")
    file = sqlite3.connect(old)
    file.create_function("unpacked", 1, lambda packed: zlib.decompress(packed).decode())
    file.execute("ATTACH ? AS new", [str(new)])
    tables = "SELECT name FROM main.sqlite_master WHERE type = 'table' AND name GLOB '[a-z]*'"
    for (table,) in file.execute(tables).fetchall():
        then, now = (
            [row[1] for row in file.execute(f"PRAGMA {place}.table_info({table})")]
            for place in ("main", "new")
        )
        names = [name for name in then if name in (*now, "inputs")]
        values = ["unpacked(history)" if name == "inputs" else name for name in names]
        file.execute(f"DELETE FROM main.{table}")
        file.execute(
            f"INSERT INTO main.{table} ({', '.join(names)}) "
            f"SELECT {', '.join(values)} FROM new.{table}"
        )
    file.commit()
    file.close()


async def test_a_day_on_the_store_of_the_first_release(tmp_path: Path) -> None:
    """The open one is taken and closed as they are now; the closed one stops nobody."""
    first = world_at(tmp_path / "new.sqlite")
    async with first.stage:
        ilse, ana, bo = [
            await first.clinician("Ilse"),
            await first.patient("Ana"),
            await first.patient("Bo"),
        ]
        for voice, words in (
            (ana, "my calf is swollen"),
            (bo, "car ran over my foot"),
            (ilse, "closed 2 go on"),
            (ilse, "yes"),
        ):
            await voice.says(words)
    _as_it_was(tmp_path / "new.sqlite", tmp_path / "old.sqlite")

    world = world_at(tmp_path / "old.sqlite", first.now + timedelta(minutes=1))
    async with world.stage:
        ilse, ana, bo = (Voice(world, name) for name in ("Ilse", "Ana", "Bo"))
        taken = await ilse.says("I have it")
        mornings = []
        for words in ("closed 1 sent on", "lift Ana"):
            await ilse.says(words)
            closed = await ilse.says("yes")
            await world.at("07:30")
            mornings.append([" ".join(await voice.says("2 10")) for voice in (ana, bo)])

    assert taken[0].startswith("You have 1 (Ana).")
    assert "Ana was told" in closed[0]
    (stopped, went_on), (lifted, _) = mornings
    assert "leave the exercises" in stopped
    assert "session today" in went_on or "first session" in went_on
    assert "session" in lifted
