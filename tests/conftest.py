"""The fixtures of all tests: a world on a real file, and nothing mocked."""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from world import World, world_at

# How long an example takes says nothing on a busy machine.
settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("untimed")


@pytest.fixture
async def world(tmp_path: Path) -> AsyncIterator[World]:
    """A made-up clinic on a fresh file, on a Monday morning, with nobody in it yet."""
    made = world_at(tmp_path / "world.sqlite")
    async with made.stage:
        yield made
