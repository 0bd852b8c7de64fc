"""What one message, a burst, a tick and an alarm in the peak cost, on a store of any size."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from statistics import median
from time import perf_counter, process_time

from bench.plain_bot import PlainBot
from bench.populate import CLINIC, asked

from bot.app import App
from bot.channels.local.channel import LocalChannel
from bot.clock import SteppedClock
from bot.delivery.receive import receive
from bot.handle import handle
from bot.patients.due_prompts import PROMPTS_A_PASS, tick
from bot.ports import Incoming, Outgoing
from bot.rehearsal.stage import CHAT, TEXT
from bot.store import inbox
from bot.store.database import Store, Writer

NUMBERS = "2 10"
WORDS = (  # twenty of them
    "Morning all, it was fine yesterday, I took the dog to the park and then had tea with my sister"
)


@dataclass(frozen=True)
class Cost:
    """Of one message: `cpu` and `wall` [milliseconds, median], `rows` it changed [count]."""

    cpu: float
    wall: float
    rows: int


def one_message(path: Path, now: datetime, text: str, count: int) -> Cost:
    """Received and handled, each durable, by patients who have been asked."""
    store = Store(path)
    costs = []
    for number, address in enumerate(asked(store, count + 1)):
        incoming = Incoming(CHAT, f"{text} {number}", address, text)
        rows, cpu, wall = store.db.conn.total_changes, process_time(), perf_counter()
        store.do(receive, [incoming], CHAT, None, now)
        (waiting,) = store.do(inbox.waiting, 1)
        store.do(handle, CLINIC, waiting, now)
        took = (process_time() - cpu, perf_counter() - wall, store.db.conn.total_changes - rows)
        costs.append(took)
    store.close()
    _first, *rest = costs  # the first one reads wordings and protocols
    cpu, wall, rows = (median(one[place] for one in rest) for place in range(3))
    return Cost(cpu * 1000, wall * 1000, int(rows))


def floor(path: Path, rows: int, count: int) -> Cost:
    """As many rows of a hundred letters in one durable commit, and nothing else."""
    store = Store(path)
    store.db.conn.execute("CREATE TABLE bench (id INTEGER PRIMARY KEY, text TEXT NOT NULL)")
    costs = []
    for _ in range(count):
        cpu, wall = process_time(), perf_counter()
        with store.transaction():
            for _row in range(rows):
                store.db.conn.execute("INSERT INTO bench (text) VALUES (?)", ["x" * 100])
        costs.append((process_time() - cpu, perf_counter() - wall))
    store.close()
    return Cost(median(c for c, _ in costs) * 1000, median(w for _, w in costs) * 1000, rows)


def plain(folder: Path, users: int, answers: int, count: int) -> Cost:
    """The plain bot with so many users, each with so many answers from before."""
    bot = PlainBot(folder / "plain.pickle", users, answers)
    costs = []
    for number in range(count):
        cpu, wall = process_time(), perf_counter()
        bot.answer(f"user {number}", NUMBERS, datetime(2026, 3, 2, 7, 31))
        costs.append((process_time() - cpu, perf_counter() - wall))
    return Cost(median(c for c, _ in costs) * 1000, median(w for _, w in costs) * 1000, 1)


def tick_cost(path: Path, now: datetime, patients: int) -> tuple[float, float]:
    """CPU of one due prompt where a hundredth are due, and of a tick with nothing due
    [milliseconds]."""
    store = Store(path)
    morning = now + timedelta(days=1)
    sql = "UPDATE prompts SET due_at = :later WHERE patient % 100 != 0 AND written_at IS NULL"
    later = (now + timedelta(days=9)).strftime("%Y-%m-%dT%H:%M:%SZ")
    store.do(lambda one: one.change(sql, {"later": later}))
    count, began = 0, process_time()
    while done := store.do(tick, CLINIC, morning):
        count += done
        if done < PROMPTS_A_PASS:
            break
    busy = process_time() - began
    idle = []
    for _ in range(20):
        began = process_time()
        store.do(tick, CLINIC, morning)
        idle.append(process_time() - began)
    store.close()
    return busy * 1000 / max(count, 1), median(idle) * 1000


async def burst(path: Path, now: datetime, count: int) -> tuple[float, float]:
    """Messages kept, and handled, a second."""
    app, writer = _app(path, now, lambda _: None)
    addresses = await writer.run(asked, count)
    sent = [Incoming(CHAT, f"burst {n}", address, NUMBERS) for n, address in enumerate(addresses)]
    began = perf_counter()
    for start in range(0, len(sent), 50):
        await app.commit(CHAT, sent[start : start + 50], None)
    kept = perf_counter() - began
    began = perf_counter()
    while await app.handle_waiting():
        pass
    handled = perf_counter() - began
    writer.close()
    return len(sent) / kept, len(sent) / handled


async def alarm_in_the_peak(path: Path, now: datetime, count: int) -> tuple[float, float]:
    """Seconds until the notice of a swollen calf has left, that came in the middle of so many
    answers at once; and until the last of these was handled."""
    left = asyncio.Event()
    at: list[float] = []

    def heard(outgoing: Outgoing) -> None:
        if outgoing.urgent and not at:
            at.append(perf_counter())
            left.set()

    app, writer = _app(path, now, heard)
    addresses = await writer.run(asked, count)
    sent = [Incoming(CHAT, f"peak {n}", address, NUMBERS) for n, address in enumerate(addresses)]
    middle = len(sent) // 2
    sent[middle] = Incoming(CHAT, "alarm", addresses[middle], "my calf is red, hot and swollen")
    serving = asyncio.create_task(app.serve())
    began = perf_counter()
    for start in range(0, len(sent), 50):
        await app.commit(CHAT, sent[start : start + 50], None)
    await left.wait()
    while await writer.run(inbox.waiting, 1):
        await asyncio.sleep(0.05)
    ended = perf_counter()
    serving.cancel()
    await asyncio.wait([serving])
    writer.close()
    return at[0] - began, ended - began


def _app(path: Path, now: datetime, sent: Callable[[Outgoing], None]) -> tuple[App, Writer]:
    writer = Writer(path)
    writer.start()
    channels = [LocalChannel(CHAT, sent), LocalChannel(TEXT, sent)]
    return App(writer, CLINIC, SteppedClock(now), channels), writer
