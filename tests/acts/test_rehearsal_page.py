"""The rehearsal page in a real browser, on the real bot with a short history of its own.

Each test says what somebody at the page does, and what they then see.
"""

from __future__ import annotations

import asyncio
import os
import queue
import re
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

import httpx
import pytest
import uvicorn
from playwright.sync_api import Browser, Page, expect, sync_playwright
from stand_ins.patience import PATIENCE_MS, PATIENCE_SECONDS

from bot.errors import PortTakenError
from bot.rehearsal.history import START, open_rehearsal
from bot.web.rehearsal import TEXT_MAX, listening_socket, page_server

ROOT = Path(__file__).resolve().parents[2]
PICTURE = ROOT / "deploy" / "pictures" / "rehearsal.png"
TAKES_PICTURES = os.environ.get("NEXTMORNING_PICTURES") == "1"

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
)  # fmt: skip

WORRY = "my calf is swollen and hot since last night"
ADVICE = re.compile("exercises|session|rest", re.IGNORECASE)


@dataclass
class Served:
    """A page that is being served. `lines`: what the terminal was told."""

    port: int
    server: uvicorn.Server
    lines: list[str] = field(default_factory=list)

    @property
    def address(self) -> str:
        """Where it is."""
        return f"http://127.0.0.1:{self.port}"


@pytest.fixture
def start() -> datetime:
    """When the history begins."""
    return START


@pytest.fixture
def served(tmp_path: Path, start: datetime) -> Iterator[Served]:
    """A page over two days of history, in a thread of its own as the browser waits in this one."""
    began: queue.SimpleQueue[Served | BaseException] = queue.SimpleQueue()
    thread = threading.Thread(target=lambda: asyncio.run(_serve(tmp_path, start, began)))
    thread.start()
    found = began.get(timeout=PATIENCE_SECONDS)
    if isinstance(found, BaseException):
        raise found
    yield found
    found.server.should_exit = True
    thread.join(PATIENCE_SECONDS)


async def _serve(
    folder: Path, start: datetime, began: queue.SimpleQueue[Served | BaseException]
) -> None:
    lines: list[str] = []
    try:
        path = folder / "rehearsal.sqlite"
        async with open_rehearsal(path, start, lines.append, days=2) as rehearsal:
            with listening_socket(0) as listening:
                server = page_server(rehearsal)
                began.put(Served(listening.getsockname()[1], server, lines))
                await server.serve(sockets=[listening])
    except BaseException as error:
        began.put(error)
        raise


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One browser for all."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(ARGUMENTS))
        yield browser
        browser.close()


@pytest.fixture
def window(browser: Browser) -> Iterator[Callable[..., Page]]:
    """Opens windows; whatever a page complains of in its console fails the test."""
    complaints: list[str] = []
    contexts = []

    def opened(address: str, width: int = 1366, height: int = 900, **options: object) -> Page:
        context = browser.new_context(
            viewport={"width": width, "height": height}, locale="en-GB", **options
        )
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(PATIENCE_MS)
        page.on("console", lambda message: complaints.append(message.text))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.goto(address)
        return page

    yield opened
    for context in contexts:
        context.close()
    assert complaints == []


def sees(page: Page, place: str, text: str | re.Pattern[str]) -> None:
    """A text is to be seen in a part of the page, within the time a loaded machine takes."""
    expect(page.locator(place)).to_contain_text(text, timeout=PATIENCE_MS)


def writes(page: Page, kind: str, text: str) -> None:
    """Type into a thread's box and press Enter, by keyboard alone; wait until it has passed."""
    before = last_key(page, kind)
    page.locator(f"#{kind}-text").focus()
    page.keyboard.type(text)
    page.keyboard.press("Enter")
    has_passed(page, kind, text, before)


def last_key(page: Page, kind: str) -> str:
    """Which entry of a thread is the person's latest; empty where they have said nothing."""
    said = page.locator(f"#{kind} .person")
    return (said.last.get_attribute("data-key") or "") if said.count() else ""


def has_passed(page: Page, kind: str, text: str, before: str) -> None:
    """A new entry of the person stands in the thread, with this text."""
    last = page.locator(f"#{kind} .person").last
    expect(last).not_to_have_attribute("data-key", before, timeout=PATIENCE_MS)
    expect(last.locator("p")).to_have_text(text, timeout=PATIENCE_MS)


def tabs_to(page: Page, name: str) -> None:
    """Press Tab until the button of this name has the focus."""
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent.trim()") == name:
            return
    raise AssertionError(f"Tab never came to {name!r}")


