"""The Telegram channel against a Bot API server on the loopback address: real client, real sockets.

Each test says what a patient, the Bot API or the network does, and what must come of it.
"""

from __future__ import annotations

import asyncio
import logging
import socket
from collections.abc import AsyncIterator, Callable, Iterator
from datetime import UTC, datetime, timedelta
from time import monotonic
from typing import Any

import pytest
from acts.inboxes import Inbox, listening
from stand_ins.bot_api import DATE, BotApi
from stand_ins.patience import PATIENCE_SECONDS
from telegram import Update

from bot.channels.telegram.channel import TEXT_MAX, TIDIERS, TelegramChannel
from bot.channels.telegram.updates import UpdatesRequest, incoming
from bot.clock import SteppedClock
from bot.errors import SettingsError
from bot.ports import Accepted, Button, Delivery, Incoming, Later, Never, Outgoing, Unknown

PATIENT = 7
START = datetime(2026, 1, 5, 8, tzinfo=UTC)
SHORT = timedelta(milliseconds=20)


@pytest.fixture
def api() -> Iterator[BotApi]:
    """The server."""
    with BotApi() as running:
        yield running


@pytest.fixture
def clock() -> SteppedClock:
    """A clock that stands still."""
    return SteppedClock(START)


@pytest.fixture
async def channel(api: BotApi, clock: SteppedClock) -> AsyncIterator[TelegramChannel]:
    """The channel, with short pauses."""
    made = channel_to(api.base_url, clock)
    yield made
    await made.close()


@pytest.fixture
async def inbox(channel: TelegramChannel) -> AsyncIterator[Inbox]:
    """An inbox that the channel listens for."""
    kept = Inbox()
    async with listening(channel, kept):
        yield kept


def channel_to(base_url: str, clock: SteppedClock, **options: Any) -> TelegramChannel:
    """A channel to a Bot API at an address, with short pauses."""
    quick = {"patience": timedelta(seconds=2), "first_pause": SHORT, "longest_pause": 2 * SHORT}
    return TelegramChannel(BotApi.token, base_url=base_url, clock=clock, **(quick | options))


def outgoing(text: str = "How is it?", chat: int | str = PATIENT, **fields: Any) -> Outgoing:
    """A message to a chat."""
    return Outgoing(id=1, channel="telegram", address=str(chat), text=text, **fields)


PAIN = ((Button("2", "pain:2"), Button("3", "pain:3")), (Button("Not now", "later"),))


# Receiving


async def test_a_text_arrives_as_it_was_written(api: BotApi, inbox: Inbox) -> None:
    """Text, sender and time come through, and the id is the chat's and the message's."""
    number = api.inject_text(PATIENT, "3 10")

    await inbox.texts(1)

    assert inbox.messages == [
        Incoming(
            channel="telegram",
            message_id=f"7:{number}",
            address="7",
            text="3 10",
            sent_at=datetime.fromtimestamp(DATE, UTC),
        )
    ]
    assert inbox.cursor == "1000"


PHOTO = [{"file_id": "a", "file_unique_id": "b", "width": 1, "height": 1}]
FILE = {"file_id": "a", "file_unique_id": "b"}


@pytest.mark.parametrize(
    ("content", "text"),
    [
        pytest.param({"text": "/start K7Q4"}, "/start K7Q4", id="an invitation"),
        pytest.param({"photo": PHOTO}, "[photo]", id="a photo"),
        pytest.param({"photo": PHOTO, "caption": "red here"}, "red here", id="a photo with words"),
        pytest.param(
            {"animation": FILE | {"duration": 3, "width": 1, "height": 1}, "document": FILE},
            "[animation]",
            id="an animation, which is a document too",
        ),
        pytest.param({}, "[no text]", id="something else"),
    ],
)
async def test_a_message_without_words_is_described(
    api: BotApi, inbox: Inbox, content: dict[str, Any], text: str
) -> None:
    """Whatever a patient sends leaves a trace that a person can read."""
    api.inject_message(PATIENT, **content)

    assert await inbox.texts(1) == [text]


