"""One morning of a large clinic: a hundred prompts fall due at once, on two troubled channels.

Real channels, real sockets and a real file; only the clock is stepped, from one retry to the next.
The gateway and the Bot API go wrong at fixed requests, so that two runs see the same troubles.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections import Counter
from collections.abc import AsyncIterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from itertools import count
from pathlib import Path
from typing import Any

import httpx
from stand_ins.bot_api import DATE, BotApi
from stand_ins.http_server import serving
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import Receive, Scope, Send

from bot.app import SENDERS, App
from bot.channels.sms_gateway.channel import PATH, SmsGatewayChannel
from bot.channels.telegram.channel import TelegramChannel
from bot.clinicians.invite import invite_patient
from bot.clock import SteppedClock
from bot.rehearsal.clinic import ZONE, made_up_clinic
from bot.store import instants, people, plans
from bot.store.database import Store, Writer
from bot.store.migrations import migrate
from bot.store.people import Role
from dialogs.turn import Question
from rules.protocol import Tendon

ENROLLED_AT = datetime(2026, 3, 2, 18, tzinfo=UTC)
MORNING = datetime(2026, 3, 3, 7, 30, tzinfo=UTC)
SHORT = timedelta(milliseconds=20)

ON_EACH_CHANNEL = 50
BLOCKED, BLOCKED_WITH_PHONE = 5, 2
CLINICIAN_CHAT = 900
WINDOW = 10  # what the gateway brings at once
AGAIN_IN = (1, 3)  # windows of answers that come twice, counted from 0
SECRET = "a-secret-of-twenty-letters"

# At which request something goes wrong, counted from 1.
BUSY_AT = {10, 11, 22, 70}
NOT_ANSWERED = range(30, 30 + SENDERS)  # as ever, the gateway has it and the answer is lost
FLOOD_AT = {15: 30, 75: 5}  # seconds asked for
ILL_AT = {8, 20, 21, 85}
DROPPED_AT = {5, 40, 41, 90}


class Gateway:
    """An SMS gateway that has a bad morning. `taken`: what it will bring to telephones."""

    def __init__(self) -> None:
        self.taken: Counter[tuple[str, str, str]] = Counter()
        self.busy = 0
        self._numbers = count(1)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Take one message."""
        number = next(self._numbers)
        if number in BUSY_AT:
            self.busy += 1
            await Response(status_code=503)(scope, receive, send)
            return
        asked = Request(scope, receive).query_params
        self.taken["sms", asked["to"], asked["text"]] += 1
        if number in NOT_ANSWERED:
            receive.__self__.transport.abort()  # type: ignore[attr-defined]
            return
        await Response("0: Accepted for delivery", 202)(scope, receive, send)


class TroubledBotApi(BotApi):
    """A Bot API that has a bad morning."""

    def __post_init__(self) -> None:
        super().__post_init__()
        self._numbers = count(1)

    async def _answer(self, request: Request) -> Response:
        if request.path_params["method"] == "sendMessage":
            number = next(self._numbers)
            if number in FLOOD_AT:
                self.flood_next("sendMessage", FLOOD_AT[number])
            if number in ILL_AT:
                self.fail_next("sendMessage", 502)
            if number in DROPPED_AT:
                self.drop_next("sendMessage", recorded=True)
        return await super()._answer(request)


@dataclass(frozen=True)
class Enrolled:
    """A patient of the morning and what they will answer, None for silence."""

    number: int
    contacts: tuple[tuple[str, str], ...]
    blocked: bool

    @property
    def answer(self) -> tuple[int, int] | None:
        """Pain and stiffness: different from neighbour to neighbour, so that a mix-up shows."""
        silent = self.number % 10 == 9 or (self.blocked and len(self.contacts) == 1)
        return None if silent else (1 + self.number % 3, 5 * (self.number % 4))

    @property
    def text(self) -> str:
        """The answer as it is typed."""
        assert self.answer is not None
        return "{} {}".format(*self.answer)

    @property
    def writes_from(self) -> tuple[str, str]:
        """The channel and address where the prompt reached them."""
        return self.contacts[-1] if self.blocked else self.contacts[0]


@dataclass
class Morning:
    """The bot and those it talks with."""

    app: App
    clock: SteppedClock
    gateway: Gateway
    door: httpx.AsyncClient
    api: TroubledBotApi
    patients: list[Enrolled] = field(default_factory=list)

    async def rows(self, sql: str) -> list[dict[str, Any]]:
        """Any query."""
        return await self.app.writer.run(lambda store: store.rows(sql))

    async def passes(self) -> None:
        """Handle, write and send, from one due instant to the next, until nothing waits."""
        sql = "SELECT min(due_at) AS at FROM outbox WHERE accepted_at IS NULL AND failed_at IS NULL"
        for _ in range(100):
            while await self.app.handle_waiting():
                pass
            await self.app.tick()
            names = [name for name in self.app.channels for _ in range(SENDERS)]
            await asyncio.gather(*map(self.app.send_waiting, names))
            (due,) = await self.rows(sql)
            if due["at"] is None:
                return
            self.clock.move_to(instants.read(due["at"]))
        raise AssertionError("messages still wait after a hundred passes")


