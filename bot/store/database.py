"""Opens the SQLite file and gives transactions on it. Knows no table.

`Store` is the connection that the working functions are handed. `Writer` owns the one thread that
writes: what waits for it goes in one durable commit, a savepoint each, so that a burst costs few
commits and one bad message spoils no other. Daily work is done between messages, never before them.
"""

from __future__ import annotations

import asyncio
import os
import queue
import sqlite3
import threading
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Future
from contextlib import contextmanager
from dataclasses import dataclass, field
from enum import IntEnum
from itertools import count
from pathlib import Path
from time import monotonic
from typing import Any, Concatenate, ParamSpec, TypeVar

from sqlite_utils import Database

from bot.errors import NotFoundError, StoreError

P = ParamSpec("P")
R = TypeVar("R")
Row = dict[str, Any]

# How long work that waits may go on joining one commit [seconds]. Convention: many short jobs share
# a flush of the file, and nobody waits long for the last of them.
GROUP_SECONDS = 0.05

PRAGMAS = (
    # Readers do not wait for the writer, nor the writer for them.
    "PRAGMA journal_mode = WAL",
    # An acknowledged message must survive a power cut: NORMAL does not sync each commit in WAL.
    "PRAGMA synchronous = FULL",
    # Off by default in SQLite, for each connection.
    "PRAGMA foreign_keys = ON",
    # A backup or a reading page may hold a lock for a moment [milliseconds].
    "PRAGMA busy_timeout = 5000",
    # Erased text must not stay readable in free pages.
    "PRAGMA secure_delete = ON",
)


class Store:
    """One connection to the database file. Belongs to the thread that opened it."""

    def __init__(self, path: Path, *, read_only: bool = False) -> None:
        self.path = path
        self.db = Database(_connect(path, read_only=read_only))

    def close(self) -> None:
        """Close the connection; a transaction still open is rolled back."""
        self.db.conn.close()

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """All or nothing. Takes the write lock at once: a deferred BEGIN that reads first and
        writes later fails with "database is locked" when another connection wrote between."""
        self.db.conn.execute("BEGIN IMMEDIATE")
        try:
            yield
        except BaseException:
            self.db.conn.execute("ROLLBACK")
            raise
        self.db.conn.execute("COMMIT")

    @contextmanager
    def savepoint(self) -> Iterator[None]:
        """All or nothing inside a transaction that goes on either way."""
        self.db.conn.execute("SAVEPOINT work")
        try:
            yield
        except BaseException:
            self.db.conn.execute("ROLLBACK TO work")
            self.db.conn.execute("RELEASE work")
            raise
        self.db.conn.execute("RELEASE work")

    def do(self, work: Callable[Concatenate[Store, P], R], *args: P.args, **kwargs: P.kwargs) -> R:
        """Run one working function as one transaction on this thread."""
        with self.transaction():
            return work(self, *args, **kwargs)

    def rows(self, sql: str, values: Mapping[str, Any] | None = None) -> list[Row]:
        """All rows of a query, as dictionaries."""
        found = self.db.conn.execute(sql, dict(values or {}))
        names = [column[0] for column in found.description]
        return [dict(zip(names, row, strict=True)) for row in found]

    def row(self, sql: str, values: Mapping[str, Any] | None = None) -> Row | None:
        """The first row of a query, or None."""
        return next(iter(self.rows(sql, values)), None)

    def one(self, sql: str, values: Mapping[str, Any], what: str) -> Row:
        """The row that must be there; `what` names it in the error."""
        found = self.row(sql, values)
        if found is None:
            raise NotFoundError(f"there is no {what}")
        return found

    def change(self, sql: str, values: Mapping[str, Any] | None = None) -> int:
        """Run a statement that changes rows; gives how many it changed."""
        return self.db.conn.execute(sql, dict(values or {})).rowcount

    def add(self, table: str, values: Mapping[str, Any]) -> int:
        """Insert one row and give its id. A misspelt table raises: nothing is created here."""
        return self._insert(table, values, "")

    def add_once(self, table: str, values: Mapping[str, Any]) -> int | None:
        """Insert one row unless a unique key forbids it; None when it was there already."""
        before = self.db.conn.total_changes
        row_id = self._insert(table, values, "ON CONFLICT DO NOTHING")
        return row_id if self.db.conn.total_changes > before else None

    def _insert(self, table: str, values: Mapping[str, Any], clause: str) -> int:
        columns = ", ".join(values)
        places = ", ".join(f":{column}" for column in values)
        sql = f"INSERT INTO {table} ({columns}) VALUES ({places}) {clause}"
        return int(self.db.conn.execute(sql, dict(values)).lastrowid or 0)