def test_answers_pressed_and_typed_by_keyboard_lead_to_advice(
    served: Served, window: Callable[..., Page]
) -> None:
    """A patient who presses one answer and types the others is told what to do, and why."""
    page = window(served.address)
    expect(page.locator("#patient .pad button")).to_have_count(11)

    before = last_key(page, "patient")
    tabs_to(page, "1) 2")
    page.keyboard.press("Enter")
    has_passed(page, "patient", "1) 2", before)
    for answer in ("10", "2"):
        # How many questions a morning has depends on the day before.
        if "today's decision" not in page.locator("#decided").inner_text():
            writes(page, "patient", answer)

    sees(page, "#decided", "today's decision")
    expect(page.locator("#patient .script")).to_contain_text(ADVICE, timeout=PATIENCE_MS)
    sees(page, "#decided", "Reason:")
    sees(page, "#news", "Bot:")
    assert page.evaluate("document.activeElement.id") == "patient-text"
    # The first session came with its picture, which is shown as the patient has it.
    drawn = page.locator("#patient .script img").first
    assert drawn.evaluate("image => image.complete && image.naturalWidth") == 390
    sees(page, "#first", "Try this first")


def test_a_warning_sign_reaches_the_clinician_and_is_taken_over(
    served: Served, window: Callable[..., Page]
) -> None:
    """What a patient writes about a swollen calf waits for a clinician until one has it."""
    page = window(f"{served.address}/?patient=petra&clinician=ilse")

    writes(page, "patient", WORRY)
    sees(page, "#clinician", WORRY)
    sees(page, "#escalations", "nobody has it yet")
    page.get_by_role("button", name="I have it").click()

    sees(page, "#escalations", "Ilse has it since")
    sees(page, "#escalations", "acknowledged")
    sees(page, "#patient .script", "Ilse")
    expect(page.get_by_role("button", name="I have it")).to_have_count(0)
    assert not page.is_checked("#alone")


def test_an_escalation_nobody_has_goes_to_the_next_clinician(
    served: Served, window: Callable[..., Page]
) -> None:
    """While nobody says that they have it, moving time shows the next clinician being told."""
    page = window(f"{served.address}/?patient=petra&clinician=bram")
    writes(page, "patient", WORRY)

    for _ in range(12):
        if WORRY in page.locator("#clinician").inner_text():
            break
        clock = page.locator(".times time").first
        before = clock.get_attribute("datetime") or ""
        page.get_by_role("button", name="Go to what is next").click()
        expect(clock).not_to_have_attribute("datetime", before, timeout=PATIENCE_MS)

    sees(page, "#clinician", WORRY)


def test_time_moves_by_a_day_to_a_time_and_to_what_is_next(
    served: Served, window: Callable[..., Page]
) -> None:
    """The three controls move the clock where they say, and never back."""
    page = window(served.address)
    sees(page, ".times", "Wednesday 4 March")

    page.get_by_role("button", name="+1 day").click()
    sees(page, ".times", "07:15 Thursday 5 March 2026")
    page.fill("#on", "2026-03-06")
    page.fill("#at", "06:30")
    page.get_by_role("button", name="Go", exact=True).click()
    sees(page, ".times", "06:30 Friday 6 March 2026")
    page.get_by_role("button", name="Go to what is next").click()
    sees(page, ".times", "07:15 Friday 6 March 2026")
    page.fill("#on", "2026-03-05")
    page.get_by_role("button", name="Go", exact=True).click()

    sees(page, "#notice", "Time only goes forward here")
    sees(page, ".times", "07:15 Friday 6 March 2026")


# The clocks go forward on Sunday 29 March 2026 at 01:00 UTC.
@pytest.mark.parametrize("start", [datetime(2026, 3, 26, 9, tzinfo=UTC)])
def test_a_day_over_the_change_of_clocks_keeps_the_wall_clock(
    served: Served, window: Callable[..., Page]
) -> None:
    """A day later it is the same time on the wall, though only 23 hours have passed."""
    page = window(served.address)
    sees(page, ".times", "07:15 Saturday 28 March 2026")

    page.get_by_role("button", name="+1 day").click()

    sees(page, ".times", "07:15 Sunday 29 March 2026")


def test_who_answers_alone_can_be_changed(served: Served, window: Callable[..., Page]) -> None:
    """A patient told not to answer alone, even just after the question, leaves it open."""
    page = window(f"{served.address}/?patient=osric")
    page.fill("#at", "07:45")
    page.get_by_role("button", name="Go", exact=True).click()
    sees(page, ".times", "07:45")
    sees(page, ".due", "answers alone")
    expect(page.locator("#alone")).to_be_checked()

    page.locator("#alone").click()
    page.fill("#at", "07:55")
    page.get_by_role("button", name="Go", exact=True).click()
    sees(page, ".times", "07:55")

    assert page.locator("#patient .pad button").count() > 0
    page.reload()
    expect(page.locator("#alone")).not_to_be_checked()


