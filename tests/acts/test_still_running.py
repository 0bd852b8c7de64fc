"""That the bot runs is said every working day, to people; and to systemd while it is well."""

from __future__ import annotations

import asyncio
import json
import logging
import re
import shutil
import socket
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from acts.typing_commands import typed
from stand_ins.patience import PATIENCE_SECONDS
from world import Voice, World

from bot.commands.log import TALKATIVE, LogFormat, write_log
from bot.commands.watchdog import TICK_IS_RECENT, is_well, notify_systemd
from bot.rehearsal.clinic import ZONE
from bot.store import people
from bot.store.people import Role

ROOT = Path(__file__).parents[2]
UNITS = ROOT / "deploy" / "systemd"


async def person(world: World, name: str, role: Role) -> Voice:
    """Somebody of the clinic with any role, on the chat."""

    def add(store: Any) -> None:
        added = people.add(store, role, name, world.now, zone=ZONE)
        people.add_contact(store, added.id, "chat", name.lower(), world.now)

    await world.stage.run(add)
    return Voice(world, name)


@pytest.mark.parametrize(
    ("at", "heard"),
    [
        pytest.param("2026-03-03T08:14:59", 0, id="just before the hour"),
        pytest.param("2026-03-03T08:15:00", 1, id="at the hour"),
        pytest.param("2026-03-03T08:15:01", 1, id="after it, once"),
        pytest.param("2026-03-07T12:00:00", 0, id="not on a Saturday"),
    ],
)
async def test_the_owner_hears_that_it_runs(world: World, at: str, heard: int) -> None:
    """A quarter of an hour after opening, on working days, with three counts."""
    oda = await person(world, "Oda", Role.OWNER)
    await world.patient()
    moment = datetime.fromisoformat(at).replace(tzinfo=UTC)
    await world.goes_to(moment.replace(hour=0, minute=0, second=0))
    oda.hears()

    await world.goes_to(moment)
    await world.stage.app.tick()

    said = oda.hears()
    assert len(said) == heard
    assert all(one.startswith("nextmorning is running: 1 patients,") for one in said)


@pytest.mark.parametrize(
    ("role", "days"),
    [
        pytest.param(Role.OWNER, 5, id="the owner"),
        pytest.param(Role.LEAD_CLINICIAN, 5, id="a lead clinician"),
        pytest.param(Role.CLINICIAN, 0, id="no other clinician"),
    ],
)
async def test_once_each_working_day_of_a_week(world: World, role: Role, days: int) -> None:
    """Five messages in seven days, to whoever has the right by the table."""
    voice = await person(world, "Oda", role)
    world.stage.listeners.clear()
    rows = "SELECT count(*) AS n FROM outbox WHERE once_key LIKE 'running %'"

    for _ in range(7):
        await world.at("23:00")

    assert (await world.rows(rows))[0]["n"] == days
    assert voice.name == "Oda"


@pytest.mark.parametrize(
    ("later", "well"),
    [
        pytest.param(TICK_IS_RECENT - timedelta(seconds=1), True, id="just recent"),
        pytest.param(TICK_IS_RECENT, True, id="at the limit"),
        pytest.param(TICK_IS_RECENT + timedelta(seconds=1), False, id="too old"),
    ],
)
async def test_the_bot_is_well_only_while_it_ticks(
    world: World, later: timedelta, well: bool
) -> None:
    """A loop that stands still is not alive, however well the store answers."""
    await world.stage.app.tick()
    world.stage.clock.move_to(world.now + later)

    found = await is_well(world.stage.app)

    assert found == well


async def test_without_an_answer_of_the_store_the_bot_is_not_well(world: World) -> None:
    """The table is gone: the tick was a moment ago, and yet no ping is sent."""
    await world.stage.app.tick()
    await world.stage.run(lambda s: s.change("ALTER TABLE people RENAME TO gone", {}) and None)

    found = await is_well(world.stage.app)

    await world.stage.run(lambda s: s.change("ALTER TABLE gone RENAME TO people", {}) and None)
    assert not found


