"""What is told in two messages within some minutes is read as one, and raised once."""

from __future__ import annotations

from datetime import timedelta

import pytest
from world import World

# Two parts of one sentence, neither a sign alone; and what is written next.
PARTS = [
    ("my calf", "is hot and swollen", "what should i do"),
    ("la pantorrilla", "está hinchada y caliente", "qué hago"),
]


@pytest.mark.parametrize("parts", PARTS)
async def test_the_parts_of_a_sentence_are_read_together(
    world: World, parts: tuple[str, ...]
) -> None:
    """The clinician reads both; what is written next raises nothing again."""
    ilse, ana = await world.clinician("Ilse"), await world.patient()
    if parts[0].startswith("la "):
        await ana.says("español")
    await ana.says("2 10")
    for part in parts:
        await ana.says(part)
        await world.goes_to(world.now + timedelta(minutes=1))
    await ilse.says("I have it 1")

    await world.goes_to(world.now + timedelta(hours=2))

    (one,) = await world.escalations(ana)
    assert (one.sign, one.words) == ("leg-clot", " ".join(parts[:2]))
    told = [line.text for line in world.lines if line.address == "ilse" and "Ana: " in line.text]
    assert len(told) == 1


async def test_what_was_written_long_before_is_another_matter(world: World) -> None:
    """After ten minutes a message stands alone."""
    ana = await world.patient()
    await ana.says("2 10")
    await ana.says("my calf")
    await world.goes_to(world.now + timedelta(minutes=11))

    await ana.says("is hot and swollen")

    assert await world.escalations(ana) == []


async def test_the_same_words_are_no_second_alarm(world: World) -> None:
    """What shows nothing, soon after a sign, is read with it."""
    ana = await world.patient()
    await ana.says("2 10")
    for text in ("my calf is swollen", "sorry to bother you", "it is the left one"):
        await ana.says(text)

    (one,) = await world.escalations(ana)
    assert one.words == "my calf is swollen / sorry to bother you / it is the left one"
