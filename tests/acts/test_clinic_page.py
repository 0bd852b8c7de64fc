"""The clinic page in a real browser: a morning with sixty patients, worked off and counted.

The page and its chat show the same people in the same order; what is pressed does what is typed.
"""

from __future__ import annotations

import re
from datetime import date, timedelta
from pathlib import Path
from urllib.parse import parse_qsl

import httpx
import pytest
from acts.clinic_page import (
    Visitor,
    browsing,
    comes_in,
    fields,
    link_of,
    number_of,
    opened,
    pages_of,
    picture,
    staff,
    talks,
)
from axe_playwright_python.async_playwright import Axe
from playwright.async_api import Browser, Page
from world import MONDAY, Voice, World

from bot.rehearsal.history import open_rehearsal
from bot.store import people
from bot.store.people import Role
from bot.web.rehearsal import page_app
from bot.web.service import service
from dialogs.catalogues import languages
from dialogs.clinician import read_command
from dialogs.clinician_commands import (
    Acknowledge,
    AddNote,
    AllowHops,
    CloseEscalation,
    DischargePatient,
    GoOnToday,
    HandOver,
    LiftStop,
    LimitPain,
    Outcome,
    PausePatient,
    RemoveStaff,
    RestToday,
    ResumePatient,
    SetAside,
    SetLevel,
    SetPace,
    TellPatient,
)
from dialogs.lines import chat_words, page_line
from dialogs.words import shipped_words


async def test_a_morning_with_sixty_is_worked_off_at_the_page(tmp_path: Path) -> None:
    """The list is the one in chat. An emergency is taken and closed after its question, a second
    escalation handed over, all others looked at and set aside: one press a person."""
    async with opened(tmp_path) as world, browsing() as browser:
        ilse, bram = await world.clinician("Ilse"), await world.clinician("Bram")
        await talks(world, "Hal Birch", "heard a loud snap and now i cant push off that foot")
        await talks(world, "Dora Elm", "my whole calf is swollen and tender since yesterday")
        await talks(world, "Ida Cedar", "the green moon sings to the ladder")
        in_chat = await pages_of(bram)
        reader = await comes_in(browser, ilse)
        await picture(reader.page, "page-today")
        listed, reader.presses = await reader.people(), 0

        await reader.presses_on("I have 1, Hal Birch")
        taken = await reader.reply()
        await reader.presses_on("Sent on")
        asked = await reader.reply()
        await reader.presses_on("Yes")
        closed = await reader.reply()
        await reader.presses_on("I have 2, Dora Elm")
        await reader.presses_on("Hand over")
        handed = await reader.reply()
        for name in in_chat[:1] + in_chat[2:]:
            await reader.presses_on(f"Done for now with {name}")
        left = await reader.people()
        await world.stage.settle()

        assert in_chat[:2] == ["Hal Birch", "Dora Elm"]
        assert len(in_chat) == 17
        assert listed == in_chat
        assert taken.startswith("You have 1 (Hal Birch)")
        assert asked.startswith("Not done yet. 1 (Hal Birch) would be closed: sent on.")
        assert "1 (Hal Birch) is closed: sent on." in closed
        assert handed == "Bram is asked to take 2 (Dora Elm). You have it until they say so."
        assert any("Ilse asks you to take 2 (Dora Elm)" in text for text in bram.hears())
        assert (left, reader.presses) == (["Dora Elm"], 21)
        did = "SELECT action FROM audit WHERE action IN ('acknowledged', 'closed', 'offered')"
        done = [row["action"] for row in await world.rows(f"{did} ORDER BY id")]
        assert done == ["acknowledged", "closed", "acknowledged", "offered"]

        await talks(world, "Lea Larch", "i feel hopeless lately")
        await reader.page.reload()
        assert await reader.people() == ["Lea Larch new", "Dora Elm"]
        assert await reader.page.locator(".entry h3 .new").count() == 1


async def test_every_screen_can_be_used_on_a_phone_and_with_a_screen_reader(
    tmp_path: Path,
) -> None:
    """axe-core finds nothing, nothing is wider than 390 px, the keyboard alone sends a command; in
    both languages."""
    async with opened(tmp_path, seeded=False) as world, browsing() as browser:
        bram, ilse = await world.clinician("Bram"), await world.clinician("Ilse")
        ana = await world.patient("Ana")
        sql = "UPDATE people SET language = 'es' WHERE name = 'Bram'"
        await world.stage.run(lambda s: s.change(sql) and None)
        await ana.says("2 10")
        await ana.says("my calf is swollen")
        for voice, show, names in ((bram, "ver Ana", "Pacientes"), (ilse, "show Ana", "Patients")):
            reader = await comes_in(browser, voice, width=390)
            found = await checked(reader.page, world)
            await reader.page.locator("#say").focus()
            await reader.page.keyboard.type(show)
            async with reader.page.expect_navigation():
                await reader.page.keyboard.press("Enter")

            assert set(found.values()) == {"[] 390"}
            assert "Ana: " in await reader.reply()
            assert await reader.page.evaluate("document.activeElement.id") == "reply"
            link = reader.page.get_by_role("link", name=names, exact=True)
            assert await link.count() == 1

        await a_passkey_lets_in(world, browser, ilse)