@pytest.fixture
def listener(tmp_path: Path) -> Iterator[socket.socket]:
    """What systemd listens on."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as made:
        made.bind(str(tmp_path / "notify"))
        made.settimeout(PATIENCE_SECONDS)
        yield made


def test_a_ping_reaches_systemd(listener: socket.socket, monkeypatch: pytest.MonkeyPatch) -> None:
    """One datagram with the state, at the address that systemd names."""
    monkeypatch.setenv("NOTIFY_SOCKET", listener.getsockname())

    sent = notify_systemd("WATCHDOG=1")

    assert sent
    assert listener.recv(100) == b"WATCHDOG=1"


@pytest.mark.parametrize(
    "address",
    [pytest.param("", id="no systemd"), pytest.param("/nowhere/notify", id="systemd is gone")],
)
def test_without_systemd_nothing_is_sent(monkeypatch: pytest.MonkeyPatch, address: str) -> None:
    """The bot runs all the same."""
    monkeypatch.setenv("NOTIFY_SOCKET", address)

    sent = notify_systemd("READY=1")

    assert not sent


@pytest.fixture(scope="module")
def units(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """The units of one clinic, with the program's path replaced by one that is here."""
    folder = tmp_path_factory.mktemp("units")
    for unit in UNITS.iterdir():
        text = re.sub(r"ExecStart=\S+", f"ExecStart={sys.executable}", unit.read_text())
        (folder / unit.name.replace("@", "@north")).write_text(text)
    return sorted(folder.iterdir())


def systemd(*arguments: object) -> subprocess.CompletedProcess[str]:
    """What systemd-analyze says of units that are not installed."""
    return subprocess.run(
        ["systemd-analyze", *map(str, arguments)], capture_output=True, text=True, check=False
    )


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd is not here")
def test_systemd_finds_nothing_wrong_with_the_units(units: list[Path]) -> None:
    """Of the bot, its nightly copy, and of what tells the owner of a failure."""
    checked = systemd("verify", "--recursive-errors=yes", "--man=no", *units)

    assert (checked.returncode, checked.stderr) == (0, "")
    assert len(units) == 4


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd is not here")
def test_the_units_may_do_little_else(units: list[Path]) -> None:
    """What systemd itself says of how exposed each is [0 best to 10]: the source is
    systemd-analyze(1), security, read from the file alone."""
    services = [unit for unit in units if unit.suffix == ".service"]
    said = [systemd("security", "--offline=yes", unit).stdout for unit in services]

    found = [re.findall(r"Overall exposure level for \S+: ([0-9.]+)", text) for text in said]

    assert [float(exposure) < 2.0 for (exposure,) in found] == [True, True, True], found


def test_the_owner_is_told_while_the_bot_is_down(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """As a unit calls it: the clinic's own program gets the sentence; without one it is said so."""
    config = tmp_path / "clinic.toml"
    words = ("tell-owner", "The bot has failed.", "--config", str(config))
    text = (ROOT / "deploy" / "clinic.example.toml").read_text()
    config.write_text(f'{text}\n[last_resort]\ncommand = ["tee", "{tmp_path / "heard"}"]\n')

    told = typed(monkeypatch, capsys, *words)
    config.write_text(text)
    mute = typed(monkeypatch, capsys, *words)

    assert told.status == 0, told.err
    assert (tmp_path / "heard").read_text() == "The bot has failed."
    assert (mute.status, "has no [last_resort]" in mute.err) == (2, True)


def test_a_line_of_the_log_is_an_object(capsys: pytest.CaptureFixture[str]) -> None:
    """With what a collector of logs needs; and what speaks on each tick is silent."""
    root = logging.getLogger()
    before = (root.level, list(root.handlers))
    levels = {name: logging.getLogger(name).level for name in TALKATIVE}
    try:
        write_log(LogFormat.JSON)
        logging.getLogger("apscheduler.executors.default").info("Running job")
        logging.getLogger("bot.test").warning("the owner hears")
    finally:
        root.setLevel(before[0])
        root.handlers[:] = before[1]
        for name, level in levels.items():
            logging.getLogger(name).setLevel(level)

    (line,) = capsys.readouterr().err.splitlines()
    found = json.loads(line)
    assert (found["levelname"], found["name"], found["message"]) == (
        "WARNING", "bot.test", "the owner hears",
    )  # fmt: skip
    assert "at" in found


async def test_it_stops_when_told_to_in_the_moment_that_work_comes(world: World) -> None:
    """Whoever waits for work is cancelled, though the work woke them at the same time."""
    serving = asyncio.create_task(world.stage.app.serve())
    for _ in range(10):  # by now all wait
        await world.stage.app.tick()

    serving.cancel()  # nothing of theirs has run since the tick woke them
    ended, _still = await asyncio.wait([serving], timeout=PATIENCE_SECONDS)

    assert ended == {serving}
