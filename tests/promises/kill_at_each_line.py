"""Kills the process with SIGKILL while it receives, handles and sends one message, starts it again,
and counts what there is. Run by `test_no_answer_is_lost`. Killed at the first line of `bot/` after
each thing that is left behind, a statement that writes or a file: a kill between two of them leaves
the same. With "every line", at every line all the same.

Outside the process stand two files that a kill cannot undo: `acknowledged`, written when the
channel may forget the message, and `sent`, one line a message that the channel accepted.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import sys
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import FrameType
from typing import Any

from bot.clinicians.invite import invite_patient
from bot.delivery.receive import receive
from bot.delivery.send import settle, take_next
from bot.handle import handle
from bot.patients.due_prompts import tick
from bot.ports import Accepted, Incoming
from bot.rehearsal.clinic import made_up_clinic
from bot.store import inbox, people
from bot.store.database import Store
from bot.store.migrations import migrate
from bot.store.people import Role
from rules.protocol import Tendon

START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
CLINIC = made_up_clinic()
ENROLMENT = ("yes", "London", "yes", "07:30", "left", "2", "10", *["skip"] * 4)
CHANNEL = "chat"

WRITES = ("BEGIN", "COMMIT", "SAVEPOINT", "RELEASE", "INSERT", "UPDATE", "DELETE")

# How much later the process is started again.
AFTER_RESTART = timedelta(seconds=9)
BOT = str(Path(__file__).parents[2] / "bot")


def life(folder: Path, text: str, now: datetime, left: Callable[[str], None] | None = None) -> None:
    """One life of the process: take the message unless acknowledged, handle, send all there is.
    `left` is told of each statement, and of the files."""
    store = Store(folder / "bot.sqlite")
    store.db.conn.set_trace_callback(left)
    left = left or str
    acknowledged = folder / "acknowledged"
    if not acknowledged.exists():
        message = Incoming(CHANNEL, "the message", "ana", text)
        store.do(receive, [message], CHANNEL, "7", now)
        acknowledged.touch()
        left("COMMIT of a file")
    for number in inbox_waiting(store):
        store.do(handle, CLINIC, number, now)
    store.do(tick, CLINIC, now)
    run = f"run {os.getpid()}"
    while (outgoing := store.do(take_next, CHANNEL, run, now)) is not None:
        with (folder / "sent").open("a") as sent:
            sent.write(json.dumps([outgoing.id, outgoing.address]) + "\n")
        left("COMMIT of a file")
        store.do(settle, CLINIC, outgoing, Accepted("ref"), now)
    store.close()


def inbox_waiting(store: Store) -> list[int]:
    """Numbers of the messages that wait."""
    return store.do(inbox.waiting, 10)


def prepare(folder: Path) -> None:
    """A clinic with two clinicians and one enrolled patient whose morning questions wait."""
    store = Store(folder / "bot.sqlite")
    migrate(store)
    for name in ("ilse", "bram"):
        clinician = store.do(people.add, Role.CLINICIAN, name, START)
        store.do(people.add_contact, clinician.id, CHANNEL, name, START)
    code = store.do(invite_patient, CLINIC, "Ana", Tendon.MID_PORTION, None, START)
    for number, text in enumerate((f"/start {code}", *ENROLMENT)):
        store.do(receive, [Incoming(CHANNEL, f"{number}", "ana", text)], CHANNEL, None, START)
        for waiting in inbox_waiting(store):
            store.do(handle, CLINIC, waiting, START)
    store.do(tick, CLINIC, START)
    while (outgoing := store.do(take_next, CHANNEL, "before", START)) is not None:
        store.do(settle, CLINIC, outgoing, Accepted("ref"), START)
    store.close()


def forked(work: Callable[[], None]) -> bool:
    """Run work in a child; gives whether it was killed."""
    child = os.fork()
    if child == 0:
        work()
        os._exit(0)
    _, status = os.waitpid(child, 0)
    if not os.WIFSIGNALED(status) and os.waitstatus_to_exitcode(status) != 0:
        raise RuntimeError(f"the child ended with {status} by itself")
    return os.WIFSIGNALED(status)


def traced(work: Callable[[], None], at_line: Callable[[int], None]) -> None:
    """Run work, calling `at_line` at each line of `bot/` with how many were run, from 1."""
    count = 0

    def trace(frame: FrameType, event: str, _arg: Any) -> Any:
        nonlocal count
        if not frame.f_code.co_filename.startswith(BOT):
            return None
        if event == "line":
            count += 1
            at_line(count)
        return trace

    sys.settrace(trace)
    work()
    sys.settrace(None)


def live_and_list(folder: Path, text: str, heard: Path) -> None:
    """An undisturbed life; writes down how many lines it ran, and those that stand first after
    something was left behind."""
    after_writes: list[int] = []
    wrote, count = True, 0

    def left(statement: str) -> None:
        nonlocal wrote
        wrote = wrote or statement.lstrip().upper().startswith(WRITES)

    def at_line(number: int) -> None:
        nonlocal wrote, count
        count = number
        if wrote:
            after_writes.append(number)
            wrote = False

    traced(lambda: life(folder, text, START, left), at_line)
    heard.write_text(json.dumps({"lines": count, "after writes": after_writes}))


def live_and_die(folder: Path, text: str, line: int) -> None:
    """A life that ends at a line."""

    def at_line(number: int) -> None:
        if number == line:
            os.kill(os.getpid(), signal.SIGKILL)

    traced(lambda: life(folder, text, START), at_line)


def counts(folder: Path) -> dict[str, Any]:
    """What the store and the outside world hold in the end."""
    store = Store(folder / "bot.sqlite")
    sent = [json.loads(line) for line in (folder / "sent").read_text().splitlines()]
    doubles = store.rows("SELECT id FROM outbox WHERE possible_double = 1")
    found = {
        "inbox": store.rows(
            "SELECT count(*) AS n, sum(handled_at IS NOT NULL) AS handled FROM inbox"
            " WHERE message_id = 'the message'"
        )[0],
        "answers": [
            [row["question"], row["value"]]
            for row in store.rows("SELECT question, value FROM answers ORDER BY id")
        ],
        "decisions": store.rows("SELECT count(*) AS n FROM decisions")[0]["n"],
        "escalations": store.rows("SELECT count(*) AS n FROM escalations")[0]["n"],
        "written": store.rows("SELECT text FROM outbox ORDER BY id"),
        "waiting": store.rows(
            "SELECT count(*) AS n FROM outbox WHERE accepted_at IS NULL AND failed_at IS NULL"
        )[0]["n"],
    }
    sent_twice = {number for number, _ in sent if [n for n, _ in sent].count(number) > 1}
    found["unmarked_doubles"] = len(sent_twice - {row["id"] for row in doubles})
    found["doubles"] = len(sent_twice)
    store.close()
    return found


def main(text: str, every_line: bool) -> None:
    """Print, as JSON, the undisturbed result, where the process was killed, and what differed."""
    # A process is killed here, not a machine: a file system in memory loses nothing by that.
    memory = "/dev/shm" if Path("/dev/shm").is_dir() else None
    with tempfile.TemporaryDirectory(dir=memory) as base:
        clean = Path(base) / "clean"
        clean.mkdir()
        prepare(clean)
        # What is compiled or read when first wanted is so here, once for all lives.
        life(shutil.copytree(clean, Path(base) / "warm"), text, START)
        whole, heard = Path(base) / "whole", Path(base) / "heard"
        shutil.copytree(clean, whole)
        forked(lambda: live_and_list(whole, text, heard))
        expected = counts(whole)
        found_lines = json.loads(heard.read_text())
        lines = range(1, found_lines["lines"] + 1) if every_line else found_lines["after writes"]
        different = []
        killed = 0
        for line in lines:
            folder = Path(base) / "killed"
            shutil.copytree(clean, folder)
            killed += forked(lambda folder=folder, line=line: live_and_die(folder, text, line))
            forked(lambda folder=folder: life(folder, text, START + AFTER_RESTART))
            found = counts(folder)
            if {**found, "doubles": 0} != {**expected, "doubles": 0} or found["doubles"] > 1:
                different.append([line, found])
            shutil.rmtree(folder)
    told = {"lines": len(lines), "killed": killed, "expected": expected, "different": different}
    print(json.dumps(told))


if __name__ == "__main__":
    main(sys.argv[1], "every line" in sys.argv[2:])
