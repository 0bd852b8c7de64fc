"""A copy of the house in a folder, changed as an engineer would change it, and run by itself."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]


class Copy:
    """The house, copied. `touched`: the files that were changed or added, folders as one."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.touched: list[str] = []
        for room in ("bot", "dialogs", "rules"):
            shutil.copytree(ROOT / room, folder / room)

    def puts(self, file: str, text: str, *, before: str) -> None:
        """Put lines into a file, before a line of it."""
        path = self.folder / file
        whole = path.read_text(encoding="utf-8")
        assert whole.count(before) == 1, f"{file}: {before!r} is not there once"
        path.write_text(whole.replace(before, text + before), encoding="utf-8")
        self.touched.append(file)

    def replaces(self, file: str, old: str, new: str) -> None:
        """Say something otherwise in a file that was added before."""
        path = self.folder / file
        whole = path.read_text(encoding="utf-8")
        assert old in whole, f"{file}: {old!r} is not there"
        path.write_text(whole.replace(old, new), encoding="utf-8")

    def copies(self, here: str, there: str) -> None:
        """Copy a file or a folder within the house."""
        whole = self.folder / here
        (shutil.copytree if whole.is_dir() else shutil.copy)(whole, self.folder / there)
        self.touched.append(there)

    def runs(self, script: str) -> Any:
        """What a script beside this file prints as JSON, run with the changed house alone."""
        environment = {**os.environ, "PYTHONPATH": f"{self.folder}:{ROOT / 'tests'}"}
        ended = subprocess.run(
            [sys.executable, str(Path(__file__).with_name(script)), str(self.folder)],
            cwd=self.folder, env=environment, capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert ended.returncode == 0, ended.stderr
        return json.loads(ended.stdout)
