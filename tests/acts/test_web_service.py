"""The one web application: limits before any work, health, numbers, and the whole way of a text
message through a served bot."""

from __future__ import annotations

import asyncio
import os
import re
import signal
import socket
import sqlite3
import subprocess
import sys
from collections.abc import AsyncIterator, Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
from prometheus_client.parser import text_string_to_metric_families
from stand_ins.http_server import Answers, serving
from stand_ins.kannel import free_ports
from stand_ins.patience import PATIENCE_SECONDS
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from world import CLINIC_TABLE, MONDAY, World, world_at

from bot.channels.hosted_sms.channel import HostedSmsChannel
from bot.channels.intake import Rate
from bot.channels.registry import build_channels, channel_problems
from bot.channels.telegram.channel import TelegramChannel
from bot.channels.telegram.webhook import TelegramWebhookChannel
from bot.clock import SteppedClock
from bot.errors import PortTakenError
from bot.settings import read_settings
from bot.web.limits import Limits
from bot.web.service import TICK_AGE_SECONDS, HasDoors, WebServer, service

ROOT = Path(__file__).parents[2]


# Limits


async def echo(scope: Any, receive: Any, send: Any) -> None:
    """An application that gives back what it is given."""
    body = await Request(scope, receive).body()
    await PlainTextResponse(f"{len(body)}")(scope, receive, send)


def asking(application: Any, client: str = "203.0.113.5") -> httpx.AsyncClient:
    """Somebody at an address who asks the application."""
    transport = httpx.ASGITransport(application, client=(client, 50000))
    return httpx.AsyncClient(transport=transport, base_url="http://us")


async def in_pieces(*pieces: bytes) -> AsyncIterator[bytes]:
    """A body whose length is not announced."""
    for piece in pieces:
        yield piece


@pytest.mark.parametrize("announced", [True, False])
@pytest.mark.parametrize(
    ("size", "status"),
    [
        pytest.param(100, 200, id="at the limit"),
        pytest.param(101, 413, id="over the limit"),
    ],
)
async def test_a_large_body_is_refused(size: int, status: int, announced: bool) -> None:
    """Whether its length was announced or not; a smaller one arrives whole."""
    half = size // 2
    content: Any = b"x" * size if announced else in_pieces(b"x" * half, b"x" * (size - half))

    async with asking(Limits(echo, body_max=100)) as client:
        answer = await client.post("/", content=content)

    assert answer.status_code == status
    assert answer.text == (str(size) if status == 200 else "")


async def test_a_body_that_comes_too_slowly_is_given_up() -> None:
    """Over a real socket: the headers come, the body never does."""
    async with serving(Limits(echo, body_seconds=0.05)) as url:
        port = int(url.rpartition(":")[2])
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        writer.write(b"POST / HTTP/1.1\r\nHost: us\r\nContent-Length: 5\r\n\r\nab")
        async with asyncio.timeout(PATIENCE_SECONDS):
            answer = await reader.readline()
        writer.close()

    assert answer.startswith(b"HTTP/1.1 408")


@pytest.mark.parametrize(
    ("count", "status"),
    [
        pytest.param(3, 200, id="at the limit"),
        pytest.param(4, 429, id="over the limit"),
    ],
)
async def test_an_address_that_asks_too_often_is_turned_away(count: int, status: int) -> None:
    """The last of so many requests; another address is not held up."""
    application = Limits(echo, requests=Rate(3, 3600))
    async with asking(application) as client, asking(application, "203.0.113.6") as other:
        answers = [await client.get("/") for _ in range(count)]
        aside = await other.get("/")

    assert answers[-1].status_code == status
    assert ("Retry-After" in answers[-1].headers) is (status == 429)
    assert aside.status_code == 200


async def test_forgotten_addresses_take_no_room() -> None:
    """The one silent for longest is forgotten first."""
    rate = Rate(1, 3600, remembered=2)

    allowed = [await rate.allows(key) for key in ("a", "b", "a", "c", "a", "b")]

    # "c" pushes out "b", which was silent longer than "a", and so may speak again.
    assert allowed == [True, True, False, True, False, True]


# Health


@pytest.fixture
async def world(tmp_path: Path) -> AsyncIterator[World]:
    """A clinic that has ticked."""
    made = world_at(tmp_path / "world.sqlite")
    async with made.stage:
        await made.stage.settle()
        yield made


def service_of(world: World, tmp_path: Path, *watchers: str) -> Any:
    """The world's web service."""
    return service(world.stage.app, tmp_path / "world.sqlite", watchers or ("127.0.0.1",))


async def asked(application: Any, path: str, client: str = "127.0.0.1") -> httpx.Response:
    """What a client is answered."""
    async with asking(application, client) as http:
        return await http.get(path)


