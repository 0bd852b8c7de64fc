"""Telegram by webhook: a Bot API on the loopback address hears where our door is, and updates are
brought to it."""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import re
import subprocess
import sys
from collections.abc import AsyncIterator, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
from acts.inboxes import Inbox, listening
from stand_ins.bot_api import BotApi
from starlette.applications import Starlette
from world import CLINIC_TABLE

from bot.channels.telegram.profile import bot_name, show_menus
from bot.channels.telegram.webhook import PATH, SECRET_HEADER, TelegramWebhookChannel
from bot.clock import SteppedClock
from bot.errors import SettingsError
from bot.ports import Accepted, Incoming, Outgoing
from dialogs.commands import MENU_LANGUAGES, menu_in
from dialogs.words import shipped_words

START = datetime(2026, 1, 5, 8, tzinfo=UTC)
PATIENT = 7
ROOT = Path(__file__).parents[2]
SHORT = timedelta(milliseconds=20)


def update(number: int = 1000, **kinds: Any) -> dict[str, Any]:
    """An update; without more, the patient writes 3 10."""
    chat = {"id": PATIENT, "type": "private"}
    message = {"message_id": 5, "date": 1767600000, "chat": chat, "text": "3 10"}
    return {"update_id": number, **(kinds or {"message": message})}


class Hook:
    """Our door, and the Bot API that knows of it."""

    def __init__(self, api: BotApi) -> None:
        self.api, self.inbox = api, Inbox()
        self.channel = TelegramWebhookChannel(
            BotApi.token,
            public_url="https://bot.example.org/",
            clock=SteppedClock(START),
            base_url=api.base_url,
            first_pause=SHORT,
            longest_pause=SHORT,
        )

    @property
    def secret(self) -> str:
        """The secret that the Bot API was told last."""
        calls = [call for call in self.api.calls if call.method == "setWebhook"]
        return calls[-1].params["secret_token"]

    async def bring(self, body: Any, secret: str | None = None) -> int:
        """Bring an update; the status of the answer."""
        headers = {SECRET_HEADER: self.secret if secret is None else secret}
        transport = httpx.ASGITransport(Starlette(routes=self.channel.routes))
        content = body if isinstance(body, bytes) else json.dumps(body).encode()
        async with httpx.AsyncClient(transport=transport, base_url="http://us") as client:
            return (await client.post(PATH, content=content, headers=headers)).status_code


@pytest.fixture
def api() -> Iterator[BotApi]:
    """The server."""
    with BotApi() as running:
        yield running


@contextlib.asynccontextmanager
async def opened(api: BotApi) -> AsyncIterator[Hook]:
    """A door that is open, once the Bot API knows of it."""
    hook, before = Hook(api), api.methods().count("setWebhook")
    async with listening(hook.channel, hook.inbox):
        await api.until(lambda: api.webhook and api.methods().count("setWebhook") > before)
        yield hook
    await hook.channel.close()


async def test_the_bot_api_hears_where_the_door_is(api: BotApi) -> None:
    """The public address, the kinds of update wanted, and a secret of its own for each run."""
    async with opened(api) as first, opened(api) as second:
        told = [call.params for call in api.calls if call.method == "setWebhook"]

    assert told[0]["url"] == f"https://bot.example.org{PATH}"
    assert json.loads(told[0]["allowed_updates"]) == [
        "message", "edited_message", "callback_query",
    ]  # fmt: skip
    assert all(re.fullmatch(r"[A-Za-z0-9_-]{43}", params["secret_token"]) for params in told)
    assert told[0]["secret_token"] != told[1]["secret_token"]
    assert first.secret == second.secret  # the later one stands


async def test_the_bot_api_is_told_until_it_has_heard(api: BotApi) -> None:
    """It fails twice, and then knows."""
    api.fail_next("setWebhook", 500, times=2)

    async with opened(api):
        assert api.methods().count("setWebhook") == 3


async def test_an_update_is_committed_before_it_is_acknowledged(api: BotApi) -> None:
    """The store fails once: 503, and the update is brought again; nothing is polled."""
    async with opened(api) as hook:
        hook.inbox.failures_left = 1
        statuses = [await hook.bring(update()) for _ in range(2)]

    assert statuses == [503, 200]
    assert hook.inbox.messages == [Incoming("telegram", "7:5", "7", "3 10", sent_at=START)]
    assert "getUpdates" not in api.methods()


@pytest.mark.parametrize("secret", ["", "wrong", "a" * 43])
async def test_a_wrong_secret_is_refused(api: BotApi, secret: str) -> None:
    """Whoever finds the address cannot speak for a patient."""
    async with opened(api) as hook:
        assert await hook.bring(update(), secret) == 403

    assert hook.inbox.arrivals == []


@pytest.mark.parametrize(
    ("body", "status"),
    [
        pytest.param(b"", 200, id="nothing"),
        pytest.param(b"not json", 400, id="no JSON"),
        pytest.param(b"7", 200, id="what is no table is nothing"),
        pytest.param({}, 200, id="an update without a number is nothing"),
        pytest.param(update(message={"odd": True}), 200, id="one that cannot be read, not again"),
        pytest.param(update(poll={"id": "1"}), 200, id="one that is not for us"),
    ],
)
async def test_what_is_no_message_is_not_brought_for_ever(
    api: BotApi, body: Any, status: int
) -> None:
    """Nothing is kept, and nothing breaks."""
    async with opened(api) as hook:
        assert await hook.bring(body) == status

    assert hook.inbox.messages == []