def _connect(path: Path, *, read_only: bool) -> sqlite3.Connection:
    """Open the file, owner-only, in the mode where BEGIN and COMMIT are ours alone."""
    try:
        if not read_only and not path.exists():
            path.parent.mkdir(parents=True, exist_ok=True)
            os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
        mode = "ro" if read_only else "rw"
        address = f"{path.absolute().as_uri()}?mode={mode}"
        connection = sqlite3.connect(address, uri=True, isolation_level=None)
        for pragma in PRAGMAS:
            connection.execute(pragma)
    except (OSError, sqlite3.Error) as error:
        raise StoreError(f"the database {path} cannot be opened: {error}") from error
    return connection


class Rank(IntEnum):
    """What the writing thread takes first."""

    NOW = 0
    BETWEEN = 1
    LAST = 2


@dataclass(order=True)
class _Job:
    """Work that waits. `work` None: close the file."""

    rank: Rank
    number: int
    work: Callable[[Store], Any] | None = field(compare=False)
    done: Future[Any] = field(compare=False)


class Writer:
    """The one thread that writes. `run` hands it work and awaits the durable result."""

    def __init__(self, path: Path, prepare: Callable[[Store], None] | None = None) -> None:
        self.path = path
        self._jobs: queue.PriorityQueue[_Job] = queue.PriorityQueue()
        self._numbers = count()
        self._opened: Future[None] = Future()
        self._thread = threading.Thread(
            target=self._serve, args=(path, prepare), name="writer", daemon=True
        )

    def start(self) -> None:
        """Open the file in the thread; raises what opening raised."""
        self._thread.start()
        self._opened.result()

    async def run(
        self, work: Callable[Concatenate[Store, P], R], *args: P.args, **kwargs: P.kwargs
    ) -> R:
        """Run one working function; returns after its commit is on disk, or raises what it
        raised, with nothing of it kept."""
        done = self._wait(Rank.NOW, lambda store: work(store, *args, **kwargs))
        return await asyncio.wrap_future(done)

    async def run_between(
        self, work: Callable[Concatenate[Store, P], R], *args: P.args, **kwargs: P.kwargs
    ) -> R:
        """The same for daily work: only while no other work waits."""
        done = self._wait(Rank.BETWEEN, lambda store: work(store, *args, **kwargs))
        return await asyncio.wrap_future(done)

    def close(self) -> None:
        """Finish what waits, then close the file."""
        if self._thread.is_alive():
            self._wait(Rank.LAST, None)
            self._thread.join()

    def _wait(self, rank: Rank, work: Callable[[Store], Any] | None) -> Future[Any]:
        done: Future[Any] = Future()
        self._jobs.put(_Job(rank, next(self._numbers), work, done))
        return done

    def _serve(self, path: Path, prepare: Callable[[Store], None] | None) -> None:
        try:
            store = Store(path)
            if prepare is not None:
                prepare(store)
        except BaseException as error:
            self._opened.set_exception(error)
            return
        self._opened.set_result(None)
        while (first := self._jobs.get()).work is not None:
            self._commit_group(store, first)
        store.close()

    def _commit_group(self, store: Store, first: _Job) -> None:
        """One durable commit for what waits. A job that raises is undone alone."""
        outcomes: list[tuple[_Job, Any, BaseException | None]] = []
        until = monotonic() + GROUP_SECONDS
        job: _Job | None = first
        try:
            with store.transaction():
                while job is not None:
                    outcomes.append((job, *_attempt(store, job)))
                    job = self._another(first.rank) if monotonic() < until else None
        except BaseException as error:
            outcomes = [(one, None, error) for one, _, _ in outcomes] or [(first, None, error)]
        for one, result, failure in outcomes:
            if one.done.cancelled():
                continue
            if failure is None:
                one.done.set_result(result)
            else:
                one.done.set_exception(failure)

    def _another(self, rank: Rank) -> _Job | None:
        """The next job if it is of the same rank and waits already."""
        try:
            job = self._jobs.get_nowait()
        except queue.Empty:
            return None
        if job.rank is rank:
            return job
        self._jobs.put(job)
        return None


def _attempt(store: Store, job: _Job) -> tuple[Any, BaseException | None]:
    """What the work gave, or what it raised, with nothing of it left in the transaction."""
    assert job.work is not None
    try:
        with store.savepoint():
            return job.work(store), None
    except Exception as error:
        return None, error
