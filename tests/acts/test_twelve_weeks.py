"""Twelve weeks of four patients through the real bot: what consent promises is counted, and the
table in deploy/guide/measured.md is what comes out."""

from __future__ import annotations

import asyncio
from collections import Counter

import pytest
from twelve_weeks import BLOCK, DOCUMENT, Player, lived, table

# What consent and HELP promise [messages a day]: on most days up to, and never more than.
MOST_DAYS, NEVER_MORE = 6, 9


@pytest.fixture(scope="module")
def four() -> tuple[Player, ...]:
    """The four, played once."""
    return asyncio.run(lived())


def test_no_day_brings_more_messages_than_consent_promises(four: tuple[Player, ...]) -> None:
    """Each of the four, on each of 84 days; on eight days of ten six at most."""
    for player in four:
        days = Counter(on for on, _ in player.heard).values()
        assert max(days) <= NEVER_MORE, player.name
        assert sum(count <= MOST_DAYS for count in days) >= 0.8 * len(days), player.name


def test_the_table_is_what_comes_out(four: tuple[Player, ...]) -> None:
    """Made anew by `python tests/twelve_weeks.py`."""
    (shown,) = BLOCK.findall(DOCUMENT.read_text(encoding="utf-8"))

    assert table(four) in shown
