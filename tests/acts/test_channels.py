"""A channel is a folder and a line in the registry: a made-up one is configured, checked, sends and
receives, and no other file knows of it."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest
from stand_ins.carrier_pigeon.channel import PigeonChannel
from stand_ins.carrier_pigeon.settings import PigeonTable
from world import CLINIC_TABLE, MONDAY

from bot.app import App
from bot.channels.registry import TABLES, build_channels, channel_problems
from bot.clock import SteppedClock
from bot.errors import SettingsError
from bot.ports import FIELD_MAX, TEXT_MAX, Incoming
from bot.settings import Settings, clinic_of, read_settings
from bot.store import outbox, people
from bot.store.database import Store, Writer
from bot.store.migrations import migrate
from bot.store.outbox import Draft, Urgency
from bot.store.people import Role


@pytest.fixture
def with_pigeons(monkeypatch: pytest.MonkeyPatch) -> None:
    """The line in the registry."""
    monkeypatch.setattr("bot.channels.registry.TABLES", [*TABLES, PigeonTable])
    monkeypatch.delenv("NEXTMORNING_TELEGRAM_TOKEN", raising=False)
    monkeypatch.setenv("NEXTMORNING_PIGEON_RING", "NL-26-1")


def read(folder: Path, tables: str) -> Settings:
    """The configuration with these tables."""
    config = folder / "clinic.toml"
    config.write_text(tables + CLINIC_TABLE)
    return read_settings(config)


@pytest.mark.usefixtures("with_pigeons")
async def test_a_channel_is_a_folder_and_a_line(tmp_path: Path) -> None:
    """Its table is read with the secret of the environment; a prompt leaves, an answer is kept."""
    settings = read(tmp_path, '[pigeon]\nloft = "roof of the clinic"\n')
    clock = SteppedClock(MONDAY)
    (channel,) = build_channels(settings.channels, settings.shared, clock)
    writer = Writer(tmp_path / "pigeon.sqlite", migrate)
    writer.start()

    def enrolled(store: Store) -> None:
        person = people.add(store, Role.PATIENT, "Ana", MONDAY)
        people.add_contact(store, person.id, "pigeon", "third oak", MONDAY)
        outbox.write(store, Draft(person.id, "How is it?", Urgency.PROMPT), MONDAY)

    await writer.run(enrolled)
    app = App(writer, clinic_of(settings), clock, [channel])
    listening = asyncio.create_task(app.listen(channel))
    assert isinstance(channel, PigeonChannel)
    await app.send_waiting("pigeon")
    channel.home.put_nowait(("third oak", "3 10"))
    await channel.home.join()
    kept = await writer.run(lambda s: s.rows("SELECT channel, message_id, text FROM inbox"))
    listening.cancel()
    await asyncio.gather(listening, return_exceptions=True)
    await app.close()

    assert channel_problems(settings.channels, settings.shared) == []
    assert channel.flown == [("third oak", "How is it?")]
    assert kept == [{"channel": "pigeon", "message_id": "NL-26-1:1", "text": "3 10"}]


@pytest.mark.usefixtures("with_pigeons")
def test_a_channels_own_checks_are_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of its secret by the table of all channels, of its loft by its own."""
    monkeypatch.delenv("NEXTMORNING_PIGEON_RING")
    settings = read(tmp_path, '[pigeon]\nloft = "cellar"\n')

    assert channel_problems(settings.channels, settings.shared) == [
        "pigeon.ring: is missing; put it there or in NEXTMORNING_PIGEON_RING",
        "pigeon.loft: expected one on a roof",
    ]


@pytest.mark.parametrize(
    ("tables", "problem"),
    [
        pytest.param("[pigeon]\n", "pigeon.loft: is missing", id="a key is missing"),
        pytest.param(
            '[pigeon]\nloft = "roof"\nroof = 1\n', "pigeon.roof: there is no such key", id="unknown"
        ),
        pytest.param("pigeon = 3\n", "pigeon: expected a table", id="no table"),
        pytest.param("[owl]\n", "owl: there is no such key", id="no such channel"),
        pytest.param(
            '[smpp]\nhost = "smpp.carrier.example"\n',
            "smpp: text messages by SMPP now go through a gateway on this machine",
            id="a line to a carrier",
        ),
    ],
)
@pytest.mark.usefixtures("with_pigeons")
def test_a_table_that_cannot_be_read_is_said(tmp_path: Path, tables: str, problem: str) -> None:
    """One sentence, with the key and what was expected."""
    with pytest.raises(SettingsError) as caught:
        read(tmp_path, tables)

    assert [found.startswith(problem) for found in caught.value.problems] == [True]


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        pytest.param("calf \ud83d hot", "calf ? hot", id="half a pair"),
        pytest.param("calf 😀 hot", "calf 😀 hot", id="a whole pair"),
        pytest.param("x" * TEXT_MAX, "x" * TEXT_MAX, id="the longest"),
        pytest.param("x" * TEXT_MAX + "y", "x" * TEXT_MAX, id="longer"),
    ],
)
def test_whatever_comes_can_be_kept(text: str, kept: str) -> None:
    """In every channel, and so nothing odd keeps the others of its batch from the disk."""
    incoming = Incoming("pigeon", "1", "third oak" * FIELD_MAX, text, pressed=text)

    assert incoming.text == kept
    assert incoming.pressed == kept[:FIELD_MAX]
    assert len(incoming.address) == FIELD_MAX
