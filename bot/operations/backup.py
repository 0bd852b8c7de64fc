"""Copies the database while the bot serves, and makes a database of such a copy again.

A copy is whole or not there: it is made in a folder of its own beside its place, checked, synced,
and only then given its name. Nothing is ever overwritten. A copy is not encrypted; who holds the
file can read it. Read next: `bot.commands.backup`.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from bot.errors import NotFoundError, RefusedError, StoreError
from bot.store.database import Store
from bot.store.migrations import migrate

# What SQLite keeps beside a database file. One left from an earlier database would be taken for
# a part of the new one.
SIDE_FILES = ("-wal", "-shm", "-journal")

# Read and write for the owner, nothing for anyone else.
OWNER_ONLY = 0o600


@dataclass(frozen=True)
class Copied:
    """A copy that was made and checked. `size_bytes`: of the file. `patients`: how many are in it,
    those erased not counted."""

    path: Path
    size_bytes: int
    patients: int


def back_up(source: Path, target: Path) -> Copied:
    """Copy a database as it is at this instant; whoever writes to it goes on writing.

    Raises NotFoundError where there is no database, RefusedError where `target` is there already,
    and StoreError where the copy is not sound.
    """
    _must_be_there(source)
    with _making(target) as made:
        _copy(source, made)
        patients = _checked(made)
    return Copied(target, target.stat().st_size, patients)


def back_up_into(source: Path, folder: Path, keep: int, now: datetime) -> Copied:
    """Copy a database into a folder of copies, make a database of the copy to see that it can be
    done, and let the oldest go.

    `keep`: copies that stay, the new one counted [count, at least 1]. Copies of other names stay.
    Raises as `back_up` and `restore` do, and NotFoundError where the folder is not there; then
    nothing is let go.
    """
    if not folder.is_dir():
        raise NotFoundError(f"there is no folder {folder}")
    stamp = now.astimezone(UTC).strftime("%Y-%m-%dT%H%M%SZ")
    copied = back_up(source, folder / f"{source.stem}-{stamp}.db")
    with tempfile.TemporaryDirectory(prefix=".trial.", dir=folder) as trial:
        restore(copied.path, Path(trial) / "restored.db")
    for old in sorted(folder.glob(f"{source.stem}-????-??-??T??????Z.db"))[:-keep]:
        old.unlink()
    return copied


def restore(backup: Path, target: Path) -> Copied:
    """Make a database of a copy, in the newest shape. The copy stays as it is.

    Raises NotFoundError and RefusedError as `back_up` does, StoreError where the copy is damaged
    or no database of ours, and StoreNewerError where a newer program wrote it.
    """
    _must_be_there(backup)
    _checked(backup)
    with _making(target) as made:
        _copy(backup, made)
        with closing(Store(made)) as store:
            migrate(store)
        patients = _checked(made)
    return Copied(target, target.stat().st_size, patients)


def _must_be_there(path: Path) -> None:
    if not path.is_file():
        raise NotFoundError(f"there is no file {path}")


@contextmanager
def _making(target: Path) -> Iterator[Path]:
    """Where to make a file that gets the name `target` once all went well."""
    _reserve(target)
    folder = Path(tempfile.mkdtemp(prefix=f".{target.name}.", dir=target.parent))
    try:
        made = folder / "copy.db"
        yield made
        made.chmod(OWNER_ONLY)
        _sync(made)
        made.replace(target)
        _sync(target.parent)
    except sqlite3.Error as error:
        target.unlink()
        raise StoreError(f"the copy {target} could not be made: {error}") from error
    except BaseException:
        target.unlink()
        raise
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _reserve(target: Path) -> None:
    """Take the name, so that two copies at once cannot both have it."""
    beside = [target.with_name(target.name + ending) for ending in SIDE_FILES]
    for path in (target, *beside):
        if path.exists() or path.is_symlink():
            raise RefusedError(f"{path} is there already, and nothing is overwritten")
    try:
        os.close(os.open(target, os.O_CREAT | os.O_EXCL | os.O_WRONLY, OWNER_ONLY))
    except FileExistsError:
        raise RefusedError(f"{target} is there already, and nothing is overwritten") from None
    except OSError as error:
        raise RefusedError(f"{target} cannot be written: {error.strerror}") from error


def _copy(source: Path, target: Path) -> None:
    """A copy without free pages: what was erased is not in it."""
    with closing(_reading(source)) as connection:
        connection.execute("VACUUM INTO ?", [str(target)])


def _checked(path: Path) -> int:
    """How many patients a sound database has. Raises StoreError where it is not sound."""
    try:
        with closing(_reading(path)) as connection:
            found = [row[0] for row in connection.execute("PRAGMA integrity_check(5)")]
            loose = connection.execute("PRAGMA foreign_key_check").fetchone()
            tables = "SELECT name FROM sqlite_master WHERE name = '_sqlite_migrations'"
            ours = connection.execute(tables).fetchone()
            if found != ["ok"] or loose is not None:
                raise StoreError(f"{path} is damaged: {'; '.join(found)}")
            if ours is None:
                raise StoreError(f"{path} is not a database of nextmorning")
            people = "SELECT count(*) FROM people WHERE role = 'patient' AND erased_at IS NULL"
            return int(connection.execute(people).fetchone()[0])
    except sqlite3.DatabaseError as error:
        raise StoreError(f"{path} is not a sound database: {error}") from error


def _reading(path: Path) -> sqlite3.Connection:
    """A connection that cannot change the file, whatever its journal mode."""
    address = f"{path.absolute().as_uri()}?mode=ro"
    return sqlite3.connect(address, uri=True, isolation_level=None)


def _sync(path: Path) -> None:
    """Have a file's content, or a folder's names, on disk before going on."""
    number = os.open(path, os.O_RDONLY)
    try:
        os.fsync(number)
    finally:
        os.close(number)
