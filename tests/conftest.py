"""The fixtures of all tests: a world on a real file, and nothing mocked."""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path

import pytest
from world import World, world_at


@pytest.fixture
async def world(tmp_path: Path) -> AsyncIterator[World]:
    """A made-up clinic on a fresh file, on a Monday morning, with nobody in it yet."""
    made = world_at(tmp_path / "world.sqlite")
    async with made.stage:
        yield made
