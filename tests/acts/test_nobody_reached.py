"""Never silent: an address of the clinic closes, or nobody at all is reached, through the real bot;
the channel refuses as one does that was blocked."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import pytest
from world import MONDAY, Voice, World, world_at

from bot.channels.last_resort.channel import LastResort
from bot.channels.last_resort.settings import LastResortTable
from bot.channels.registry import channel_problems
from bot.channels.tables import Shared
from bot.clinicians.invite import invite_staff
from bot.rehearsal.clinic import made_up_clinic
from bot.rehearsal.stage import CHAT, Stage
from bot.store.people import Role

SNAP = "heard a loud snap and now i cant push off that foot at all"
CALF = "my whole calf is swollen and tender since yesterday"


def block(world: World, *names: str) -> None:
    """Nothing arrives at these any more, on any channel."""
    for channel in (world.stage.chat, world.stage.text):
        channel.closed_addresses |= set(names)


async def owner(world: World) -> Voice:
    """An owner who has joined on the chat."""
    code = await world.stage.run(invite_staff, Role.OWNER, "Oda", "en", world.now)
    voice = Voice(world, "Oda")
    await voice.says(code)
    return voice


@pytest.mark.parametrize(
    ("words", "whom"),
    [
        pytest.param(SNAP, "Please call 112 now, then 020", id="an emergency"),
        pytest.param(CALF, "Please call 020", id="to be seen today"),
    ],
)
async def test_when_every_address_is_closed_patient_and_owner_hear_it_at_once(
    world: World, words: str, whom: str
) -> None:
    """In the same minute; the patient once, the owner again while it lasts."""
    await world.clinician("Ilse")
    await world.clinician("Bram")
    oda, patient = await owner(world), await world.patient()
    block(world, "ilse", "bram")

    heard = await patient.says(words)
    told = oda.hears()
    await world.at("23:00")
    later = patient.hears()
    await world.at("09:00")

    assert "I am telling" not in heard[0]
    assert "my messages do not reach" in heard[-1]
    assert whom in heard[-1]
    assert any("Ilse no longer gets my messages" in text for text in told)
    assert any("Bram" in text and "NOBODY HEARS ALARMS NOW" in text for text in told)
    assert any(text.startswith("NOBODY WAS REACHED.") for text in told)
    assert "Ana" not in "".join(told)
    assert not any("my messages do not reach" in text for text in later + patient.hears())
    again = [text for text in oda.hears() if text.startswith("NOBODY WAS REACHED.")]
    assert 3 <= len(again) <= 8  # in a day, with pauses that double
    (raised, *_) = await world.escalations(patient)
    kinds = [row["kind"] for row in await world.rows(
        "SELECT kind FROM notices WHERE escalation = :n", n=raised.id)]  # fmt: skip
    assert kinds[-1] == "nobody reached"


async def test_one_closed_address_is_told_and_the_alarm_goes_on(world: World) -> None:
    """A colleague and the owner hear whose; the patient hears nothing of it."""
    await world.clinician("Ilse", (CHAT,))
    bram = await world.clinician("Bram", (CHAT,))
    oda, patient = await owner(world), await world.patient()
    block(world, "ilse")

    heard = await patient.says(SNAP)
    after = await patient.says(CALF)

    told = bram.hears()
    assert any("Ilse no longer gets my messages" in text for text in told)
    assert any("EMERGENCY. Ana" in text for text in told)
    assert [text for text in oda.hears() if "NOBODY" in text] == []
    assert not any("my messages do not reach" in text for text in heard + after)
    assert "passing this on to Bram now" in after[0]


async def test_a_channel_that_is_away_reached_nobody_until_it_is_back(world: World) -> None:
    """Once the address works again and the notice is accepted, nobody is alarmed any more."""
    ilse = await world.clinician("Ilse", (CHAT,))
    oda, patient = await owner(world), await world.patient()
    block(world, "ilse")
    await patient.says(SNAP)
    world.stage.chat.closed_addresses.clear()
    oda.hears()

    back = await ilse.says("who needs me?")
    await world.at("12:00", days=1)

    assert "Ana" in back[0]
    assert any("NOBODY HAS SAID THEY HAVE 1" in text for text in ilse.hears())
    assert [text for text in oda.hears() if text.startswith("NOBODY WAS REACHED")] == []


@pytest.mark.parametrize(
    ("ends_with", "failed"),
    [pytest.param(0, False, id="it works"), pytest.param(3, True, id="it fails")],
)
async def test_the_last_resort_is_tried_when_all_else_failed(
    tmp_path: Path, ends_with: int, failed: bool
) -> None:
    """A real program gets the text on standard input, with each round that reached nobody; the
    owner hears that it failed."""
    out = tmp_path / "out.txt"
    program = f"import sys; open({str(out)!r}, 'a').write(sys.stdin.read() + '\\n')"
    command = [sys.executable, "-c", f"{program}; sys.exit({ends_with})"]
    world = world_at(
        tmp_path / "clinic.sqlite", MONDAY, replace(made_up_clinic(), last_resort=True)
    )
    world.stage = Stage(
        tmp_path / "clinic.sqlite", world.clinic, MONDAY,
        heard=world.outgoing.append, more_channels=[LastResort(command)],
    )  # fmt: skip
    world.stage.listeners.append(world.lines.append)
    async with world.stage:
        await world.clinician("Ilse")
        oda, patient = await owner(world), await world.patient()
        block(world, "ilse")

        await patient.says(SNAP)
        first = out.read_text()
        await world.at("09:30", days=1)
        told = oda.hears()

    assert first.startswith("NOBODY WAS REACHED. EMERGENCY: escalation 1")
    assert "Ana" not in first
    assert any("last resort of your clinic failed" in text for text in told) is failed
    if not failed:
        assert 3 <= len(out.read_text().splitlines()) <= 8


@pytest.mark.parametrize(
    ("table", "expected"),
    [
        pytest.param({"command": [sys.executable]}, [], id="a program that is there"),
        pytest.param({"url": "https://pager.example/alarm"}, [], id="an address"),
        pytest.param({}, ["either command or url"], id="neither"),
        pytest.param({"command": ["no-such-program"]}, ["there is no program"], id="not there"),
        pytest.param({"url": "http://pager.example"}, ["expected an address"], id="in clear"),
    ],
)
def test_a_last_resort_that_cannot_work_is_refused(
    table: dict[str, object], expected: list[str]
) -> None:
    """With a sentence; and it is no channel that patients could write on."""
    read = LastResortTable.model_validate(table)
    found = read.problems(Shared())

    assert [part in one for part, one in zip(expected, found, strict=True)] == [True] * len(found)
    assert any("telegram" in one for one in channel_problems({"last_resort": read}, Shared()))