def _enrolled() -> list[Enrolled]:
    """Half on each channel; five have blocked the bot, and two of them have a telephone too."""
    by_sms = [
        Enrolled(n, (("sms", f"+447700900{n:03}"),), blocked=False) for n in range(ON_EACH_CHANNEL)
    ]
    by_chat = []
    for n in range(ON_EACH_CHANNEL, 2 * ON_EACH_CHANNEL):
        rank = n - ON_EACH_CHANNEL
        phone = (("sms", f"+447700900{n:03}"),) if rank < BLOCKED_WITH_PHONE else ()
        by_chat.append(Enrolled(n, (("telegram", f"{1000 + n}"), *phone), blocked=rank < BLOCKED))
    return [*by_sms, *by_chat]


def _enrol(store: Store, patients: list[Enrolled]) -> None:
    clinic = made_up_clinic()
    clinician = people.add(store, Role.CLINICIAN, "Ilse", ENROLLED_AT, zone=ZONE)
    people.add_contact(store, clinician.id, "telegram", f"{CLINICIAN_CHAT}", ENROLLED_AT)
    for patient in patients:
        name = f"Patient {patient.number:03}"
        invite_patient(store, clinic, name, Tendon.MID_PORTION, clinician.id, ENROLLED_AT)
        person = people.by_role(store, Role.PATIENT)[-1]
        for channel, address in patient.contacts:
            people.add_contact(store, person.id, channel, address, ENROLLED_AT)
        plans.enrol(
            store,
            plans.of_patient(store, person.id),
            side="left",
            usual_pain=2,
            usual_stiffness=10,
            morning_time=time(7, 30),
            on=ENROLLED_AT.date(),
            now=ENROLLED_AT,
        )


@contextlib.asynccontextmanager
async def _a_morning(path: Path) -> AsyncIterator[Morning]:
    """Everyone enrolled the day before, both channels connected."""
    clock = SteppedClock(ENROLLED_AT)
    patience = timedelta(seconds=5)
    writer = Writer(path, migrate)
    writer.start()
    gateway = Gateway()
    with TroubledBotApi() as api:
        async with serving(gateway) as url:
            # Its pauses are whole seconds, as in service: the outbox keeps times to the second.
            sms = SmsGatewayChannel(
                url=f"{url}/sendsms", username="clinic", password="p", number="12345",
                ours="http://us", secret=SECRET, clock=clock, patience=patience,
            )  # fmt: skip
            chat = TelegramChannel(
                api.token, base_url=api.base_url, clock=clock, patience=patience, first_pause=SHORT
            )
            app = App(writer, made_up_clinic(), clock, [sms, chat])
            listening = [asyncio.create_task(app.listen(channel)) for channel in (sms, chat)]
            transport = httpx.ASGITransport(Starlette(routes=sms.routes))
            door = httpx.AsyncClient(transport=transport, base_url="http://us")
            patients = _enrolled()
            for patient in patients:
                if patient.blocked:
                    api.block(int(patient.contacts[0][1]))
            await writer.run(_enrol, patients)
            await app.plan_ahead()
            yield Morning(app, clock, gateway, door, api, patients)
            assert not any(task.done() for task in listening), "listening ends only when cancelled"
            for task in listening:
                task.cancel()
            await asyncio.gather(*listening, return_exceptions=True)
            await app.close()


async def _answer_by_sms(door: httpx.AsyncClient, patients: list[Enrolled]) -> int:
    """Windows of ten; some come twice, of the others the last. Gives how many came again."""
    again = 0
    windows = [patients[at : at + WINDOW] for at in range(0, len(patients), WINDOW)]
    for number, window in enumerate(windows):
        repeated = window if number in AGAIN_IN else window[-1:]
        again += len(repeated)
        for brought in (window, repeated):
            answers = await asyncio.gather(*(_by_sms(door, patient) for patient in brought))
            assert {answer.status_code for answer in answers} == {200}
    return again


async def _by_sms(door: httpx.AsyncClient, patient: Enrolled) -> httpx.Response:
    fields = {"id": f"m-{patient.number}", "from": patient.writes_from[1], "text": patient.text}
    return await door.post(f"{PATH}/{SECRET}/message", data=fields)


