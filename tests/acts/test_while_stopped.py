"""While loading is stopped no message names a session or a dose: not one that is asked for, nor one
that comes by itself, on that day and the three mornings after it."""

from __future__ import annotations

import re

import pytest
from world import World

STOP = "my calf is swollen and hot"

# A dose, or a session that is to come.
SESSION = re.compile(
    r"\d+ x \d+|\d+ sets? of|heel-raise|your session today|next session|next one:", re.I
)

STOPS = {
    "a sign that nobody has": [("ana", STOP)],
    "a sign asked about": [("ana", "my calf feels a bit warm")],
    "stays stopped": [("ana", STOP), ("ilse", "closed 1 stays stopped")],
    "sent on": [("ana", STOP), ("ilse", "closed 1 sent on")],
    "rest until a day": [("ana", STOP), ("ilse", "closed 1 rest until 20 March")],
    "a pause of the patient's": [("ana", "pause 2 weeks")],
    "a pause of the clinician's": [("ilse", "pause Ana until 20 March")],
    "ill": [("ana", "I'm ill until 20 March")],
    "pregnant": [("ana", "i'm pregnant")],
    "an operation": [("ana", "im having surgery tomorrow")],
    "discharged": [("ilse", "discharge Ana"), ("ilse", "yes")],
}

ASKED = (
    "PLAN",
    "WHY",
    "what exercises do i do today?",
    "when is my next session?",
    "what step am i on",
    "what if i miss one",
    "this is too easy, can i do more",
    "can i do my exercises now?",
    "why the same again?",
    "how am i doing",
    "can i do it in the evening instead",
    "3 10",
    "hello",
    "HELP",
)


@pytest.mark.parametrize("stop", STOPS)
async def test_no_session_is_named_while_loading_is_stopped(world: World, stop: str) -> None:
    """Asked in any way, by itself in the mornings, nor where the clinician sets another level."""
    ilse, ana = await world.clinician("Ilse"), await world.patient()
    voices = {"ana": ana, "ilse": ilse}
    await ana.says("2 10")
    for who, text in STOPS[stop]:
        await voices[who].says(text)

    said = [(text, one) for text in ASKED for one in await ana.says(text)]
    await ilse.says("level Ana 2 1")
    said += [("level", one) for one in ana.hears()]
    for _ in range(3):
        await world.at("07:31")
        said += [("morning", one) for one in ana.hears()]
        said += [("answered", one) for one in await ana.says("2 10 2")]
        said += [("planned", one) for one in await ana.says("PLAN")]
        await world.at("21:00")
        said += [("evening", one) for one in ana.hears()]

    assert [one for one in said if SESSION.search(one[1])] == []