async def test_alive_and_ready(world: World, tmp_path: Path) -> None:
    """The process answers, the store takes a write, the last tick is recent."""
    application = service_of(world, tmp_path)

    assert (await asked(application, "/healthz", "203.0.113.5")).status_code == 200
    assert (await asked(application, "/readyz")).json() == {"ready": True, "wrong": []}


@pytest.mark.parametrize(
    ("late", "status"),
    [
        pytest.param(0, 200, id="at the time"),
        pytest.param(1, 503, id="over the time"),
    ],
)
async def test_a_scheduler_that_stands_still_is_not_ready(
    world: World, tmp_path: Path, late: int, status: int
) -> None:
    """The last tick was so many seconds over the time ago."""
    world.stage.clock.move_by(timedelta(seconds=TICK_AGE_SECONDS + late))

    answer = await asked(service_of(world, tmp_path), "/readyz")

    assert answer.status_code == status
    assert answer.json()["wrong"] == (
        [] if status == 200 else ["the scheduler has not ticked lately"]
    )


async def test_a_store_that_takes_no_write_is_not_ready(world: World, tmp_path: Path) -> None:
    """Another program holds the write lock longer than a second."""
    application = service_of(world, tmp_path)
    holder = sqlite3.connect(tmp_path / "world.sqlite", isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    try:
        answer = await asked(application, "/readyz")
    finally:
        holder.execute("ROLLBACK")
        holder.close()
    after = await asked(application, "/readyz")

    assert answer.status_code == 503
    assert answer.json()["wrong"] == ["the store does not take a write within a second"]
    assert after.status_code == 200


@pytest.mark.parametrize("path", ["/readyz", "/metrics"])
@pytest.mark.parametrize(
    ("client", "status"),
    [
        pytest.param("127.0.0.1", 200, id="a watcher"),
        pytest.param("203.0.113.5", 404, id="anybody else"),
        pytest.param("testclient", 404, id="nobody who can be told"),
    ],
)
async def test_only_watchers_may_look(
    world: World, tmp_path: Path, path: str, client: str, status: int
) -> None:
    """To all others there is nothing there."""
    application = service_of(world, tmp_path, "127.0.0.1", "10.1.0.0/16")

    assert (await asked(application, path, client)).status_code == status


# Numbers


async def numbers(world: World, tmp_path: Path) -> dict[str, float]:
    """What /metrics says: by name, and by name and label."""
    text = (await asked(service_of(world, tmp_path), "/metrics")).text
    return {
        " ".join([sample.name.removeprefix("nextmorning_"), *sample.labels.values()]): sample.value
        for family in text_string_to_metric_families(text)
        for sample in family.samples
    }


async def test_the_numbers_follow_a_patients_day(world: World, tmp_path: Path) -> None:
    """A prompt that goes out, answers that come in, a warning sign that nobody takes."""
    await world.clinician("Ilse")
    ana = await world.patient("Ana")
    before = await numbers(world, tmp_path)
    await world.at("07:30")
    await ana.says("3 10")
    await ana.says("heard a snap and now i cant push off that foot")

    after = await numbers(world, tmp_path)

    rows = await world.rows("SELECT id FROM prompts WHERE written_at IS NOT NULL")
    assert after["prompts_sent_day"] == len(rows) > before["prompts_sent_day"]
    assert after["answers"] == before["answers"] + 2
    assert after["escalations_open emergency"] == 1
    assert after["escalation_oldest_seconds"] == 0
    assert (after["prompts_due"], after["prompts_late"], after["inbox_waiting"]) == (0, 0, 0)


async def test_what_waits_is_seen_and_grows_old(world: World, tmp_path: Path) -> None:
    """A chat that does not work: the message waits, its prompt is late after five minutes."""
    ana = await world.patient("Ana")
    assert ana

    def wait(store: Any) -> None:
        store.change("UPDATE outbox SET accepted_at = NULL, prompt = 1 WHERE id = 1")

    await world.stage.run(wait)
    written = await world.rows("SELECT written_at FROM outbox WHERE id = 1")
    assert written
    at_limit = await numbers(world, tmp_path)
    world.stage.clock.move_by(timedelta(minutes=5))
    late = await numbers(world, tmp_path)

    assert at_limit["outbox_waiting chat"] == 1
    assert at_limit["prompts_late"] == 0
    assert late["prompts_late"] == 1
    assert late["outbox_oldest_seconds chat"] == 300


async def test_the_numbers_name_nobody(world: World, tmp_path: Path) -> None:
    """No name, no address, no word of anyone, no clinic."""
    await world.clinician("Ilse")
    ana = await world.patient("Ana")
    await ana.says("my calf is hot and swollen")

    text = (await asked(service_of(world, tmp_path), "/metrics")).text

    for private in ("Ana", "ana ", "Ilse", "calf", world.clinic.name):
        assert private not in text


# The server


async def test_a_taken_port_is_a_sentence(world: World, tmp_path: Path) -> None:
    """Another program listens there."""
    application = service_of(world, tmp_path)
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()

        with pytest.raises(PortTakenError, match=r"web\.port"):
            WebServer(application, "127.0.0.1", other.getsockname()[1])


async def test_a_proxy_says_for_whom_it_asks(world: World, tmp_path: Path) -> None:
    """Behind a proxy on this machine everybody would be a watcher: it names the asker."""
    server = WebServer(service_of(world, tmp_path), "127.0.0.1", 0)
    serving_ = asyncio.create_task(server.run_until_cancelled())
    url = f"http://127.0.0.1:{server.port}/metrics"
    async with httpx.AsyncClient() as client:
        own = await client.get(url)
        passed_on = await client.get(url, headers={"X-Forwarded-For": "203.0.113.5"})
    serving_.cancel()
    await asyncio.gather(serving_, return_exceptions=True)

    assert (own.status_code, passed_on.status_code) == (200, 404)
    assert "server" not in own.headers


# The configuration

CONFIG = (
    CLINIC_TABLE
    + """\
[store]
path = "{folder}/clinic.sqlite"
"""
)

GATEWAY = """
[web]
port = {port}

[sms]
region = "US"
monthly_segments = 1000

[sms_gateway]
url = "{gateway}/cgi-bin/sendsms"
password = "a-password-of-nobody"
secret = "a-secret-of-twenty-letters"
number = "12345"
"""


@pytest.mark.parametrize(
    ("tables", "problems"),
    [
        pytest.param('[telegram]\ntoken = "1:a"', [], id="polling needs no web"),
        pytest.param(
            '[telegram]\ntoken = "1:a"\nwebhook = true',
            ["web: is missing, and telegram.webhook needs it"],
            id="a webhook needs it",
        ),
        pytest.param(
            '[telegram]\ntoken = "1:a"\nwebhook = true\n[web]\npublic_url = "http://a.example"',
            ["web.public_url: telegram.webhook needs an address with https://"],
            id="and https",
        ),
        pytest.param(
            '[sms_gateway]\nnumber = "1"\nsecret = "short"',
            [
                "web: is missing, and sms_gateway needs it",
                "sms.region: is missing, and sms_gateway needs it",
                "sms_gateway.password: is missing; put it there or in NEXTMORNING_SMS_PASSWORD",
                "sms_gateway.secret: expected 20 to 200 letters",
            ],
            id="a gateway needs much",
        ),
        pytest.param(
            '[hosted_sms]\naccount = "AC1"\nnumber = "+12025550100"\n'
            '[web]\npublic_url = "https://a.example"',
            ["hosted_sms.token: is missing; put it there or in NEXTMORNING_HOSTED_SMS_TOKEN"],
            id="a hosted gateway needs its token",
        ),
        pytest.param(
            GATEWAY.format(port=8421, gateway="http://127.0.0.1:13013")
            + '[hosted_sms]\naccount = "AC1"\nnumber = "+12025550100"\ntoken = "t"\n',
            [
                "web.public_url: hosted_sms needs an address with https://",
                "hosted_sms: expected either sms_gateway or hosted_sms",
            ],
            id="two ways to send text messages",
        ),
    ],
)
def test_what_is_missing_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, tables: str, problems: list[str]
) -> None:
    """One sentence each, that begins with the key."""
    for name in [name for name in os.environ if name.startswith("NEXTMORNING_")]:
        monkeypatch.delenv(name)
    config = tmp_path / "clinic.toml"
    config.write_text(CONFIG.format(folder=tmp_path) + tables)

    settings = read_settings(config)
    found = channel_problems(settings.channels, settings.shared)

    assert len(found) == len(problems)
    assert all(one.startswith(start) for one, start in zip(found, problems, strict=True))