async def _answer_by_chat(api: TroubledBotApi, patients: list[Enrolled]) -> int:
    """Every fourth message comes in two updates, and some batches are lost on their way."""
    again, last = 0, 0
    api.drop_next("getUpdates", recorded=True, times=2)
    for patient in patients:
        chat = int(patient.writes_from[1])
        message = {
            "message_id": 5000,
            "date": DATE,
            "chat": {"id": chat, "type": "private"},
            "from": {"id": chat, "is_bot": False, "first_name": "Somebody"},
            "text": patient.text,
        }
        last = api.inject("message", message)
        if patient.number % 4 == 0:
            last = api.inject("message", message)
            again += 1
    await api.until(lambda: api.acknowledged == last)
    return again


def _in_outbox(row: dict[str, Any]) -> tuple[str, str, str]:
    return row["channel"], row["address"], row["text"]


async def test_a_hundred_answers_are_kept_once_on_a_troubled_morning(tmp_path: Path) -> None:
    """Each answer counts once, each message is settled, and nobody hears a thing twice unmarked."""
    async with _a_morning(tmp_path / "morning.sqlite") as morning:
        gateway, api, patients = morning.gateway, morning.api, morning.patients
        answering = [patient for patient in patients if patient.answer is not None]
        by_channel = {
            name: [p for p in answering if p.writes_from[0] == name] for name in ("sms", "telegram")
        }

        morning.clock.move_to(MORNING)
        await morning.passes()
        asked = await morning.rows("SELECT * FROM outbox WHERE prompt IS NOT NULL")
        again = sum(
            await asyncio.gather(
                _answer_by_sms(morning.door, by_channel["sms"]),
                _answer_by_chat(api, by_channel["telegram"]),
            )
        )
        await morning.passes()

        outbox = await morning.rows("SELECT * FROM outbox")
        attempts = await morning.rows("SELECT result, count(*) AS n FROM attempts GROUP BY result")
        received = await morning.rows("SELECT outcome FROM inbox")
        answers = await morning.rows("""
            SELECT people.name, question, about_date, value, corrects FROM answers
            JOIN episodes ON episodes.id = answers.episode
            JOIN people ON people.id = episodes.patient
        """)
        unreachable = await morning.rows("""
            SELECT people.name FROM escalations JOIN people ON people.id = escalations.patient
            WHERE sign = 'unreachable' ORDER BY people.name
        """)

    chats: Counter[tuple[str, str, str]] = Counter(
        ("telegram", f"{sent.chat}", sent.text) for sent in api.sent if sent.text
    )
    shown = gateway.taken + chats
    doubles = {key: n for key, n in shown.items() if n > 1}
    results = {row["result"]: row["n"] for row in attempts}
    print(
        f"\nprompts {len(asked)}, answers {len(answers)} of {len(answering)} patients, "
        f"came in again {again}; messages {len(outbox)}, heard twice {len(doubles)}, "
        f"marked {sum(row['possible_double'] for row in outbox)}; "
        f"retries {sum(row['tries'] - 1 for row in outbox)}, tries by result {results}; "
        f"busy {gateway.busy}; "
        f"clock {morning.clock.now():%H:%M:%S}"
    )

    # Every answer once.
    on = date(2026, 3, 3).isoformat()
    expected = Counter(
        (f"Patient {p.number:03}", str(question), on, str(value), None)
        for p in answering
        if p.answer is not None
        for question, value in zip(
            (Question.FIRST_STEP_PAIN, Question.STIFFNESS), p.answer, strict=True
        )
    )
    assert Counter(tuple(row.values()) for row in answers) == expected
    assert Counter(row["outcome"] for row in received) == {"handled": len(answering)}

    # Every message settled, and who cannot be reached is told of.
    assert len({row["person"] for row in asked}) == len(asked) == 2 * ON_EACH_CHANNEL
    cut_off = [f"Patient {p.number:03}" for p in patients if p.blocked and len(p.contacts) == 1]
    moved = {p.contacts[1][1] for p in patients if p.blocked and len(p.contacts) == 2}
    failed = [row for row in outbox if row["failed_at"] is not None]
    assert all(row["accepted_at"] or row["failed_at"] for row in outbox)
    assert len(failed) == len(cut_off) == BLOCKED - BLOCKED_WITH_PHONE
    assert [row["name"] for row in unreachable] == cut_off
    assert moved <= {row["address"] for row in asked if row["accepted_at"]}

    # What was accepted was heard, and nothing was heard more often than the outbox knows.
    accepted = Counter(_in_outbox(row) for row in outbox if row["accepted_at"])
    marked = {_in_outbox(row) for row in outbox if row["possible_double"]}
    assert set(shown) == set(accepted)
    assert all(shown[key] >= times for key, times in accepted.items())
    assert {key for key, times in shown.items() if times > accepted[key]} <= marked

    # The troubles did happen.
    assert gateway.busy == len(BUSY_AT)
    assert len(doubles) >= SENDERS + len(DROPPED_AT) - 1
    assert results["unknown"] >= SENDERS + len(DROPPED_AT)
