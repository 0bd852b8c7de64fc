"""Kills the process with SIGKILL at each line of `bot/` that it runs while it receives, handles and
sends one message, starts it again, and counts what there is. Run by `test_no_answer_is_lost`.

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
from rules.screening import screen

START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
CLINIC = made_up_clinic()
ENROLMENT = ("yes", "London", "yes", "07:30", "left", "2", "10", *["skip"] * 4)
CHANNEL = "chat"

# How much later the process is started again.
AFTER_RESTART = timedelta(seconds=9)
BOT = str(Path(__file__).parents[2] / "bot")


def life(folder: Path, text: str, now: datetime) -> None:
    """One life of the process: take the message unless acknowledged, handle, send all there is."""
    store = Store(folder / "bot.sqlite")
    acknowledged = folder / "acknowledged"
    if not acknowledged.exists():
        message = Incoming(CHANNEL, "the message", "ana", text)
        store.do(receive, [message], CHANNEL, "7", now)
        acknowledged.touch()
    for number in inbox_waiting(store):
        store.do(handle, CLINIC, number, now)
    store.do(tick, CLINIC, now)
    run = f"run {os.getpid()}"
    while (outgoing := store.do(take_next, CHANNEL, run, now)) is not None:
        with (folder / "sent").open("a") as sent:
            sent.write(json.dumps([outgoing.id, outgoing.address]) + "\n")
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


def forked(work: Callable[[], None], kill_at: int | None, heard: Path | None = None) -> bool:
    """Run work in a child that is killed at its nth line in bot/; gives whether it was killed.

    `heard`: where the child writes the numbers of the lines it comes to for the first time.
    """
    child = os.fork()
    if child == 0:
        if kill_at is None and heard is None:
            work()
        else:
            first_times = _traced(work, kill_at)
            if heard is not None:
                heard.write_text(json.dumps(first_times))
        os._exit(0)
    _, status = os.waitpid(child, 0)
    if not os.WIFSIGNALED(status) and os.waitstatus_to_exitcode(status) != 0:
        raise RuntimeError(f"the child ended with {status} by itself (line {kill_at})")
    return os.WIFSIGNALED(status)


def _traced(work: Callable[[], None], kill_at: int | None) -> list[int]:
    """Run work, counting lines from 1; gives at which counts a line was run for the first time."""
    count = 0
    seen: set[tuple[str, int]] = set()
    first_times: list[int] = []

    def trace(frame: FrameType, event: str, _arg: Any) -> Any:
        nonlocal count
        if not frame.f_code.co_filename.startswith(BOT):
            return None
        if event == "line":
            count += 1
            if count == kill_at:
                os.kill(os.getpid(), signal.SIGKILL)
            line = (frame.f_code.co_filename, frame.f_lineno)
            if line not in seen:
                seen.add(line)
                first_times.append(count)
        return trace

    sys.settrace(trace)
    work()
    sys.settrace(None)
    return first_times


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


def main(text: str, step: int) -> None:
    """Print, as JSON, the undisturbed result, how many lines there are, and what differed. `step`:
    1 kills at each line, 4 at every fourth."""
    # A process is killed here, not a machine: a file system in memory loses nothing by that.
    memory = "/dev/shm" if Path("/dev/shm").is_dir() else None
    with tempfile.TemporaryDirectory(dir=memory) as base:
        clean = Path(base) / "clean"
        clean.mkdir()
        prepare(clean)
        screen(text, CLINIC.lexicon)  # wordings are compiled when first wanted: here, for all lives
        whole, heard = Path(base) / "whole", Path(base) / "heard"
        shutil.copytree(clean, whole)
        forked(lambda: life(whole, text, START), None, heard)
        expected = counts(whole)
        lines = json.loads(heard.read_text())[::step]
        different = []
        killed = 0
        for line in lines:
            folder = Path(base) / "killed"
            shutil.copytree(clean, folder)
            killed += forked(lambda folder=folder: life(folder, text, START), line)
            forked(lambda folder=folder: life(folder, text, START + AFTER_RESTART), None)
            found = counts(folder)
            if {**found, "doubles": 0} != {**expected, "doubles": 0} or found["doubles"] > 1:
                different.append([line, found])
            shutil.rmtree(folder)
    told = {"lines": len(lines), "killed": killed, "expected": expected, "different": different}
    print(json.dumps(told))


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 1)