async def a_passkey_lets_in(world: World, browser: Browser, voice: Voice) -> None:
    """With a virtual authenticator of the browser (W3C WebAuthn, WebDriver extension): a passkey is
    made, lets its owner in again without a link, and no more after "page off"; an answer that was
    used, or that another screen asked for, lets in nobody."""
    reader = await comes_in(browser, voice)
    page, home = reader.page, f"{world.clinic.page_url}/page"
    device = await page.context.new_cdp_session(page)
    options = {
        "protocol": "ctap2", "transport": "internal", "hasResidentKey": True,
        "hasUserVerification": True, "isUserVerified": True,
    }  # fmt: skip
    await device.send("WebAuthn.enable")
    await device.send("WebAuthn.addVirtualAuthenticator", {"options": options})
    await page.goto(f"{home}/clinic")
    await reader.presses_on("Add a passkey")
    assert await reader.reply() == page_line("passkey-kept", "en")

    await reader.presses_on("Leave")
    await page.get_by_role("link", name="I have a passkey").click()
    sent: list[str] = []
    page.on("request", lambda asked: sent.append(asked.post_data or ""))
    await reader.presses_on("Come in with a passkey")
    assert await page.locator("h1").inner_text() == "Today, Mon 02 Mar"

    used = next(text for text in sent if "credential" in text)
    await page.context.clear_cookies()
    await page.goto(f"{home}/in")
    shown = dict(parse_qsl(used))
    visitor = Visitor(world)
    visitor.client.cookies.update(
        {one["name"]: one["value"] for one in await page.context.cookies()}
    )
    token = await page.locator("input[name=token]").first.input_value()
    other = await visitor.client.post("/page/in", data={**shown, "token": token})
    await voice.says("page off")
    await page.reload()
    await reader.presses_on("Come in with a passkey")
    assert other.status_code == 401
    assert await page.locator("h1").inner_text() == "Not here"


async def checked(page: Page, world: World) -> dict[str, str]:
    """By screen: what axe-core finds in it, and how wide it is."""
    found = {}
    for place in (
        "",
        "/patients",
        f"/patients/{await number_of(world, 'Ana')}",
        "/clinic",
        "/enrol",
    ):
        await page.goto(f"{world.clinic.page_url}/page{place}")
        result = await Axe().run(page)
        wrong = [one["id"] for one in result.response["violations"]]
        wide = await page.evaluate("document.documentElement.scrollWidth")
        found[place] = f"{wrong} {wide}"
        if place.startswith("/patients/"):
            await picture(page, "page-patient-on-a-phone")
    return found


# Doors


async def test_a_link_is_good_once_and_for_ten_minutes(tmp_path: Path) -> None:
    """To look at it uses nothing up. Nothing that is kept would let anybody in."""
    async with opened(tmp_path, seeded=False) as world:
        ilse = await world.clinician("Ilse")
        link = await link_of(ilse)
        looker, first, second, late = (Visitor(world) for _ in range(4))
        await looker.client.get(link)
        went_in = await first.goes_in(link)
        again = await second.goes_in(link)
        older = await link_of(ilse)
        newest = await link_of(ilse)
        void = await second.goes_in(older)
        await world.goes_to(world.now + timedelta(minutes=10))
        too_late = await late.goes_in(newest)

        cookie = went_in.headers["set-cookie"]
        assert (went_in.status_code, await first.sees()) == (303, 200)
        assert [one.status_code for one in (again, void, too_late)] == [401, 401, 401]
        assert [await one.sees() for one in (looker, second, late)] == [401, 401, 401]
        assert all(part in cookie for part in ("HttpOnly", "SameSite=strict", "Max-Age=43200"))
        key = cookie.split("=")[1].split(";")[0]
        kept = str(await world.rows("SELECT * FROM page_keys"))
        sent = str(await world.rows("SELECT text FROM outbox"))
        assert key not in kept
        assert link.partition("key=")[2] not in kept + sent


async def test_a_session_ends_after_twelve_hours_by_page_off_and_on_leaving(
    tmp_path: Path,
) -> None:
    """Each by itself; a patient never gets in, and an owner sees no patient."""
    async with opened(tmp_path, seeded=False) as world:
        visitors = {}
        for name in ("Ilse", "Bram", "Cato"):
            voice, visitors[name] = await world.clinician(name), Visitor(world)
            await visitors[name].goes_in(await link_of(voice))
        await world.patient("Ana")
        before = [await one.sees() for one in visitors.values()]
        await Voice(world, "Bram").says("page off")
        cato = (await world.rows("SELECT id FROM people WHERE name = 'Cato'"))[0]["id"]
        await world.stage.run(people.leave, cato, world.now)
        after = [await one.sees() for one in visitors.values()]
        await world.goes_to(world.now + timedelta(hours=12))
        at_last = await visitors["Ilse"].sees()
        owner = Visitor(world)
        oda = await staff(world, "Oda", Role.OWNER)
        await owner.goes_in(await link_of(oda))
        patients = await owner.client.get("/page/patients")
        one = await owner.client.get(f"/page/patients/{await number_of(world, 'Ana')}/fhir")

        assert (before, after, at_last) == ([200, 200, 200], [200, 401, 401], 401)
        assert "Ana" not in patients.text
        assert one.status_code == 401


