"""Discharge: prompts end, the patient is told where they stand, who and when are kept."""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import pytest
from world import Voice, World, world_at

from bot.clinicians.discharge import discharge, take_back
from bot.errors import RefusedError
from bot.patient_record.record import PatientRecord
from bot.store import people
from bot.store.database import Store


@pytest.fixture
async def at_the_clinic(tmp_path: Path) -> AsyncIterator[tuple[World, Voice]]:
    """Ilse, and Ana who has answered four mornings."""
    world = world_at(tmp_path / "clinic.db")
    async with world.stage:
        await world.clinician("Ilse")
        ana = await world.patient("Ana", usual_pain=5, usual_stiffness=30)
        for _ in range(4):
            await ana.says("2 10")
            await world.at("07:31")
        ana.hears()
        yield world, ana


async def done_by_ilse(world: World, act: Any) -> Any:
    """Ilse does something about Ana."""

    def work(store: Store) -> Any:
        (ana,) = people.patients_named(store, "Ana")
        (ilse,) = people.by_role(store, *people.CLINICAL)
        return act(PatientRecord(store, world.clinic, ana, world.now), ilse.id)

    return await world.stage.run(work)


async def test_the_patient_hears_what_they_came_with_and_where_they_are(
    at_the_clinic: tuple[World, Voice],
) -> None:
    """One message in plain words, kept as it was told, with who and when."""
    world, ana = at_the_clinic

    summary = await done_by_ilse(world, discharge)
    await world.stage.settle()

    (kept,) = await world.rows("SELECT * FROM episodes")
    assert ana.hears() == [summary]
    assert "first-step pain was 5 and you were stiff for 30 min" in summary
    assert "In the last 7 days the pain was about 2, and you were stiff for about 10 min" in summary
    assert "If the pain comes back" in summary
    assert (kept["discharge_summary"], kept["discharged_by"]) == (summary, 1)
    assert kept["discharged_at"] == "2026-03-06T07:31:00Z"


async def test_after_discharge_nothing_is_asked_and_a_sign_is_still_seen(
    at_the_clinic: tuple[World, Voice],
) -> None:
    """Five silent days raise nothing; a warning sign raises what it always does."""
    world, ana = at_the_clinic
    await done_by_ilse(world, discharge)
    await world.stage.settle()
    ana.hears()

    await world.at("22:00", days=5)
    silence = ana.hears()
    said = await ana.says("my whole calf is swollen and tender since yesterday")

    assert silence == []
    assert "seen by a doctor today" in said[0]
    assert [e.sign for e in await world.escalations(ana)] == ["leg-clot"]


async def test_a_treatment_can_be_taken_up_again(at_the_clinic: tuple[World, Voice]) -> None:
    """Taken back, the patient is asked the next morning, at the place they had reached."""
    world, ana = at_the_clinic
    before = await world.position(ana)
    await done_by_ilse(world, discharge)
    await done_by_ilse(world, take_back)
    await world.stage.settle()
    ana.hears()

    await world.at("08:00", days=1)

    assert "First-step pain, 0-10?" in ana.hears()[-1]
    assert await world.position(ana) == before


async def test_nobody_is_discharged_twice_or_with_something_open(
    at_the_clinic: tuple[World, Voice],
) -> None:
    """Each is refused with its reason; so is taking back who never left."""
    world, ana = at_the_clinic
    with pytest.raises(RefusedError, match="has not been discharged"):
        await done_by_ilse(world, take_back)
    await ana.says("please call me")
    with pytest.raises(RefusedError, match="close what is open about Ana first: 1"):
        await done_by_ilse(world, discharge)
    await world.rows("UPDATE escalations SET closed_at = raised_at RETURNING id")

    await done_by_ilse(world, discharge)

    with pytest.raises(RefusedError, match="discharged already"):
        await done_by_ilse(world, discharge)
