"""Promise: a file that is damaged, of another shape, or served already is refused in a sentence."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from bot.errors import StoreError
from bot.store.database import Store
from bot.store.migrations import migrate, steps
from bot.store.soundness import faults, migrate_if_sound, serve_alone


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A new file of this program."""
    path = tmp_path / "clinic.db"
    store = Store(path)
    migrate(store)
    store.close()
    return path


def damaged(path: Path) -> None:
    """Writes over a page in the middle of the file, as a bad disk does."""
    with path.open("r+b") as file:
        file.seek(8 * 4096)
        file.write(b"\xff" * 4096)


def reshaped(path: Path) -> None:
    """As if an earlier step had been edited after it was released."""
    with sqlite3.connect(path) as connection:
        connection.execute("ALTER TABLE episodes DROP COLUMN usual_stiffness")


@pytest.mark.parametrize(
    ("happened", "expected"),
    [(damaged, "is damaged"), (reshaped, "made by no release of this program: episodes differs")],
)
def test_a_file_that_cannot_be_trusted_is_refused(path: Path, happened, expected: str) -> None:  # type: ignore[no-untyped-def]
    """The sentence says what is wrong and what to do."""
    happened(path)

    with pytest.raises(StoreError, match=expected) as raised:
        migrate_if_sound(Store(path))

    assert "last backup" in str(raised.value)


def test_a_file_of_an_earlier_release_is_sound_and_migrated(tmp_path: Path) -> None:
    """It is judged by the steps that it has, not by the newest."""
    store = Store(tmp_path / "old.db")
    newest = steps.pending(store.db)[-1].name
    steps.apply(store.db, stop_before=newest)

    before = faults(store)
    migrate_if_sound(store)

    assert before == []
    assert faults(store) == []
    assert steps.pending(store.db) == []
    copy = tmp_path / f"old.db.before-{newest}"
    assert copy.stat().st_mode & 0o077 == 0
    assert [step.name for step in steps.pending(Store(copy).db)] == [newest]


def test_two_do_not_serve_one_file(path: Path) -> None:
    """The second is told who does; once that ends, it may."""
    first = serve_alone(path)

    with pytest.raises(StoreError, match=r"is served already by process \d+"):
        serve_alone(path)
    first.close()

    serve_alone(path).close()
