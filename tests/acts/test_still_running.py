"""That the bot runs is said every working day, to people; and to systemd while it is well."""

from __future__ import annotations

import asyncio
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
from stand_ins.patience import PATIENCE_SECONDS
from world import Voice, World

from bot.commands.watchdog import TICK_IS_RECENT, is_well, notify_systemd
from bot.rehearsal.clinic import ZONE
from bot.store import people
from bot.store.people import Role

UNIT = Path(__file__).parents[2] / "deploy" / "nextmorning.service"


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


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd is not here")
def test_systemd_finds_nothing_wrong_with_the_unit(tmp_path: Path) -> None:
    """With the program's path replaced by one that is on this machine."""
    text = re.sub(r"ExecStart=\S+", f"ExecStart={sys.executable}", UNIT.read_text())
    unit = tmp_path / UNIT.name
    unit.write_text(text)

    checked = subprocess.run(
        ["systemd-analyze", "verify", "--recursive-errors=yes", "--man=no", str(unit)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip

    assert (checked.returncode, checked.stderr) == (0, "")
    assert "Type=notify" in text


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd is not here")
def test_the_unit_may_do_little_else() -> None:
    """What systemd itself says of how exposed it is [0 best to 10]: the source is
    systemd-analyze(1), security, read from the file alone."""
    said = subprocess.run(
        ["systemd-analyze", "security", "--offline=yes", str(UNIT)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip

    (exposure,) = re.findall(r"Overall exposure level for \S+: ([0-9.]+)", said.stdout)

    assert float(exposure) < 2.0


async def test_it_stops_when_told_to_in_the_moment_that_work_comes(world: World) -> None:
    """Whoever waits for work is cancelled, though the work woke them at the same time."""
    serving = asyncio.create_task(world.stage.app.serve())
    for _ in range(10):  # by now all wait
        await world.stage.app.tick()

    serving.cancel()  # nothing of theirs has run since the tick woke them
    ended, _still = await asyncio.wait([serving], timeout=PATIENCE_SECONDS)

    assert ended == {serving}