async def test_groups_are_ignored_and_acknowledged(api: BotApi, inbox: Inbox) -> None:
    """What is not from a private chat is nobody's answer, and does not hold up the line."""
    api.inject_message(-100, kind="group", text="3")
    api.inject_press(-100, 5, "pain:3", kind="supergroup")
    api.inject_text(PATIENT, "4")

    assert await inbox.texts(1) == ["4"]
    await api.until(lambda: api.acknowledged == 1002)
    assert api.answered_presses == [], "a press in a group is not ours to answer"


async def test_an_edit_is_a_new_message_that_corrects(api: BotApi, inbox: Inbox) -> None:
    """Two edits in the same second are two messages, both pointing at the first."""
    number = api.inject_text(PATIENT, "3")
    api.inject_edit(PATIENT, number, "5")
    api.inject_edit(PATIENT, number, "6")

    assert await inbox.texts(3) == ["3", "5", "6"]
    first, *edits = inbox.messages
    assert [edit.corrects for edit in edits] == [first.message_id] * 2
    assert len({message.message_id for message in inbox.messages}) == 3
    assert edits[0].sent_at == datetime.fromtimestamp(DATE + 60, UTC)


async def test_a_moving_location_is_not_an_edit(api: BotApi, inbox: Inbox) -> None:
    """A shared live location changes every few seconds and says nothing new."""
    api.inject_edit(PATIENT, 1, "", location={"latitude": 1, "longitude": 2})
    api.inject_text(PATIENT, "4")

    assert await inbox.texts(1) == ["4"]


async def test_a_button_goes_out_and_its_payload_comes_back(
    api: BotApi, channel: TelegramChannel, inbox: Inbox
) -> None:
    """The row goes out as given; a press brings payload and label; then the row is removed."""
    await channel.send(outgoing(choices=PAIN))
    (sent,) = api.sent
    shown = sent.choices

    query = api.inject_press(PATIENT, sent.message_id, "pain:3")

    assert shown == [[("2", "pain:2"), ("3", "pain:3")], [("Not now", "later")]]
    await inbox.texts(1)
    assert inbox.messages == [
        Incoming("telegram", f"7:press:{query}", "7", "3", sent_at=None, pressed="pain:3")
    ]
    await api.until(lambda: api.answered_presses == [query] and sent.choices == [])


async def test_the_row_stays_until_the_answer_is_kept(
    api: BotApi, channel: TelegramChannel, inbox: Inbox
) -> None:
    """A patient whose press was not kept can press again."""
    await channel.send(outgoing(choices=PAIN))
    inbox.open.clear()

    api.inject_press(PATIENT, api.sent[0].message_id, "pain:3")
    await inbox.until(lambda: inbox.tries == 1)
    before = (list(api.answered_presses), api.sent[0].choices)
    inbox.open.set()

    assert before[0] == []
    assert before[1] != []
    await api.until(lambda: api.sent[0].choices == [])


@pytest.mark.parametrize("method", ["answerCallbackQuery", "editMessageReplyMarkup"])
@pytest.mark.parametrize("trouble", ["refused", "dropped", "flood"])
async def test_a_row_that_cannot_be_removed_loses_no_answer(
    api: BotApi, channel: TelegramChannel, inbox: Inbox, method: str, trouble: str
) -> None:
    """Each answer is kept once, and a later press is tidied as usual: as many fail here as are
    tidied at a time."""
    await channel.send(outgoing(choices=PAIN))
    number = api.sent[0].message_id
    for _ in range(TIDIERS):
        {
            "refused": lambda: api.fail_next(method, 400),
            "dropped": lambda: api.drop_next(method, recorded=False),
            "flood": lambda: api.flood_next(method, 30),
        }[trouble]()
        api.inject_press(PATIENT, number, "pain:2")

    await api.until(lambda: api.methods().count(method) >= TIDIERS)
    last = api.inject_press(PATIENT, number, "pain:3")

    await inbox.texts(TIDIERS + 1)
    assert [message.pressed for message in inbox.messages] == ["pain:2"] * TIDIERS + ["pain:3"]
    await api.until(lambda: last in api.answered_presses and api.sent[0].choices == [])