async def test_a_form_is_taken_with_the_token_of_its_session_only(tmp_path: Path) -> None:
    """Another's token, none, or a place elsewhere to go on to: nothing is done, nobody is sent."""
    async with opened(tmp_path, seeded=False) as world:
        ilse, bram = await world.clinician("Ilse"), await world.clinician("Bram")
        ana = await world.patient("Ana")
        await ana.says("my calf is swollen")
        hers, his = Visitor(world), Visitor(world)
        await hers.goes_in(await link_of(ilse))
        await his.goes_in(await link_of(bram))
        shown = await hers.client.get("/page")
        token = fields(shown.text)["token"]
        form = {"act": "take", "number": "1", "back": "//elsewhere.example"}
        refused = [
            (await his.client.post("/page/do", data=data)).status_code
            for data in (form, {**form, "token": token}, {**form, "token": "\u00e9"})
        ]
        held = (await world.escalations(ana))[0].acknowledged_by
        done = await hers.client.post("/page/do", data={**form, "token": token})

        assert (refused, held) == ([403, 403, 403], None)
        assert (done.status_code, done.headers["location"]) == (303, "/page")
        assert (await world.escalations(ana))[0].acknowledged_by is not None
        policy = shown.headers["content-security-policy"]
        assert policy.startswith("default-src 'none'; style-src 'self'; script-src 'self';")
        assert "unsafe" not in policy


async def test_the_rehearsal_has_a_clinic_page_too(tmp_path: Path) -> None:
    """On the same address: a made-up clinician asks for it; what is done there is sent at once."""
    async with open_rehearsal(
        tmp_path / "rehearsal.sqlite", echo=lambda _: None, days=1
    ) as rehearsal:
        address = "http://127.0.0.1:8422"
        application = page_app(rehearsal, address)
        sent: list[str] = []
        rehearsal.heard.append(lambda outgoing: sent.append(outgoing.text))
        await rehearsal.say("chat", "ilse", "page")
        link = re.search(r"http\S+", sent[-1])
        transport = httpx.ASGITransport(application)
        async with httpx.AsyncClient(transport=transport, base_url=address) as client:
            assert link is not None
            shown = await client.get(link[0])
            await client.post("/page/in", data=fields(shown.text))
            page = await client.get("/page/patients")
            asks = {"token": fields(page.text)["token"], "act": "tell", "patient": "Nadia"}
            await client.post("/page/do", data={**asks, "words": "see you on Monday"})

        assert page.status_code == 200
        assert "Nadia" in page.text
        assert "see you on Monday" in sent[-1]


async def test_no_page_where_the_clinic_has_none(world: World) -> None:
    """Off by default: the bot says so, and there is no such door."""
    ilse = await world.clinician("Ilse")

    said = await ilse.says("page")
    routes = {getattr(one, "path", "") for one in service(world.stage.app, Path("x")).routes}

    assert "your clinic has no page" in said[0]
    assert not any(path.startswith("/page") for path in routes)


ACTS = {
    "take": Acknowledge(12),
    "give": HandOver(12, "Bram"),
    "close": CloseEscalation(12, Outcome.SENT_ON),
    "close-rest": CloseEscalation(12, Outcome.REST, until=date(2026, 3, 9)),
    "note": AddNote(12, "calf is soft"),
    "remove-staff": RemoveStaff("Bram"),
    "aside": SetAside("Ana"),
    "level": SetLevel("Ana", 2, 1),
    "limit": LimitPain("Ana", 3),
    "pause": PausePatient("Ana", date(2026, 3, 9)),
    "pause-open": PausePatient("Ana"),
    "resume": ResumePatient("Ana"),
    "rest": RestToday("Ana"),
    "go-on": GoOnToday("Ana"),
    "slower": SetPace("Ana", slower=True),
    "usual-pace": SetPace("Ana", slower=False),
    "hops": AllowHops("Ana", True),
    "lift": LiftStop("Ana"),
    "discharge": DischargePatient("Ana"),
    "tell": TellPatient("Ana", "see you at 3: bring shoes"),
}
FIELDS = {
    "number": "12", "to": "Bram", "outcome": "sent on", "until": "2026-03-09", "patient": "Ana",
    "level": "2", "dose": "1", "limit": "3", "note": "calf is soft",
    "words": "see you at 3: bring shoes",
}  # fmt: skip


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("act", ACTS)
def test_what_a_form_asks_for_is_read_as_its_command(act: str, language: str) -> None:
    """Each in each language, as if it had been typed; a form with a field missing asks nothing."""
    words = chat_words(act, language, FIELDS)

    found = read_command(words, today=MONDAY.date(), words=shipped_words(language))

    assert found == ACTS[act]
    assert chat_words(act, language, {}) == ""