def test_what_is_typed_is_never_taken_for_markup(
    served: Served, window: Callable[..., Page]
) -> None:
    """A script written as a message stands there as it was written, wherever it is shown."""
    page = window(f"{served.address}/?patient=tomas")
    script = "<script>document.title='taken'</script><b id='bold'>calf is hot and swollen</b>"

    writes(page, "patient", script)
    sees(page, "#clinician", "<script>")
    page.reload()

    sees(page, "#patient .script", script)
    expect(page.locator("#bold")).to_have_count(0)
    assert page.title().startswith("Rehearsal")


def test_nothing_has_to_be_scrolled_sideways(served: Served, window: Callable[..., Page]) -> None:
    """At every width the page is no wider than the window, with a long word in it as well."""
    writes(window(served.address), "patient", "so" + "o" * 200)

    for width, scheme in ((390, "light"), (390, "dark"), (320, "light"), (820, "light")):
        page = window(served.address, width, 844, color_scheme=scheme)
        sees(page, "#patient .script", "sooooo")
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert page.evaluate("document.querySelector('#patient .script').scrollWidth") <= width


def test_the_page_works_without_scripts(served: Served, window: Callable[..., Page]) -> None:
    """Writing, pressing, moving time and the tick box work as plain forms."""
    page = window(served.address, java_script_enabled=False)

    before = last_key(page, "patient")
    page.locator("#patient .pad button", has_text=re.compile(r"^1\) 2$")).click()
    has_passed(page, "patient", "1) 2", before)
    before = last_key(page, "patient")
    page.fill("#patient-text", "10")
    page.locator("#patient .typing button").click()
    has_passed(page, "patient", "10", before)
    page.get_by_role("button", name="+1 day").click()
    sees(page, ".times", "Thursday 5 March")
    page.check("#alone")
    page.get_by_role("button", name="Set").click()

    expect(page.locator("#alone")).to_be_checked()


def test_half_written_words_survive_what_happens_beside_them(
    served: Served, window: Callable[..., Page]
) -> None:
    """What stands in one box is kept while something is sent from the other."""
    page = window(served.address)
    page.fill("#clinician-text", "show Na")

    writes(page, "patient", "plan")

    assert page.input_value("#clinician-text") == "show Na"
    assert page.input_value("#patient-text") == ""


def test_every_control_has_a_name_and_the_focus_is_seen(
    served: Served, window: Callable[..., Page]
) -> None:
    """Tab comes first to the skip links, and each thing it stops at is named and outlined."""
    page = window(served.address)
    stops = []

    for _ in range(12):
        page.keyboard.press("Tab")
        stops.append(
            page.evaluate(
                """() => { const e = document.activeElement, s = getComputedStyle(e);
                return [e.ariaLabel || e.textContent.trim() || (e.labels && e.labels[0]
                    && e.labels[0].textContent) || "", s.outlineStyle]; }"""
            )
        )

    assert stops[0][0] == "Skip to the patient's thread"
    assert [name for name, outline in stops if not name or outline == "none"] == []


FORMS = {
    "no token": ({}, {"token": ""}, 403),
    "token of an earlier run": ({}, {"token": "x" * 32}, 403),
    "another page's origin": ({"origin": "http://other.example"}, {}, 403),
    "origin hidden": ({"origin": "null"}, {}, 403),
    "no origin named": ({"origin": None}, {}, 403),
    "another host": ({"host": "other.example"}, {}, 400),
    "a form too long": ({}, {"text": "y" * 40_000}, 413),
    "a form of the page": ({}, {}, 303),
}  # fmt: skip


def test_only_a_form_of_the_page_itself_is_taken(served: Served) -> None:
    """A form is done only with this run's token, from this origin, to this host; to another host
    nothing is shown, and no script but the page's own is allowed, no frame, no copy.
    """
    shown = httpx.get(served.address)
    token = re.findall(r'name="token" value="([^"]+)"', shown.text)[0]
    form = {"token": token, "address": "nadia", "text": "from elsewhere", "place": "patient"}

    for about, (headers, change, status) in FORMS.items():
        sent = {"origin": served.address, **headers}
        answer = httpx.post(
            f"{served.address}/say",
            data={**form, **change},
            headers={name: value for name, value in sent.items() if value is not None},
        )
        assert answer.status_code == status, about
        assert ("from elsewhere" in httpx.get(served.address).text) is (status == 303), about

    foreign = httpx.get(served.address, headers={"host": f"other.example:{served.port}"})
    assert (foreign.status_code, "Nadia" in foreign.text) == (400, False)
    assert "default-src 'none'" in shown.headers["content-security-policy"]
    assert "frame-ancestors 'none'" in shown.headers["content-security-policy"]
    assert shown.headers["cache-control"] == "no-store"