async def test_a_press_under_a_forgotten_message_still_counts(api: BotApi, inbox: Inbox) -> None:
    """The Bot API no longer shows what stood on the button; the payload is enough."""
    old = {"chat": {"id": PATIENT, "type": "private"}, "message_id": 3, "date": 0}
    user = {"id": PATIENT, "is_bot": False, "first_name": "Somebody"}
    query = {"id": "q", "from": user, "chat_instance": "1", "message": old, "data": "pain:3"}
    api.inject("callback_query", query)

    await inbox.texts(1)

    assert inbox.messages == [Incoming("telegram", "7:press:q", "7", "", pressed="pain:3")]


# Acknowledging


async def test_nothing_is_acknowledged_before_it_is_kept(api: BotApi, inbox: Inbox) -> None:
    """While the commit is under way the server still has the update."""
    inbox.open.clear()
    api.inject_text(PATIENT, "3")

    await inbox.until(lambda: inbox.tries == 1)
    before = (api.acknowledged, api.methods().count("getUpdates"))
    inbox.open.set()

    assert before == (None, 1)
    await api.until(lambda: api.acknowledged == 1000)


async def test_a_commit_that_fails_gets_the_same_messages_again(
    api: BotApi, inbox: Inbox, caplog: pytest.LogCaptureFixture
) -> None:
    """Nothing is lost, nothing comes twice, and the log does not quote the patient."""
    inbox.failures_left = 2
    api.inject_text(PATIENT, "3 10")

    assert await inbox.texts(1) == ["3 10"]
    assert inbox.tries == 3
    await api.until(lambda: api.acknowledged == 1000)
    assert "not committed (OSError)" in caplog.text
    assert "3 10" not in caplog.text


async def test_a_kill_before_the_commit_brings_the_message_again(
    api: BotApi, clock: SteppedClock
) -> None:
    """A new process with the old cursor gets it; one with the new cursor does not."""
    killed, kept, later = Inbox(), Inbox(), Inbox()
    killed.open.clear()
    first, second, third = (channel_to(api.base_url, clock) for _ in range(3))
    api.inject_text(PATIENT, "3")

    async with listening(first, killed, "999"):
        await killed.until(lambda: killed.tries == 1)
    async with listening(second, kept, "999"):
        await kept.texts(1)
    api.inject_text(PATIENT, "4")
    async with listening(third, later, kept.cursor):
        await later.texts(1)
    for channel in (first, second, third):
        await channel.close()

    assert killed.messages == []
    assert [message.text for message in kept.messages] == ["3"]
    assert [message.text for message in later.messages] == ["4"]


async def test_update_ids_that_start_again_lower_are_followed(api: BotApi, inbox: Inbox) -> None:
    """After a quiet week the server numbers anew; each message comes once all the same."""
    api.inject_text(PATIENT, "before")
    await inbox.texts(1)
    await api.until(lambda: api.acknowledged == 1000)

    api.restart_numbering(50)
    api.inject_text(PATIENT, "after")
    await api.until(lambda: api.acknowledged == 50)
    api.inject_text(PATIENT, "and again")

    assert await inbox.texts(3) == ["before", "after", "and again"]
    assert inbox.cursor == "51"


async def test_a_cursor_that_is_no_number_begins_at_what_is_waiting(
    api: BotApi, channel: TelegramChannel
) -> None:
    """The server keeps what was not acknowledged, so beginning there loses nothing."""
    kept = Inbox()
    api.inject_text(PATIENT, "3")

    async with listening(channel, kept, "not a number"):
        assert await kept.texts(1) == ["3"]


async def test_an_update_that_cannot_be_read_keeps_nobody_out(
    api: BotApi, inbox: Inbox, caplog: pytest.LogCaptureFixture
) -> None:
    """What the patient wrote is saved where it can be; the others come as usual."""
    chat = {"id": PATIENT, "type": "private"}
    odd = {"message_id": 1, "chat": chat, "date": "yesterday", "text": "calf is hot", "venue": 5}
    api.inject("message", odd)
    api.inject("message", {"venue": 5})
    api.inject("callback_query", {"id": "q"})
    api.inject_text(8, "4")

    assert await inbox.texts(2) == ["calf is hot", "4"]
    assert inbox.messages[0].sent_at is None
    assert inbox.cursor == "1003"
    assert caplog.text.count("could not be read") == 2
    assert "calf is hot" not in caplog.text


