"""The fixtures of all tests: a world on a real file, and nothing mocked."""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from world import Beginning, World, changes_in, world_at

# How long an example takes says nothing on a busy machine.
settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("untimed")

# Begun first, so that no worker is left alone with one of them at the end.
LONGEST = (
    "test_thirty_patients", "test_after_the_alarm", "test_twelve_weeks", "test_no_answer_is_lost",
    "test_rehearsal_page", "test_clinic_page", "test_double_reading", "test_sms_carrier",
    "test_sms_gateway", "test_serve", "test_a_troubled_morning",
)  # fmt: skip


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The longest first, otherwise in order."""
    items.sort(key=lambda item: item.path.stem not in LONGEST)


@pytest.fixture
async def world(tmp_path: Path) -> AsyncIterator[World]:
    """A made-up clinic on a fresh file, on a Monday morning, with nobody in it yet."""
    made = world_at(tmp_path / "world.sqlite")
    async with made.stage:
        made.beginning = Beginning(made, await made.stage.run(changes_in))
        yield made
