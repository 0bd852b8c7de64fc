"""What people would otherwise write: a bot of the usual recipe, whose users stand in one dictionary
that is written to its file, whole, with each message."""

from __future__ import annotations

import os
import pickle
from datetime import datetime
from pathlib import Path


class PlainBot:
    """`users`: how many there are, each with `answers` from before."""

    def __init__(self, path: Path, users: int, answers: int) -> None:
        self._path = path
        row = (datetime(2026, 3, 2, 7, 30), 2, 10)
        self.users = {f"user {n}": [row] * answers for n in range(users)}

    def answer(self, user: str, text: str, now: datetime) -> str:
        """Keep two numbers and say something; durable when it returns."""
        pain, stiffness = map(int, text.split())
        self.users.setdefault(user, []).append((now, pain, stiffness))
        beside = self._path.with_suffix(".new")
        with beside.open("wb") as file:
            pickle.dump(self.users, file)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(self._path)
        return "Do your session today." if pain <= 3 else "Rest today."