def test_odd_updates_are_put_aside_one_by_one() -> None:
    """One that is no table, one without a chat, and half of an emoji, as JSON may hold it."""
    chat = f'"message_id": 5, "date": 1, "chat": {{"id": {PATIENT}, "type": "private"}}'
    payload = (
        '{"ok": true, "result": [3, {"update_id": 1, "message": {"message_id": 4, "text": "x"}},'
        f' {{"update_id": 2, "message": {{{chat}, "text": "hot \\ud83d"}}}}]}}'
    )

    read = UpdatesRequest.parse_json_payload(payload.encode())["result"]
    taken = [incoming("telegram", Update.de_json(update)) for update in read]

    assert [message and message.text for message in taken] == [None, "hot ?"]


# Trouble while receiving


@pytest.mark.parametrize(
    ("trouble", "logged"),
    [
        pytest.param(lambda a: a.fail_next("getUpdates", 500), "cannot receive", id="500"),
        pytest.param(
            lambda a: a.fail_next("getUpdates", 502, b"<html>"), "cannot receive", id="502 page"
        ),
        pytest.param(
            lambda a: a.fail_next("getUpdates", 200, b"<html>"), "cannot receive", id="rubbish"
        ),
        pytest.param(lambda a: a.flood_next("getUpdates", 1), "in 1.0 s", id="flood"),
        pytest.param(lambda a: a.drop_next("getUpdates"), "cannot receive", id="dropped"),
        pytest.param(lambda a: a.fail_next("getUpdates", 401), "check telegram.token", id="token"),
        pytest.param(lambda a: a.fail_next("deleteWebhook", 404), "telegram.token", id="no such"),
        pytest.param(lambda a: a.fail_next("getUpdates", 409), "another program", id="conflict"),
        pytest.param(lambda a: a.fail_next("deleteWebhook", 500), "cannot receive", id="at start"),
    ],
)
async def test_receiving_goes_on_after_trouble(
    api: BotApi,
    channel: TelegramChannel,
    caplog: pytest.LogCaptureFixture,
    trouble: Callable[[BotApi], None],
    logged: str,
) -> None:
    """Trouble is told in words that help, and the message comes all the same."""
    kept = Inbox()
    trouble(api)
    api.inject_text(PATIENT, "3")

    async with listening(channel, kept):
        texts = await kept.texts(1)

    assert texts == ["3"]
    assert logged in caplog.text


async def test_receiving_goes_on_after_a_silent_server(api: BotApi, clock: SteppedClock) -> None:
    """A connection that died without a word is given up after the patience."""
    kept = Inbox()
    channel = channel_to(
        api.base_url, clock, poll=timedelta(0), patience=timedelta(milliseconds=200)
    )
    api.hang_next("getUpdates")
    api.inject_text(PATIENT, "3")

    async with listening(channel, kept):
        texts = await kept.texts(1)
    await channel.close()

    assert texts == ["3"]


async def test_a_webhook_left_behind_is_removed(api: BotApi, channel: TelegramChannel) -> None:
    """At the start, and again when one is set meanwhile: polling is refused while it stands."""
    kept = Inbox()
    api.set_webhook("https://example.org/hook")

    async with listening(channel, kept):
        api.inject_text(PATIENT, "3")
        await kept.texts(1)
        await api.until(lambda: api.acknowledged == 1000)
        api.set_webhook("https://example.org/hook")
        api.inject_text(PATIENT, "4")
        api.inject_text(PATIENT, "5")
        texts = await kept.texts(3)

    assert texts == ["3", "4", "5"]
    assert api.webhook == ""


# Sending


async def test_a_message_is_sent_and_its_reference_kept(
    api: BotApi, channel: TelegramChannel
) -> None:
    """The reference is the id by which an incoming message would be known."""
    delivery = await channel.send(outgoing("Rest today."))

    assert delivery == Accepted("7:1")
    assert [(sent.chat, sent.text, sent.choices) for sent in api.sent] == [(7, "Rest today.", [])]


