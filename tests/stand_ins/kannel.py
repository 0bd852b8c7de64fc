"""The SMS gateway: the real programs of Debian's package kannel, on loopback ports of their own,
with the configuration that we ship.

Never changes more of that than ports, paths, secrets and waiting times, and what a test names.
"""

from __future__ import annotations

import contextlib
import re
import shutil
import socket
import subprocess
import time
from collections.abc import Callable, Mapping
from pathlib import Path

SHIPPED = Path(__file__).parents[2] / "deploy" / "gateway"
PASSWORD = "test-password"


def is_installed() -> bool:
    """Whether this machine has the programs."""
    return shutil.which("bearerbox", path="/usr/sbin") is not None


def free_ports(count: int) -> list[int]:
    """Ports that nobody listens on at the moment."""
    with contextlib.ExitStack() as stack:
        sockets = [stack.enter_context(socket.socket()) for _ in range(count)]
        for one in sockets:
            one.bind(("127.0.0.1", 0))
        return [int(one.getsockname()[1]) for one in sockets]


class Kannel:
    """The gateway. `ours`: where it reaches us. `carrier`: the port of one that speaks SMPP;
    `line`: keys of the shipped line to it with other values."""

    def __init__(
        self, folder: Path, ours: str, secret: str, carrier: int, line: Mapping[str, object]
    ) -> None:
        self.folder = folder
        admin, self._boxes, self._sending, bringing = free_ports(4)
        self._processes: list[subprocess.Popen[bytes]] = []
        self.url = f"http://127.0.0.1:{self._sending}/cgi-bin/sendsms"
        for name in ("store", "receipts"):
            (folder / name).mkdir()
        self._config = folder / "kannel.conf"
        seconds = ("http-queue-delay", "sms-resend-freq", "reconnect-delay")
        changed = dict.fromkeys((*seconds, "sms-combine-concatenated-mo-timeout"), 1) | {
            "admin-port": admin,
            "smsbox-port": self._boxes,
            "sendsms-port": self._sending,
            "port": bringing,
            "store-location": f'"{folder}/store"',
            "dlr-spool": f'"{folder}/receipts"',
            "include": f'"{folder}/carrier.conf"',
            "password": PASSWORD,
        }
        text = _with("kannel.conf", changed).replace("/var/log/kannel", str(folder))
        text = text.replace("http://127.0.0.1:8421", ours).replace("CHANGE-SECRET", secret)
        self._config.write_text(text)
        account = {"host": "127.0.0.1", "smsc-username": "clinic", "smsc-password": "s3cr3t-8"}
        changed = {**account, "port": carrier, "reconnect-delay": 1, **line}
        (folder / "carrier.conf").write_text(_with("carrier.example.conf", changed))

    def start(self) -> None:
        """Start both programs, and return once they serve."""
        self._run("bearerbox", self._boxes)
        self._run("smsbox", self._sending)

    def kill(self) -> None:
        """End both programs at once, with SIGKILL."""
        while self._processes:
            process = self._processes.pop()
            process.kill()
            process.wait()

    def _run(self, program: str, port: int) -> None:
        with (self.folder / "output").open("ab") as output:
            process = subprocess.Popen(
                [f"/usr/sbin/{program}", str(self._config)],
                stdout=output,
                stderr=output,
                stdin=subprocess.DEVNULL,
                cwd=self.folder,
            )
        self._processes.append(process)
        until(lambda: _listens(port), f"{program} listens")

    def said(self) -> str:
        """What both programs have said on their screens."""
        return (self.folder / "output").read_text(errors="replace")


def _with(name: str, changed: Mapping[str, object]) -> str:
    """A shipped configuration with these values in place of its own."""
    text = (SHIPPED / name).read_text()
    for key, value in changed.items():
        text, count = re.subn(rf"(?m)^(# )?{key} = .*$", f"{key} = {value}", text)
        assert count == 1, key
    return text


def until(condition: Callable[[], object], what: str, seconds: float = 60) -> None:
    """Return once the condition holds."""
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, f"not within {seconds} s: {what}"
        time.sleep(0.05)


def _listens(port: int) -> bool:
    with socket.socket() as one:
        return one.connect_ex(("127.0.0.1", port)) == 0
