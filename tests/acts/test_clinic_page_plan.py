"""The plan at the clinic page: what a change will say to the patient, before it is sent."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from acts.clinic_page import Visitor, link_of, number_of, opened
from world import World

CHANGES: dict[str, dict[str, str]] = {
    "limit": {"limit": "2"},
    "pause": {"until": "2026-03-09"},
    "rest": {},
    "slower": {},
    "level": {"level": "4", "dose": "2"},
    "discharge": {},
}
"""The last two are asked about in chat as well."""


async def state(world: World) -> list[Any]:
    """All that a plan is made of, and what was sent."""
    tables = ("moves", "pauses", "day_words", "episodes", "decisions", "outbox")
    return [await world.rows(f"SELECT * FROM {table}") for table in tables]


async def test_what_a_change_will_say_is_shown_first_and_then_said_word_for_word(
    tmp_path: Path,
) -> None:
    """Each change: nothing is done and nothing sent before the button; then these very words. What
    would say nothing says so, and what cannot be done is refused."""
    async with opened(tmp_path, seeded=False) as world:
        ilse, ana = Visitor(world), await world.patient("Ana")
        await ilse.goes_in(await link_of(await world.clinician("Ilse")))
        await ana.says("2 10")
        place = f"/page/patients/{await number_of(world, 'Ana')}"
        before = await state(world)
        refused = await ilse.sends("level", place, patient="Ana", level="99", dose="1")
        hops = await ilse.sends("hops", place, patient="Ana")
        assert "has levels 1 to" in refused
        assert "They are told nothing now." in hops
        for act, fields in CHANGES.items():
            shown = await ilse.sends(act, place, patient="Ana", **fields)
            kept = await state(world)
            payload = shown.split('name="say" value="', 1)[1].split('"')[0]
            ana.hears()
            await ilse.sends("say", place, say=payload)
            await world.stage.settle()
            heard = "\n\n".join(ana.hears())

            assert "Not done yet." in shown
            assert kept == before, act
            assert f"They will be told:\n{heard}<" in shown, act
            before = await state(world)