@pytest.mark.parametrize("ending", ["", "/", "/bot", "/bot/"])
async def test_the_address_of_the_server_is_taken_as_written(
    api: BotApi, clock: SteppedClock, ending: str
) -> None:
    """With or without the last part that every Bot API address has."""
    channel = channel_to(api.base_url.removesuffix("/bot") + ending, clock)

    delivery = await channel.send(outgoing())
    await channel.close()

    assert isinstance(delivery, Accepted)


def _refused(status: int, description: str, **parameters: Any) -> Callable[[BotApi], None]:
    body: dict[str, Any] = {"ok": False, "error_code": status, "description": description}
    if parameters:
        body["parameters"] = parameters
    return lambda api: api.fail_next("sendMessage", status, body)


@pytest.mark.parametrize(
    ("trouble", "expected"),
    [
        pytest.param(
            lambda a: a.flood_next("sendMessage", 7),
            Later("", timedelta(seconds=7)),
            id="flood, with its wait",
        ),
        pytest.param(_refused(429, "Too Many Requests"), Later(""), id="flood, without a wait"),
        pytest.param(_refused(500, "Internal Server Error"), Later(""), id="500"),
        pytest.param(lambda a: a.block(PATIENT), Never("blocked by the user"), id="blocked"),
        pytest.param(lambda a: a.forget(PATIENT), Never("chat not found"), id="no such chat"),
        pytest.param(
            _refused(400, "Bad Request: user not found"), Never("user not found"), id="bad request"
        ),
        pytest.param(
            _refused(400, "Bad Request: upgraded", migrate_to_chat_id=-1009),
            Never("-1009"),
            id="moved",
        ),
        pytest.param(_refused(401, "Unauthorized"), Later("Unauthorized"), id="token refused"),
        pytest.param(_refused(409, "Conflict: webhook"), Later("webhook"), id="conflict"),
        pytest.param(lambda a: a.drop_next("sendMessage"), Unknown(""), id="dropped after"),
        pytest.param(
            lambda a: a.fail_next("sendMessage", 200, b"<html>"), Unknown(""), id="rubbish, 200"
        ),
    ],
)
async def test_each_failure_has_its_delivery(
    api: BotApi,
    channel: TelegramChannel,
    trouble: Callable[[BotApi], None],
    expected: Delivery,
) -> None:
    """What may have arrived is unknown, what cannot is later or never; nothing is repeated."""
    trouble(api)

    delivery = await channel.send(outgoing())

    assert type(delivery) is type(expected)
    assert not isinstance(delivery, Accepted)
    assert not isinstance(expected, Accepted)
    assert expected.why.lower() in delivery.why.lower()
    assert getattr(delivery, "wait", None) == getattr(expected, "wait", None)
    assert api.methods() == ["sendMessage"]


async def test_a_server_that_takes_the_message_and_says_nothing_is_unknown(
    api: BotApi, clock: SteppedClock
) -> None:
    """It was written and may well have arrived: here it has."""
    channel = channel_to(api.base_url, clock, patience=timedelta(milliseconds=300))
    api.hang_next("sendMessage")

    delivery = await channel.send(outgoing())
    await channel.close()

    assert isinstance(delivery, Unknown)
    assert len(api.sent) == 1


async def test_a_server_that_is_not_there_is_later(clock: SteppedClock) -> None:
    """No connection, nothing sent."""
    with socket.socket() as nobody:
        nobody.bind(("127.0.0.1", 0))
        channel = channel_to(f"http://127.0.0.1:{nobody.getsockname()[1]}", clock)

        delivery = await channel.send(outgoing())
        await channel.close()

    assert isinstance(delivery, Later)


async def test_a_server_that_does_not_let_in_is_later(clock: SteppedClock) -> None:
    """Its queue of connections is full; ours ran out of time before anything was sent."""
    with socket.socket() as full, socket.socket() as first, socket.socket() as second:
        full.bind(("127.0.0.1", 0))
        full.listen(0)
        for waiting in (first, second):
            waiting.setblocking(False)
            waiting.connect_ex(full.getsockname())
        channel = channel_to(
            f"http://127.0.0.1:{full.getsockname()[1]}",
            clock,
            patience=timedelta(milliseconds=300),
        )

        delivery = await channel.send(outgoing())
        await channel.close()

    assert isinstance(delivery, Later)
    assert "TimedOut" in delivery.why


