"""What whole processes cost: commands, and `serve` with its memory, started as a clinic would."""

from __future__ import annotations

import os
import resource
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median
from time import perf_counter

ROOT = Path(__file__).parents[2]
PATIENCE = 300.0
"""How long a start may take [seconds]."""

CONFIG = """
[clinic]
name = "Quaymore Physio"
phone = "020 7946 0141"
emergency_number = "112"
crisis_line = "the crisis line on 020 7946 0199"
zone = "Europe/London"
[telegram]
base_url = "http://127.0.0.1:9/bot"
token = "1:aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"
[web]
port = {port}
[store]
path = "{path}"
"""


def configured(path: Path, port: int = 8421) -> Path:
    """A configuration for this store; nobody answers at its channel's address."""
    config = path.with_suffix(f".{port}.toml")
    config.write_text(CONFIG.format(port=port, path=path))
    config.chmod(0o600)
    return config


def command_cpu(*arguments: str, runs: int = 3) -> float:
    """CPU of one command, start and imports included [seconds, median]."""
    took = []
    for _ in range(runs):
        before = _children()
        typed = [sys.executable, "-m", "bot", *arguments]
        subprocess.run(typed, cwd=ROOT, check=True, capture_output=True)
        took.append(_children() - before)
    return median(took)


def _children() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def free_port() -> int:
    """A port of this machine that nobody listens on now."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


class Served:
    """`serve` that has answered /readyz; `seconds`: how long that took."""

    def __init__(self, path: Path) -> None:
        port = free_port()
        began = perf_counter()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "bot", "serve", "--config", str(configured(path, port))],
            cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        while not _is_ready(port):
            if perf_counter() - began > PATIENCE or self.process.poll() is not None:
                raise SystemExit(f"serve did not become ready on {path}")
            time.sleep(0.02)
        self.seconds = perf_counter() - began

    def memory(self) -> tuple[float, float]:
        """Resident, and its own share [MB]."""
        text = Path(f"/proc/{self.process.pid}/smaps_rollup").read_text()
        values = {line.split()[0]: int(line.split()[1]) for line in text.splitlines()[1:]}
        own = values["Private_Clean:"] + values["Private_Dirty:"]
        return values["Rss:"] / 1024, own / 1024

    def cpu(self) -> float:
        """CPU used so far [seconds]."""
        fields = Path(f"/proc/{self.process.pid}/stat").read_text().rsplit(")", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


@contextmanager
def serving(*paths: Path) -> Iterator[list[Served]]:
    """One process a store, all of them ready; ended afterwards."""
    served: list[Served] = []
    try:
        for path in paths:
            served.append(Served(path))
        yield served
    finally:
        for one in served:
            one.process.terminate()
            one.process.wait()


def _is_ready(port: int) -> bool:
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/readyz", timeout=1) as answer:
            return bool(answer.status == 200)
    except (urllib.error.URLError, OSError):
        return False
