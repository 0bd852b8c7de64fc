"""An SMS gateway with a carrier behind it: the real programs of Debian's packages kannel and
kannel-extras, on loopback ports of their own, with the configuration that we ship.

Does: start and stop them, and be the carrier: take what goes out, bring what comes in.
Never: changes more of the shipped configuration than ports, paths, secrets and waiting times.

    with Kannel(folder, ours="http://127.0.0.1:8421", secret="...") as gateway:
        channel = SmsGatewayChannel(url=gateway.url, ...)
        gateway.bring("12025550143 12345 text 3 10")
        until(lambda: "Pain 0-10?" in gateway.sent(), "it is sent")
"""

from __future__ import annotations

import contextlib
import re
import shutil
import socket
import subprocess
import time
from collections.abc import Mapping
from pathlib import Path

GATEWAY = Path(__file__).parents[2] / "deploy" / "gateway"
SHIPPED, SHIPPED_LINE = GATEWAY / "kannel.conf", GATEWAY / "carrier.example.conf"
FAKE_CARRIER = Path("/usr/lib/kannel/test/fakesmsc")
PASSWORD = "test-password"

FAKE_LINE = """
group = smsc
smsc = fake
smsc-id = carrier
port = {port}
connect-allow-ip = "127.0.0.1"
allowed-smsc-id = sending
reroute-smsc-id = nextmorning
"""


def is_installed() -> bool:
    """Whether this machine has the programs."""
    return FAKE_CARRIER.exists() and shutil.which("bearerbox", path="/usr/sbin") is not None


def free_ports(count: int) -> list[int]:
    """Ports that nobody listens on at the moment."""
    with contextlib.ExitStack() as stack:
        sockets = [stack.enter_context(socket.socket()) for _ in range(count)]
        for one in sockets:
            one.bind(("127.0.0.1", 0))
        return [int(one.getsockname()[1]) for one in sockets]


class Kannel:
    """The gateway and its carrier. `ours`: where it reaches us. `waits`: seconds between tries.
    `smpp`: the port of a carrier that speaks SMPP, in place of the one that comes with it, on the
    shipped line; `line`: keys of that line with other values."""

    def __init__(
        self,
        folder: Path,
        ours: str,
        secret: str,
        waits: int = 1,
        smpp: int | None = None,
        line: Mapping[str, object] | None = None,
    ) -> None:
        self.folder, self._smpp = folder, smpp
        self._ports = free_ports(5)
        self._processes: list[subprocess.Popen[bytes]] = []
        self._carrier: subprocess.Popen[bytes] | None = None
        self.url = f"http://127.0.0.1:{self._ports[3]}/cgi-bin/sendsms"
        (folder / "store").mkdir(parents=True, exist_ok=True)
        (folder / "receipts").mkdir(exist_ok=True)
        self.config, self._line = folder / "kannel.conf", folder / "carrier.conf"
        self._line.write_text(self._shipped_line({"port": smpp, **(line or {})}))
        self.config.write_text(self._configured(ours, secret, waits))

    def _shipped_line(self, changed: Mapping[str, object]) -> str:
        if self._smpp is None:
            return FAKE_LINE.format(port=self._ports[2])
        account = {"host": "127.0.0.1", "smsc-username": "clinic", "smsc-password": "s3cr3t-8"}
        return _with(SHIPPED_LINE.read_text(), {**account, "reconnect-delay": 1, **changed})

    def _configured(self, ours: str, secret: str, waits: int) -> str:
        """The shipped configuration, for this machine."""
        admin, boxes, _, sending, bringing = self._ports
        changed = {
            "admin-port": admin,
            "smsbox-port": boxes,
            "sendsms-port": sending,
            "http-queue-delay": waits,
            "sms-resend-freq": waits,
            "sms-combine-concatenated-mo-timeout": waits,
            "reconnect-delay": waits,
            "port": bringing,
            "store-location": f'"{self.folder}/store"',
            "dlr-spool": f'"{self.folder}/receipts"',
            "include": f'"{self._line}"',
            "password": PASSWORD,
        }
        text = _with(SHIPPED.read_text(), changed)
        text = text.replace("/var/log/kannel", str(self.folder))
        return text.replace("http://127.0.0.1:8421", ours).replace("CHANGE-SECRET", secret)

    def __enter__(self) -> Kannel:
        self.start()
        return self

    def start(self) -> None:
        """Start both programs, and return once they serve."""
        waits_for = self._ports[1] if self._smpp else self._ports[2]
        self._run("/usr/sbin/bearerbox", str(self.config), waits_for=waits_for)
        self._run("/usr/sbin/smsbox", str(self.config), waits_for=self._ports[3])

    def kill(self) -> None:
        """End both programs at once, with SIGKILL."""
        while self._processes:
            process = self._processes.pop()
            process.kill()
            process.wait()

    def __exit__(self, *_: object) -> None:
        self.kill()
        if self._carrier is not None:
            self._carrier.kill()
            self._carrier.wait()

    def _run(self, *command: str, waits_for: int) -> None:
        with (self.folder / "output").open("ab") as output:
            process = subprocess.Popen(
                command, stdout=output, stderr=output, stdin=subprocess.DEVNULL, cwd=self.folder
            )
        self._processes.append(process)
        until(lambda: _listens(waits_for), f"{command[0]} listens")

    def bring(self, message: str) -> None:
        """Somebody writes, in the carrier's form: "from to text words", or "... ucs2 %04%1F".

        From then on the carrier is there and takes what goes out.
        """
        self._connect("-m", "1", message)

    def _connect(self, *arguments: str) -> None:
        """The gateway speaks to one carrier at a time, so the one before leaves."""
        if self._carrier is not None:
            self._carrier.kill()
            self._carrier.wait()
        command = [str(FAKE_CARRIER), "-H", "127.0.0.1", "-r", str(self._ports[2]), *arguments]
        with (self.folder / "carrier").open("ab") as output:
            self._carrier = subprocess.Popen(
                command, stdout=output, stderr=output, stdin=subprocess.DEVNULL, cwd=self.folder
            )

    def take(self) -> None:
        """The carrier is there, takes what goes out, and brings nothing."""
        self._connect("-m", "0", "0 0 text nothing")

    def sent(self) -> str:
        """What the carrier has said about what it took."""
        return (self.folder / "carrier").read_text(errors="replace")

    def log(self) -> str:
        """What both programs have said."""
        files = [self.folder / "output", *self.folder.glob("*.log")]
        return "".join(path.read_text(errors="replace") for path in files)


def _with(text: str, changed: Mapping[str, object]) -> str:
    """A configuration with these values in place of its own."""
    for key, value in changed.items():
        text, count = re.subn(rf"(?m)^(# )?{key} = .*$", f"{key} = {value}", text)
        assert count == 1, key
    return text


def until(condition: object, what: str, seconds: float = 30) -> None:
    """Return once the condition holds."""
    assert callable(condition)
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, f"not within {seconds} s: {what}"
        time.sleep(0.05)


def _listens(port: int) -> bool:
    with socket.socket() as one:
        return one.connect_ex(("127.0.0.1", port)) == 0