@pytest.mark.parametrize("address", ["+15550001", "@somebody", "", "7.5"])
async def test_an_address_of_another_kind_is_never(
    api: BotApi, channel: TelegramChannel, address: str
) -> None:
    """Only a chat id is sent to; a phone number must not be taken for one."""
    delivery = await channel.send(outgoing(chat=address))

    assert isinstance(delivery, Never)
    assert api.calls == []


async def test_a_closed_channel_says_later(api: BotApi, channel: TelegramChannel) -> None:
    """What is sent while the program stops goes out when it has started again."""
    await channel.close()

    assert isinstance(await channel.send(outgoing()), Later)
    assert api.calls == []


@pytest.mark.parametrize(
    ("length", "expected"),
    [
        pytest.param(64, Accepted, id="at the limit"),
        pytest.param(65, Never, id="over the limit"),
    ],
)
async def test_a_payload_is_at_most_64_bytes(
    api: BotApi, channel: TelegramChannel, length: int, expected: type[Delivery]
) -> None:
    """Bot API, InlineKeyboardButton, callback_data: 1-64 bytes; a longer one is not cut."""
    delivery = await channel.send(outgoing(choices=((Button("x", "p" * length),),)))

    assert type(delivery) is expected


LINES = "\n".join(["a line of forty characters, with its end"] * 100)  # 4099 characters