SENSELESS = {
    "nothing written": ("say", {"address": "nadia", "text": "  "}, "empty"),
    "nobody's address": ("say", {"address": "nobody", "text": "hi"}, "gone"),
    "too long": ("say", {"address": "nadia", "text": "a" * (TEXT_MAX + 1)}, "long"),
    "no message": ("press", {"message": "9999999", "button": "0"}, "gone"),
    "no button": ("press", {"message": "1", "button": "-1"}, "gone"),
    "not a number": ("press", {"message": "one", "button": "0"}, "gone"),
    "no such date": ("go", {"on": "2026-02-30", "at": "07:00"}, "unread"),
    "in the past": ("go", {"on": "2026-03-01", "at": "07:00"}, "past"),
    "end of the calendar": ("go", {"on": "9999-12-31", "at": "23:59"}, "far"),
    "not a patient": ("alone", {"address": "ilse", "alone": "1"}, "gone"),
}


def test_what_makes_no_sense_is_refused_with_a_sentence(served: Served) -> None:
    """A form that cannot be done says why, and changes nothing."""
    before = httpx.get(served.address).text
    token = re.findall(r'name="token" value="([^"]+)"', before)[0]

    for about, (door, fields, notice) in SENSELESS.items():
        answer = httpx.post(
            f"{served.address}/{door}",
            data={"token": token, **fields},
            headers={"origin": served.address},
        )
        assert answer.headers["location"].startswith(f"/?notice={notice}"), about
        assert httpx.get(served.address).text == before, about


def test_each_message_is_told_in_the_terminal(served: Served) -> None:
    """Time, from whom, to whom and the words, one message a line, without control characters."""
    token = re.findall(r'name="token" value="([^"]+)"', httpx.get(served.address).text)[0]

    httpx.post(
        f"{served.address}/say",
        data={"token": token, "address": "ilse", "text": "who needs me?\x1b[2J"},
        headers={"origin": served.address},
    )

    told = [line for line in served.lines if "ilse (chat)" in line]
    assert told[0].endswith("ilse (chat) -> bot: who needs me? [2J")
    assert "bot -> ilse (chat): " in told[1]
    assert told[0].startswith("Wed 04 Mar 07:15")


@pytest.mark.parametrize(
    "listen",
    [
        pytest.param(lambda: socket.create_server(("127.0.0.1", 0)), id="another program"),
        pytest.param(lambda: listening_socket(0), id="another rehearsal, still at its history"),
    ],
)
def test_a_taken_port_is_a_sentence(listen: Callable[[], socket.socket]) -> None:
    """Where another program listens, the error names the port and what to do."""
    with listen() as other:
        port = other.getsockname()[1]

        with pytest.raises(PortTakenError, match=f"port {port} .*--port"):
            listening_socket(port)


def test_the_command_lives_the_weeks_serves_them_and_ends(
    tmp_path: Path, window: Callable[..., Page]
) -> None:
    """The command as anyone starts it: the address is printed, the page opens, Ctrl-C ends it."""
    store = tmp_path / "weeks.sqlite"
    command = [sys.executable, "-m", "bot", "rehearse", "--port", "0", "--store", str(store)]
    with subprocess.Popen(
        command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    ) as running:
        try:
            lines = iter(running.stdout or [])
            address = next(
                found[0] for line in lines if (found := re.search(r"http://[\d.:]+/", line))
            )
            page = window(address)
            sees(page, ".times", "07:15 Thursday 26 March 2026")
            sees(page, "#escalations", "Tomas")
            expect(page.locator("#patient .pad button")).to_have_count(11)
            writes(page, "patient", "3 10 2")
            sees(page, "#decided", "today's decision")
            _picture(page)
            running.send_signal(signal.SIGINT)
            left = "".join(lines)
        finally:
            running.kill()

    assert left.endswith("The rehearsal has ended.\n")
    assert store.exists()


def test_a_file_that_is_there_is_never_used(tmp_path: Path) -> None:
    """A rehearsal refuses an existing file and leaves it as it is."""
    store = tmp_path / "clinic.sqlite"
    store.write_text("a clinic's")

    command = [sys.executable, "-m", "bot", "rehearse", "--store", str(store)]
    ended = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)

    assert ended.returncode == 2
    assert "name another one" in ended.stderr
    assert store.read_text() == "a clinic's"


def _picture(page: Page) -> None:
    """Keep the page as a picture, where pictures are asked for."""
    if TAKES_PICTURES:
        PICTURE.parent.mkdir(exist_ok=True)
        page.locator("h1").click()
        page.screenshot(path=PICTURE, full_page=True)
