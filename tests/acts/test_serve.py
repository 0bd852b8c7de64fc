"""`nextmorning serve` as a process of its own: a real store, the real Telegram client, a Bot API on
the loopback address. Only the time of day is whatever it is; the short commands beside it are typed
in this process."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from acts.typing_commands import Ended, typed
from stand_ins.bot_api import BotApi
from stand_ins.patience import PATIENCE_SECONDS
from world import CLINIC_TABLE

PATIENT, ILSE, BRAM = 71, 72, 73
CLINICIANS = {ILSE: "Ilse", BRAM: "Bram"}
ROOT = Path(__file__).parents[2]

CONFIG = (
    CLINIC_TABLE
    + """\
[escalation]
emergency_minutes = 1

[telegram]
base_url = "{base_url}"

[store]
path = "{path}"
"""
)


class Service:
    """The program with one configuration file; `run` for short commands, `start` to serve."""

    def __init__(self, folder: Path, api: BotApi, command: Callable[..., Ended]) -> None:
        self.config = folder / "clinic.toml"
        self.path = folder / "clinic.sqlite"
        self.config.write_text(CONFIG.format(base_url=api.base_url, path=self.path))
        self.log = folder / "log"
        self.api = api
        self.command = command
        self.process: subprocess.Popen[bytes] | None = None

    def run(self, *arguments: str) -> Ended:
        """Run one command to its end."""
        return self.command(*arguments, "--config", str(self.config))

    def code(self, *arguments: str) -> str:
        """Run an inviting command; gives the code it shows."""
        found = re.search(r"^Code for .*: ([A-Z2-9]{8})$", self.run(*arguments).out, re.M)
        assert found is not None
        return found[1]

    def start(self) -> None:
        """Serve, in a process of its own."""
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "bot", "serve", "--config", str(self.config)],
                stdout=log,
                stderr=log,
                cwd=ROOT,
            )

    def stop(self, number: int = signal.SIGTERM) -> int:
        """Send a signal; gives the exit status."""
        assert self.process is not None
        self.process.send_signal(number)
        return self.process.wait(timeout=PATIENCE_SECONDS)

    def says(self, chat: int, text: str, reply: str) -> None:
        """Somebody writes, and in the end hears something that contains `reply`."""
        before = len(self.heard(chat))
        self.api.inject_text(chat, text)
        self.api.wait_until(lambda: any(reply in heard for heard in self.heard(chat)[before:]))

    def heard(self, chat: int) -> list[str]:
        """What was sent to a chat so far."""
        return [sent.text for sent in self.api.sent if sent.chat == chat]


@pytest.fixture
def command(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., Ended]:
    """The command line, typed."""
    return lambda *words: typed(monkeypatch, capsys, *words)


@pytest.fixture
def service(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: Callable[..., Ended]
) -> Iterator[Service]:
    """A configured clinic that does not serve yet."""
    monkeypatch.setenv("NEXTMORNING_TELEGRAM_TOKEN", BotApi.token)
    with BotApi() as api:
        made = Service(tmp_path, api, command)
        yield made
        if made.process is not None and made.process.poll() is None:
            made.process.kill()
            made.process.wait()


def enrol(service: Service) -> None:
    """Two clinicians and a patient redeem their codes; the patient answers everything."""
    codes = {chat: service.code("invite-clinician", name) for chat, name in CLINICIANS.items()}
    service.start()
    for chat, code in codes.items():
        service.says(chat, f"/start {code}", "I HAVE IT")
    code = service.code("enrol", "Ana", "--tendon", "mid-portion")
    service.says(PATIENT, f"/start {code}", "Do you agree?")
    service.says(PATIENT, "yes", "Which city")
    service.says(PATIENT, "London", "where you are now")
    service.says(PATIENT, "yes", "get up")
    service.says(PATIENT, "7:30", "Which side")
    service.says(PATIENT, "left", "how much pain")
    service.says(PATIENT, "2", "stiffness")
    service.says(PATIENT, "10 min", "do again")
    service.says(PATIENT, "dance at the wedding", "both feet ten times")
    service.says(PATIENT, "no", "that is all")


def test_a_warning_sign_over_telegram_reaches_a_clinician_who_takes_it(service: Service) -> None:
    """Enrolment, a warning sign, the notice, the pressed button, and the word to the patient."""
    enrol(service)

    service.says(PATIENT, "heard a snap and now i cant push off that foot", "112")
    service.api.wait_until(lambda: any("I HAVE IT" in text for text in service.heard(ILSE)[1:]))
    notice = [sent for sent in service.api.sent if sent.chat == ILSE][-1]
    service.api.inject_press(ILSE, notice.message_id, notice.choices[0][0][1])
    service.api.wait_until(
        lambda: any("Ilse has your message" in text for text in service.heard(PATIENT))
    )

    assert service.stop() == 0
    assert BotApi.token not in service.log.read_text()


def test_a_killed_service_goes_on_where_it_was(service: Service) -> None:
    """SIGKILL in the middle of enrolment: after a restart the next answer is understood."""
    service.code("invite-clinician", "Ilse")
    code = service.code("enrol", "Ana", "--tendon", "mid-portion")
    service.start()
    service.says(PATIENT, f"/start {code}", "Do you agree?")
    service.says(PATIENT, "yes", "Which city")

    service.stop(signal.SIGKILL)
    service.start()
    service.says(PATIENT, "London", "where you are now")

    assert service.stop() == 0


def test_check_says_what_is_missing_and_nothing_else_happens(tmp_path: Path) -> None:
    """Every problem at once, each with its key, also what lies behind a table that cannot be
    read: a token, the folder of the store; exit status 2."""
    config = tmp_path / "clinic.toml"
    config.write_text(
        '[clinic]\nname = "A"\nphone = ""\nzone = "Europe/Lundon"\nemergency_number = "112"\n'
        '[prompts]\nquiet_form = "21:00"\n[hours]\nopens = "8 o\'clock"\n'
        '[telegram]\ntoken = "hello"\n[store]\npath = "none/here.db"\n'
    )

    done = subprocess.run(
        [sys.executable, "-m", "bot", "serve", "--config", str(config), "--check"],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
    )

    assert done.returncode == 2
    for line, key in (
        (3, "clinic.phone"), (4, "clinic.zone"), (1, "clinic.crisis_line"),
        (7, "prompts.quiet_form"), (9, "hours.opens"), (11, "telegram.token"), (13, "store.path"),
    ):  # fmt: skip
        assert f"{config}:{line}: {key}: " in done.stderr
    assert "Traceback" not in done.stderr


def test_check_of_the_example_names_what_a_clinic_must_fill_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: Callable[..., Ended]
) -> None:
    """The shipped example lacks a token and, on this machine, the store's folder."""
    example = (ROOT / "deploy" / "clinic.example.toml").read_text()
    config = tmp_path / "clinic.toml"
    config.write_text(example.replace("/var/lib/nextmorning", f"{tmp_path}/none"))
    monkeypatch.delenv("NEXTMORNING_TELEGRAM_TOKEN", raising=False)

    done = command("serve", "--config", str(config), "--check")

    assert done.status == 2
    assert "telegram.token" in done.err
    assert "store.path" in done.err
    for key in ("name", "phone", "crisis_line"):
        assert f"clinic.{key}: still that of the example" in done.err


