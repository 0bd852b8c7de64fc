"""A wish to stop in plain words: one question says how, and nothing is taken for despair."""

from __future__ import annotations

import pytest
from world import World


@pytest.mark.parametrize(
    ("language", "text", "named"),
    [
        ("en", "I want to stop", "reply STOP"),
        ("en", "I quit!", "reply STOP"),
        ("en", "how do i stop this?", "reply STOP"),
        ("en", "it rains here again. I want to stop this", "reply STOP"),
        ("es", "quiero dejarlo", "responde PARAR"),
        ("es", "quiero parar esto", "responde PARAR"),
    ],
)
async def test_a_wish_to_stop_is_asked_about_once(
    world: World, language: str, text: str, named: str
) -> None:
    """The three ways out are named; no sign of distress is asked about, and nobody is alarmed."""
    clinician = await world.clinician("Ilse")
    ana = await world.patient("Ana")
    if language != "en":
        await ana.says("español")
    clinician.hears()

    (reply,) = await ana.says(text)

    assert named in reply
    assert await world.escalations(ana) == []
    await world.at("09:00", days=1)
    assert [told for told in clinician.hears() if "EMERGENCY" in told or "SAME DAY" in told] == []


async def test_what_stands_beside_the_wish_is_shown_to_a_clinician(world: World) -> None:
    """No word is lost, and dying is never taken for leaving."""
    await world.clinician("Ilse")
    ana = await world.patient("Ana")

    await ana.says("I am moving house on Monday. I want to stop")
    unread = await world.rows("SELECT text FROM inbox WHERE outcome = 'unread'")
    reply = await ana.says("I want to stop living")

    assert [row["text"] for row in unread] == ["I am moving house on Monday. I want to stop"]
    assert "reply STOP" not in reply[0]


async def test_the_wrong_person_is_asked_no_more(world: World) -> None:
    """The questions end, and the clinic hears of it."""
    await world.clinician("Ilse")
    ana = await world.patient("Ana")

    await ana.says("you have the wrong number")
    ana.hears()
    await world.at("12:00", days=2)

    assert ana.hears() == []
    assert [one.sign for one in await world.escalations(ana)] == ["opted-out"]
