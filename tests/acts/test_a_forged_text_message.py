"""What a text message from a clinician's number may do: its sender can be forged, so what may harm
waits for a code that only the true telephone was sent."""

from __future__ import annotations

import re

import pytest
from world import Voice, World

from bot.rehearsal.stage import TEXT


def code_in(said: list[str]) -> str:
    """The code of four digits that was asked for."""
    (found,) = re.findall(r"(?:YES|STOP) (\d{4})", said[0])
    return str(found)


async def texting(world: World) -> Voice:
    """A clinician who has a telephone and no chat."""
    ilse = await world.clinician("Ilse", (TEXT,))
    ilse.channel = TEXT
    return ilse


async def plan(world: World, ana: Voice) -> object:
    """All of the plan that a command may change."""
    return await world.episode(ana), await world.position(ana)


@pytest.mark.parametrize(
    "command",
    [
        "level Ana 1 2", "level Ana 3 1", "limit Ana 5", "hops Ana yes", "discharge Ana",
        "go on Ana", "usual pace Ana", "tell Ana: you may hop again",
    ],
)  # fmt: skip
async def test_neither_a_bare_yes_nor_a_guess_carries_it_out(world: World, command: str) -> None:
    """One try a question; the code that the true telephone was sent does it."""
    ilse = await texting(world)
    ana = await world.patient()
    before = await plan(world, ana)
    ana.hears()

    asked = await ilse.says(command)
    bare = await ilse.says("YES")
    wrong = await ilse.says(f"YES {9999 if code_in(asked) != '9999' else 1000}")
    late = await ilse.says(f"YES {code_in(asked)}")

    assert asked[0].startswith("Not done yet.")
    assert "code that was sent" in bare[0]
    assert "code that was sent" in wrong[0]
    assert late == ["Not done: that question is over."]
    assert (await plan(world, ana), ana.hears()) == (before, [])

    done = await ilse.says(f"YES {code_in(await ilse.says(command))}")

    assert "Not done" not in done[0]


@pytest.mark.parametrize("command", ["rest Ana", "level Ana 1 1", "limit Ana 2", "slower Ana"])
async def test_what_only_protects_needs_no_code(world: World, command: str) -> None:
    """A forged one costs a day or a dose, and the patient reads it."""
    ilse = await texting(world)
    await world.patient()

    assert "Not done" not in (await ilse.says(command))[0]


async def test_an_emergency_is_closed_by_text_with_the_code_alone(world: World) -> None:
    """Taking it is answered on the true telephone, and needs none."""
    ilse = await texting(world)
    ana = await world.patient()
    await ana.says("i heard a snap in my heel and cannot push off")
    await ilse.says("I have it")

    asked = await ilse.says("closed go on")
    bare = await ilse.says("YES")
    sql = "SELECT count(*) AS n FROM escalations WHERE closed_at IS NULL"
    still_open = await world.rows(sql)
    await ilse.says(f"YES {code_in(asked)}")
    closed = await world.rows(sql)

    assert "code that was sent" in bare[0]
    assert (still_open[0]["n"], closed[0]["n"]) == (1, 0)


async def test_in_the_chat_a_bare_yes_is_enough(world: World) -> None:
    """Its sender is known by the channel; what was asked by text is answered there too."""
    ilse = await world.clinician("Ilse")
    ana = await world.patient()
    await ilse.says("level Ana 3 1", TEXT)

    await ilse.says("YES")

    assert await world.position(ana) == (3, 1)


async def test_a_forged_stop_silences_nobody(world: World) -> None:
    """The first is answered with a code, the second that brings it is honoured."""
    ilse = await texting(world)
    ana = await world.patient()

    asked = await ilse.says("STOP")
    again = await ilse.says("STOP 1000" if "1000" not in asked[0] else "STOP 1001")
    await ana.says("my calf is red, hot and swollen")
    heard = ilse.hears()
    stopped = await ilse.says(f"STOP {code_in(await ilse.says('stop'))}")

    assert "You hear alarms here" in asked[0]
    assert "You hear alarms here" in again[0]
    assert any("calf" in one for one in heard)
    assert stopped[0].startswith("You will get no more messages by text.")