def test_the_examples_numbers_are_never_served(service: Service) -> None:
    """Nothing else is wrong: a patient in a crisis would be sent to a number that is none."""
    text = service.config.read_text().replace(
        "the crisis line on 020 7946 0199", "the crisis line on 000 000"
    )
    service.config.write_text(text)
    service.run("invite-clinician", "Ilse")

    done = service.run("serve")

    assert done.status == 2
    assert "clinic.crisis_line: still that of the example" in done.err


def test_check_refuses_what_would_reach_nobody(service: Service) -> None:
    """A number that is none, a secret that others read, quiet hours that never end, a clinician who
    has not joined: all at once where the file can be read."""
    service.run("invite-clinician", "Ilse")
    text = service.config.read_text().replace('"112"', '"ask us"')
    quiet = '[prompts]\nquiet_from = "07:00"\n[sms_gateway]\nsecret = "not to be read"\n'
    service.config.write_text(text + quiet)
    wrong = service.run("serve", "--check").err
    service.config.write_text(text)
    late = service.run("serve", "--check").err

    assert "prompts" in wrong
    assert "quiet_until was expected to be another time" in wrong
    assert "sms_gateway.secret: others can read it; expected 0600" in wrong
    assert f"{service.config}:5: clinic.emergency_number: expected a number" in wrong
    assert "nobody who would hear an alarm has joined yet: Ilse must send their code" in late