async def test_a_pressed_button_is_kept_and_its_row_goes(api: BotApi) -> None:
    """As with polling: the answer first, the buttons afterwards."""
    async with opened(api) as hook:
        sent = await hook.channel.send(Outgoing(1, "telegram", "7", "How is it?"))
        press = {
            "id": "q1",
            "from": {"id": 7, "is_bot": False, "first_name": "Somebody"},
            "chat_instance": "1",
            "message": {"message_id": 1, "date": 1, "chat": {"id": 7, "type": "private"}},
            "data": "pain:3",
        }
        assert await hook.bring(update(callback_query=press)) == 200
        await api.until(lambda: "editMessageReplyMarkup" in api.methods())

    assert sent == Accepted("7:1")
    assert [message.pressed for message in hook.inbox.messages] == ["pain:3"]
    assert api.answered_presses == ["q1"]


async def test_before_the_store_is_ready_nothing_is_taken(api: BotApi) -> None:
    """An update that comes too early is brought again."""
    hook = Hook(api)
    task = asyncio.create_task(hook.channel.listen(hook.inbox.commit, None))
    await api.until(lambda: api.webhook)
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)

    assert await hook.bring(update()) == 503

    await hook.channel.close()


def test_a_door_without_https_is_refused() -> None:
    """The Bot API brings nothing to an address without it."""
    with pytest.raises(SettingsError, match=r"web\.public_url"):
        TelegramWebhookChannel(
            BotApi.token, public_url="http://bot.example.org", clock=SteppedClock(START)
        )


# What the bot shows of itself


async def test_the_menu_is_set_in_each_language(api: BotApi) -> None:
    """The first one for everybody, then one for each language."""
    assert await show_menus(BotApi.token, api.base_url, {n: menu_in(n) for n in MENU_LANGUAGES})

    told = [call.params for call in api.calls if call.method == "setMyCommands"]
    assert [params.get("language_code", "") for params in told] == ["", "en", "es"]
    assert json.loads(told[0]["commands"])[0] == {
        "command": "done", "description": "I have done my session",
    }  # fmt: skip


async def test_a_menu_that_cannot_be_set_stops_nothing(api: BotApi) -> None:
    """A line in the log, and the bot goes on."""
    api.fail_next("setMyCommands", 500)

    assert not await show_menus(BotApi.token, api.base_url, {"en": menu_in("en")})


@pytest.mark.parametrize("language", MENU_LANGUAGES)
def test_every_command_of_the_menu_is_understood(language: str) -> None:
    """A menu that offers what the bot does not know would be worse than none."""
    words = shipped_words(language)

    menu = menu_in(language)

    assert [word for word, _ in menu if word not in words.commands] == []
    assert all(re.fullmatch(r"[a-z0-9_]{1,32}", word) for word, _ in menu)
    assert all(1 <= len(meaning) <= 256 for _, meaning in menu)


async def test_a_command_of_the_menu_arrives_as_its_word(api: BotApi) -> None:
    """A chat writes a slash before it; an invitation keeps its own."""
    async with opened(api) as hook:
        for number, text in enumerate(("/plan", "/help@stand_bot", "/start K7Q4", "3/10")):
            chat = {"id": PATIENT, "type": "private"}
            written = {"message_id": number, "date": 1, "chat": chat, "text": text}
            await hook.bring(update(number, message=written))

    assert [m.text for m in hook.inbox.messages] == ["plan", "help", "/start K7Q4", "3/10"]


async def test_the_bots_name_is_asked_for_an_invitation(api: BotApi) -> None:
    """The name; None where the token is wrong or nobody answers."""
    assert await bot_name(BotApi.token, api.base_url) == "stand_bot"
    assert await bot_name("42:wrong", api.base_url) is None
    assert await bot_name(BotApi.token, "http://127.0.0.1:1/bot") is None


async def test_enrolling_prints_a_link_that_opens_the_chat(api: BotApi, tmp_path: Path) -> None:
    """The bot's name and the code stand in it; without an answer there is no link, and no harm."""
    config = tmp_path / "clinic.toml"
    config.write_text(CONFIG.format(folder=tmp_path, base_url=api.base_url, token=BotApi.token))

    printed = await asyncio.to_thread(enrol, config, "Ana")
    api.fail_next("getMe", 500)
    without = await asyncio.to_thread(enrol, config, "Bea")

    code = re.findall(r"^Code for Ana: (\S+)$", printed, re.M)[0]
    assert f"https://t.me/stand_bot?start={code}\n" in printed
    assert "Code for Bea" in without
    assert "https://" not in without


CONFIG = (
    CLINIC_TABLE
    + """\
[telegram]
token = "{token}"
base_url = "{base_url}"

[store]
path = "{folder}/clinic.sqlite"
"""
)


def enrol(config: Path, name: str) -> str:
    """Run the command; what it printed."""
    command = [sys.executable, "-m", "bot", "enrol", name, "--tendon", "mid-portion"]
    environment = {k: v for k, v in os.environ.items() if not k.startswith("NEXTMORNING_")}
    done = subprocess.run(
        [*command, "--config", str(config)],
        capture_output=True, text=True, cwd=ROOT, env=environment, check=True,
    )  # fmt: skip
    return done.stdout
