"""What follows a worry until it is over: each tier, each ending, and the next three mornings.

Where loading is stopped there is never a session, and never a word that the patient may go on.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

import pytest
from world import Voice, World

SIGNS = {
    "emergency": "heard a loud snap and now i cant push off that foot at all",
    "same day": "my calf is swollen",
    "next working day": "both heels are stiff for over an hour",
}

# What two clinicians write after the alarm; on which of the next three mornings there is a session
# (the first would be due at once), and whether the mornings are asked about.
ENDINGS: dict[str, tuple[Sequence[tuple[str, str]], tuple[bool, bool, bool], bool]] = {
    "silence": ((), (False, False, False), True),
    "held, and no more": ((("Ilse", "I have it 1"),), (False, False, False), True),
    "seen, and no more": ((("Ilse", "closed 1 seen"),), (False, False, False), True),
    "free words": ((("Ilse", "closed 1 calf is soft now"),), (False, False, False), True),
    "go on": ((("Ilse", "closed 1 go on"), ("Ilse", "yes")), (True, True, True), True),
    "not worrying": ((("Ilse", "closed 1 not worrying"), ("Ilse", "yes")), (True,) * 3, True),
    "rest, and no day": ((("Ilse", "closed 1 rest"), ("Ilse", "yes")), (False,) * 3, True),
    "rest": (
        (("Ilse", "closed 1 rest until 4 March"), ("Ilse", "yes")),
        (False, False, True),
        True,
    ),
    "sent on": ((("Ilse", "closed 1 sent on"), ("Ilse", "yes")), (False,) * 3, True),
    "sent on, no questions": (
        (("Ilse", "closed 1 sent on, no questions"), ("Ilse", "yes")),
        (False,) * 3,
        False,
    ),
    "stays stopped": ((("Ilse", "closed 1 stays stopped"), ("Ilse", "yes")), (False,) * 3, True),
    "lifted": (
        (
            ("Ilse", "closed 1 sent on, no questions"),
            ("Ilse", "yes"),
            ("Ilse", "lift Ana"),
            ("Ilse", "yes"),
        ),
        (True, True, True),
        True,
    ),
    "handed over": (
        (("Ilse", "I have it 1"), ("Ilse", "give 1 to Bram"), ("Bram", "I have it 1")),
        (False,) * 3,
        True,
    ),
    "closed in the holder's absence": (
        (("Ilse", "I have it 1"), ("Bram", "closed 1 stays stopped"), ("Bram", "yes")),
        (False,) * 3,
        True,
    ),
    "discharged": (
        (
            ("Ilse", "closed 1 sent on"),
            ("Ilse", "yes"),
            ("Ilse", "discharge Ana"),
            ("Ilse", "yes"),
        ),
        (False,) * 3,
        False,
    ),
}


# Each ending after one tier in turn; what nobody answers, "go on" and "sent on" after each of them.
PLAYED = [
    (sign, ending)
    for place, ending in enumerate(ENDINGS)
    for number, sign in enumerate(SIGNS)
    if ending in ("silence", "go on", "sent on") or place % len(SIGNS) == number
]


@pytest.mark.parametrize(("sign", "ending"), PLAYED)
async def test_the_next_three_mornings(world: World, sign: str, ending: str) -> None:
    """Never a session where loading is stopped; after a stop the lowest dose comes first."""
    spoken, sessions, asked = ENDINGS[ending]
    clinicians = {name: await world.clinician(name) for name in ("Ilse", "Bram")}
    ana = await world.patient("Ana")
    await world.put_at(ana, 2, 3)
    await ana.says(SIGNS[sign])
    for name, text in spoken:
        await clinicians[name].says(text)
    heard = ana.hears()

    mornings = [await _morning(world, ana) for _ in sessions]

    stopped = not any(sessions)
    assert not (stopped and any("you can go on" in text.lower() for text in heard))
    assert [any("session" in text or "3 x" in text for text in said) for said in mornings] == list(
        sessions
    )
    assert any("First-step pain" in text for text in mornings[0]) == asked
    assert (await world.position(ana) == (2, 1)) == (not stopped)


async def _morning(world: World, ana: Voice) -> list[str]:
    """All that is said on a morning: the questions, and the advice where they were asked."""
    await world.at("07:30")
    asked = [text for text in ana.hears() if "reminder" not in text]
    if not any("First-step pain" in text for text in asked):
        return asked
    return [*asked, *await ana.says("2 10")]


async def test_what_is_closed_and_still_stops_is_not_forgotten(world: World) -> None:
    """The summary and the list name the stop, since when, and how it ends; then no more."""
    ilse, ana = await world.clinician("Ilse"), await world.patient("Ana")
    await ana.says("my calf is swollen")
    for words in ("closed 1 sent on", "yes"):
        await ilse.says(words)

    shown = "\n".join(await ilse.says("show Ana"))
    listed = "\n".join(await ilse.says("who needs me"))
    for words in ("lift Ana", "yes"):
        await ilse.says(words)
    await world.goes_to(world.now + timedelta(days=1))
    lifted = "\n".join(await ilse.says("show Ana") + await ilse.says("who needs me"))

    assert "by 1, closed: sent on. LIFT Ana when they may go on." in shown
    assert "Nothing open" not in shown
    assert "LIFT Ana when they may go on" in listed
    assert "LIFT" not in lifted
