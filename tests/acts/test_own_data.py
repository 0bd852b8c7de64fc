"""A patient asks for their data to be deleted, or for a copy: answered, put before the clinic."""

from __future__ import annotations

from dataclasses import replace

import pytest
from talks.talking import SITUATION
from world import World

from bot.rehearsal.stage import CHAT
from dialogs.patient import step
from dialogs.turn import Message, State
from dialogs.wishes import CopyAsked, ErasureAsked
from rules.history import Tier

ERASURE, COPY = (ErasureAsked(),), (CopyAsked(),)

WISHES = [
    pytest.param("delete my data", ERASURE, id="plain"),
    pytest.param("Please delete ALL of my data!", ERASURE, id="polite, with capitals"),
    pytest.param("can you please erase my records?", ERASURE, id="as a question"),
    pytest.param("I want you to delete everything you have on me", ERASURE, id="all there is"),
    pytest.param("forget me", ERASURE, id="two words"),
    pytest.param("send me my data", COPY, id="a copy"),
    pytest.param("what data do you have about me?", COPY, id="a question after it"),
    pytest.param("delete that", (), id="a slip to be mended is no erasure"),
    pytest.param("can you see my answers", (), id="a question about answers is no copy"),
    pytest.param("should I delete my data or wait", (), id="more than the wish"),
]

SPANISH_WISHES = [
    pytest.param("borra mis datos", ERASURE, id="plain"),
    pytest.param("Por favor, quiero que borren todos mis datos", ERASURE, id="polite"),
    pytest.param("bórrame", ERASURE, id="one word"),
    pytest.param("¿Puedes enviarme una copia de mis datos?", COPY, id="a copy"),
    pytest.param("borra eso", (), id="a slip to be mended"),
]


def recorded(text: str, language: str) -> tuple[object, ...]:
    """What a message records of the two wishes."""
    turn = step(State(), Message(text), replace(SITUATION, language=language))
    return tuple(one for one in turn.recorded if isinstance(one, ErasureAsked | CopyAsked))


@pytest.mark.parametrize(("text", "wish"), WISHES)
def test_the_wish_is_heard_in_english(text: str, wish: tuple[object, ...]) -> None:
    """As the whole message only."""
    assert recorded(text, "en") == wish


@pytest.mark.parametrize(("text", "wish"), SPANISH_WISHES)
def test_the_wish_is_heard_in_spanish(text: str, wish: tuple[object, ...]) -> None:
    """With accents and without."""
    assert recorded(text, "es") == wish


async def test_erasure_is_asked_of_the_clinic_and_nothing_is_deleted(world: World) -> None:
    """Plain words with whom to call; one matter for the next working day; all stays kept."""
    ilse = await world.clinician("Ilse", (CHAT,))
    ana = await world.patient()
    await ana.says("2 10")
    before = await world.answers(ana)
    ilse.hears()

    heard = await ana.says("delete my data")
    again = await ana.says("please delete my data")
    await world.at("08:15")

    (matter,) = await world.escalations(ana)
    assert len(heard) == len(again) == 1
    assert "deletes nothing" in heard[0]
    assert "020 7946 0141" in heard[0]
    assert (matter.sign, matter.tier) == ("asks-for-erasure", Tier.NEXT_WORKING_DAY)
    assert (matter.words, matter.stops_loading) == ("delete my data", False)
    assert await world.answers(ana) == before
    assert len(ilse.hears()) == 1
    rows = await world.rows("SELECT outcome FROM inbox WHERE outcome = 'unread'")
    assert rows == []


async def test_once_it_is_closed_a_new_wish_is_a_new_matter(world: World) -> None:
    """Who asks again later is heard again."""
    ilse = await world.clinician("Ilse", (CHAT,))
    ana = await world.patient()
    await ana.says("delete my data")
    await ilse.says("closed 1 spoke to them")

    await ana.says("delete my data")

    assert len(await world.escalations(ana)) == 2


async def test_a_copy_is_asked_of_the_clinic_as_well(world: World) -> None:
    """Nothing is sent over the chat, for another may hold the phone."""
    ana = await world.patient()

    heard = await ana.says("send me my data")

    (matter,) = await world.escalations(ana)
    assert "only you get it" in heard[0]
    assert matter.sign == "asks-for-a-copy"


async def test_a_question_that_waits_goes_on_waiting(world: World) -> None:
    """The wish is no answer, and the next message is."""
    ana = await world.patient()
    await world.at("07:30")

    await ana.says("delete my data")
    await ana.says("3 10")

    assert len(await world.answers(ana)) >= 2


async def test_who_has_left_is_answered_too(world: World) -> None:
    """On a chat, the wish to be erased is often the next thing after STOP."""
    ana = await world.patient()
    await ana.says("STOP")

    heard = await ana.says("delete my data")

    assert "deletes nothing" in heard[0]
    assert (await world.escalations(ana))[-1].sign == "asks-for-erasure"