@pytest.mark.parametrize(
    ("text", "lengths"),
    [
        pytest.param("x" * TEXT_MAX, [4096], id="at the limit"),
        pytest.param("x" * (TEXT_MAX + 1), [4096, 1], id="over the limit"),
        pytest.param(LINES, [4058, 40], id="cut at the end of a line"),
        pytest.param("\U0001f642" * (TEXT_MAX // 2 + 1), [2048, 1], id="signs that count double"),
    ],
)
async def test_a_long_text_goes_in_parts(
    api: BotApi, channel: TelegramChannel, text: str, lengths: list[int]
) -> None:
    """All of it arrives, in order, with the buttons under the last part."""
    delivery = await channel.send(outgoing(text, choices=PAIN, urgent=True))

    assert [len(sent.text) for sent in api.sent] == lengths
    assert "".join(sent.text for sent in api.sent).replace("\n", "") == text.replace("\n", "")
    assert [bool(sent.choices) for sent in api.sent] == [False] * (len(lengths) - 1) + [True]
    assert delivery == Accepted(f"7:{len(lengths)}")


# Rates


async def test_after_a_flood_only_what_is_urgent_is_sent(
    api: BotApi, channel: TelegramChannel, clock: SteppedClock
) -> None:
    """The wait is kept for every chat; the server is not asked again before it is over."""
    api.flood_next("sendMessage", 30)
    await channel.send(outgoing(chat=1))
    clock.move_by(timedelta(seconds=29))

    held = await channel.send(outgoing(chat=2))
    urgent = await channel.send(outgoing(chat=3, urgent=True))
    clock.move_by(timedelta(seconds=1))
    after = await channel.send(outgoing(chat=4))

    assert isinstance(held, Later)
    assert held.wait == timedelta(seconds=1)
    assert isinstance(urgent, Accepted)
    assert isinstance(after, Accepted)
    assert [sent.chat for sent in api.sent] == [3, 4]


async def test_thirty_a_second_and_no_more(api: BotApi, channel: TelegramChannel) -> None:
    """Telegram, Bots FAQ: 30 a second; any 31 in a row take a second (less 5 % for the clocks)."""
    await asyncio.gather(*(channel.send(outgoing(chat=chat)) for chat in range(1, 46)))

    at = sorted(sent.at for sent in api.sent)
    spans = [after - before for before, after in zip(at, at[30:], strict=False)]
    assert len(at) == 45
    assert min(spans) > 0.95


async def test_one_a_second_to_a_chat(api: BotApi, channel: TelegramChannel) -> None:
    """Telegram, Bots FAQ: no more than one message a second to a chat."""
    began = monotonic()
    for text in ("1", "2"):
        await channel.send(outgoing(text))

    assert monotonic() - began > 0.95


async def test_what_is_urgent_does_not_wait_for_the_second_to_pass(
    api: BotApi, channel: TelegramChannel, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Telegram, Bots FAQ: short bursts to a chat are let through."""
    monkeypatch.setattr("bot.channels.telegram.channel.CHAT_GAP_SECONDS", 2 * PATIENCE_SECONDS)
    began = monotonic()
    for text, urgent in (("1", False), ("2", True)):
        await channel.send(outgoing(text, urgent=urgent))

    assert monotonic() - began < PATIENCE_SECONDS


# Secrets


async def test_neither_the_token_nor_a_patients_words_reach_a_log(
    api: BotApi,
    channel: TelegramChannel,
    clock: SteppedClock,
    caplog: pytest.LogCaptureFixture,
) -> None:
    """At the most talkative level, through success and every kind of failure."""
    caplog.set_level(logging.DEBUG)
    kept = Inbox()
    talkative = channel_to(api.base_url, clock)
    echo = {"ok": False, "error_code": 400, "description": f"no method for /bot{api.token}/x"}
    for method in ("getUpdates", "sendMessage"):
        api.fail_next(method, 400, echo)
        api.fail_next(method, 401)
        api.fail_next(method, 200, f"my calf is hot /bot{api.token}".encode())
        api.drop_next(method)
    api.inject_text(PATIENT, "my calf is hot")

    deliveries = [await talkative.send(outgoing("my calf is hot", urgent=True)) for _ in range(5)]
    async with listening(talkative, kept):
        await kept.texts(1)
    await talkative.close()

    assert api.token not in repr(talkative)
    assert api.token not in caplog.text
    assert "my calf is hot" not in caplog.text
    assert "/bot<token>/sendMessage" in caplog.text, "the libraries did log what was asked"
    assert all(api.token not in repr(delivery) for delivery in deliveries)


async def test_a_refused_token_is_told_once_while_it_lasts(
    api: BotApi, channel: TelegramChannel, caplog: pytest.LogCaptureFixture
) -> None:
    """Every message in the queue fails alike; one line is enough until it works again."""
    for failures in (2, 1):
        api.fail_next("sendMessage", 401, times=failures)
        for chat in range(failures + 1):
            await channel.send(outgoing(chat=chat + 10 * failures))

    assert caplog.text.count("check telegram.token") == 2


def test_an_empty_token_is_refused_by_its_setting(clock: SteppedClock) -> None:
    """The person who installs it is told which setting, at the start."""
    with pytest.raises(SettingsError, match=r"telegram\.token"):
        TelegramChannel(" ", clock=clock)


PNG = b"\x89PNG\r\n\x1a\n not drawn"


async def test_a_picture_goes_out_with_its_words_under_it(
    api: BotApi, channel: TelegramChannel
) -> None:
    """One message: the picture, the words as its caption, the buttons below."""
    choices = ((Button("Yes", "yes"),),)

    delivery = await channel.send(outgoing("Picture: rise.", picture=PNG, choices=choices))

    assert isinstance(delivery, Accepted)
    assert api.methods() == ["sendPhoto"]
    assert api.sent[0].text == "Picture: rise."
    assert api.sent[0].choices == [[("Yes", "yes")]]


@pytest.mark.parametrize(
    ("length", "methods"),
    [
        pytest.param(1024, ["sendPhoto"], id="as long as may be"),
        pytest.param(1025, ["sendPhoto", "sendMessage"], id="one over"),
    ],
)
async def test_words_too_long_for_a_picture_follow_it(
    api: BotApi, channel: TelegramChannel, length: int, methods: list[str]
) -> None:
    """What does not fit under the picture is a message of its own, and nothing is cut."""
    await channel.send(outgoing("x" * length, picture=PNG))

    assert api.methods() == methods
    assert api.sent[-1].text == "x" * length
