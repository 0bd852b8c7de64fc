"""A wish to stop in plain words: one question says how, and nothing is taken for despair."""

from __future__ import annotations

from datetime import timedelta

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


async def test_stop_and_start_say_what_holds_meanwhile(world: World) -> None:
    """A sign that is asked about or stops, a pause that stands; the list no longer has the STOP."""
    ilse, ana = await world.clinician("Ilse"), await world.patient()
    await ana.says("pause until 20 March")
    await ana.says("i felt a pop in my heel")
    await world.goes_to(world.now + timedelta(minutes=1))

    goodbye = await ana.says("stop")
    await world.at("10:00", days=1)
    for one in await world.escalations(ana):
        if one.sign != "opted-out":
            await ilse.says(f"closed {one.id} stays stopped")
            await ilse.says("yes")
    back = await ana.says("start")
    listed = "\n".join(await ilse.says("who needs me"))

    assert "leave the exercises" in goodbye[0]
    assert "call 112" in goodbye[0]
    assert "leave the exercises until the clinic tells you" in back[0]
    assert "Friday 20 March" in back[0]
    assert "messages again" not in back[0]
    assert "opted out" not in listed.lower()
    assert all(one.closed_at for one in await world.escalations(ana))