def test_secrets_come_from_the_environment(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """So that they need not stand in the file; nothing is missing then."""
    config = tmp_path / "clinic.toml"
    tables = '[web]\n[sms]\nregion = "US"\n[sms_gateway]\nnumber = "12345"\n'
    config.write_text(CONFIG.format(folder=tmp_path) + tables)
    monkeypatch.setenv("NEXTMORNING_SMS_PASSWORD", "a-password")
    monkeypatch.setenv("NEXTMORNING_SMS_SECRET", "a-secret-of-twenty-letters")

    settings = read_settings(config)

    assert channel_problems(settings.channels, settings.shared) == []
    assert settings.channels["sms_gateway"].in_clear("password") == "a-password"
    assert "a-password" not in repr(settings)


@pytest.mark.parametrize(
    ("tables", "kinds"),
    [
        pytest.param('[telegram]\ntoken = "1:a"', [TelegramChannel], id="asking for updates"),
        pytest.param(
            '[telegram]\ntoken = "1:a"\nwebhook = true\n[web]\npublic_url = "https://a.example"',
            [TelegramWebhookChannel],
            id="brought them",
        ),
        pytest.param(
            '[hosted_sms]\naccount = "AC1"\nnumber = "+12025550100"\ntoken = "t"\n'
            '[web]\npublic_url = "https://a.example"',
            [HostedSmsChannel],
            id="a hosted gateway",
        ),
    ],
)
async def test_the_configuration_makes_the_channels(
    tmp_path: Path, tables: str, kinds: list[type]
) -> None:
    """Each table its channel; one with doors is on the web."""
    config = tmp_path / "clinic.toml"
    config.write_text(CONFIG.format(folder=tmp_path) + tables)
    settings, clock = read_settings(config), SteppedClock(MONDAY)

    channels = build_channels(settings.channels, settings.shared, clock)

    assert [type(channel) for channel in channels] == kinds
    for channel in channels:
        assert isinstance(channel, HasDoors) is (kinds != [TelegramChannel])
        await channel.close()


# A served bot


class Served:
    """`nextmorning serve` as a process of its own, with a gateway that takes everything."""

    def __init__(self, folder: Path, gateway: str) -> None:
        self.port = free_ports(1)[0]
        self.config, self.log = folder / "clinic.toml", folder / "log"
        tables = CONFIG.format(folder=folder) + GATEWAY.format(port=self.port, gateway=gateway)
        self.config.write_text(tables)

    def run(self, *arguments: str) -> str:
        """Run one command to its end; what it printed."""
        command = [sys.executable, "-m", "bot", *arguments, "--config", str(self.config)]
        return subprocess.run(command, capture_output=True, text=True, cwd=ROOT, check=True).stdout

    def start(self) -> subprocess.Popen[bytes]:
        """Serve."""
        command = [sys.executable, "-m", "bot", "serve", "--config", str(self.config)]
        with self.log.open("ab") as log:
            return subprocess.Popen(command, stdout=log, stderr=log, cwd=ROOT)


async def eventually(condition: Callable[[], Any], seconds: float = PATIENCE_SECONDS) -> None:
    """Return once the condition holds."""
    async with asyncio.timeout(seconds):
        while not condition():
            await asyncio.sleep(0.05)


async def test_a_text_message_goes_all_the_way(tmp_path: Path) -> None:
    """A patient texts their code to the gateway, and is answered by it; a signal ends it all."""
    gateway = Answers(Response("0: Accepted for delivery", 202))
    async with serving(gateway) as url:
        served = Served(tmp_path, url)
        await asyncio.to_thread(served.run, "invite-clinician", "Ilse")
        printed = await asyncio.to_thread(served.run, "enrol", "Ana", "--tendon", "mid-portion")
        code = re.findall(r"^Code for Ana: (\S+)$", printed, re.M)[0]
        process = served.start()
        try:
            await eventually(lambda: _listens(served.port))
            fields = {"id": "1", "from": "12025550143", "to": "12345", "text": code}
            door = f"http://127.0.0.1:{served.port}/sms/gateway/a-secret-of-twenty-letters/message"
            async with httpx.AsyncClient() as client:
                brought = [(await client.get(door, params=fields)).status_code for _ in range(2)]
                await eventually(lambda: gateway.asked)
                health = f"http://127.0.0.1:{served.port}/readyz"
                while (ready := await client.get(health)).status_code != 200:
                    await asyncio.sleep(0.1)  # it ticks for the first time after two seconds
        finally:
            process.send_signal(signal.SIGTERM)
            status = await asyncio.to_thread(process.wait, PATIENCE_SECONDS)

    assert brought == [200, 200]
    assert "Do you agree" in gateway.asked[-1].fields["text"]
    assert gateway.asked[-1].fields["to"] == "+12025550143"
    assert ready.json() == {"ready": True, "wrong": []}
    assert status == 0
    log = served.log.read_text()
    assert re.search(r"message \d+: accepted on sms, attempt 1, \d segments", log)
    for private in ("a-password-of-nobody", "a-secret-of-twenty", code, "2025550143", "Traceback"):
        assert private not in log


def _listens(port: int) -> bool:
    with socket.socket() as one:
        return one.connect_ex(("127.0.0.1", port)) == 0
