"""Somebody of the clinic at its page, in a real browser or in none."""

from __future__ import annotations

import asyncio
import os
import re
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from html import unescape
from pathlib import Path
from typing import Any

import httpx
from acts.sixty import sixty
from playwright.async_api import Browser, Page, async_playwright
from stand_ins.patience import PATIENCE_MS
from world import MONDAY, Voice, World, world_at

from bot.rehearsal.clinic import made_up_clinic
from bot.store import people
from bot.store.people import Role
from bot.web.service import WebServer, service

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = ("--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync")

PICTURES = Path(__file__).resolve().parents[2] / "deploy" / "pictures"
TAKES_PICTURES = os.environ.get("NEXTMORNING_PICTURES") == "1"


@asynccontextmanager
async def opened(folder: Path, seeded: bool = True) -> AsyncIterator[World]:
    """A clinic with a page, served on this machine, at `world.clinic.page_url`."""
    path = folder / "clinic.sqlite"
    clinic = replace(made_up_clinic(), page_url="http://127.0.0.1:0")
    world = world_at(path, MONDAY, clinic)
    async with world.stage:
        server = WebServer(service(world.stage.app, path), "127.0.0.1", 0)
        url = f"http://localhost:{server.port}"
        world.clinic = world.stage.app.clinic = replace(clinic, page_url=url)
        serving = asyncio.create_task(server.run_until_cancelled())
        if seeded:
            await world.stage.run(sixty, world.clinic, world.now)
        yield world
        serving.cancel()
        await asyncio.gather(serving, return_exceptions=True)


@asynccontextmanager
async def browsing() -> AsyncIterator[Browser]:
    """One browser."""
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=CHROMIUM, args=list(ARGUMENTS))
        yield browser
        await browser.close()


class Reader:
    """Somebody of the clinic at the page. `presses`: how often they pressed something."""

    def __init__(self, page: Page) -> None:
        self.page, self.presses = page, 0

    async def presses_on(self, label: str) -> None:
        """Press the first button of this name that is to be seen; wait for what follows."""
        self.presses += 1
        found = self.page.get_by_role("button", name=label, exact=True)
        async with self.page.expect_navigation():
            await found.first.click()

    async def people(self) -> list[str]:
        """The names on the list, from the top."""
        return await self.page.locator(".entry h3").all_inner_texts()

    async def reply(self) -> str:
        """What the bot answered."""
        return await self.page.locator("#reply .words").inner_text()


async def talks(world: World, name: str, text: str) -> None:
    """One of the sixty writes something."""
    await Voice(world, name).says(text)


async def pages_of(voice: Voice) -> list[str]:
    """The names of the whole list in chat, page by page."""
    lines = (await voice.says("who needs me?"))[0].splitlines()
    while lines[-1].endswith("MORE."):
        lines = [*lines[:-1], *(await voice.says("more"))[0].splitlines()]
    return [line.split(":")[0].removeprefix("NEW ") for line in lines]


async def comes_in(browser: Browser, voice: Voice, width: int = 1200) -> Reader:
    """Ask the bot for the page and open the link, in a window of its own."""
    context = await browser.new_context(viewport={"width": width, "height": 900})
    page = await context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    await page.goto(await link_of(voice))
    reader = Reader(page)
    await reader.presses_on("Open the page")
    return reader


async def number_of(world: World, name: str) -> int:
    """A patient's number."""
    rows = await world.rows("SELECT id FROM people WHERE name = :name", name=name)
    return int(rows[0]["id"])


async def picture(page: Page, name: str) -> None:
    """Take the picture for the guide, where that was asked for."""
    if TAKES_PICTURES:
        await page.screenshot(path=PICTURES / f"{name}.png")


class Visitor:
    """Somebody with a browser of no kind: what they are answered, and what their cookies are."""

    def __init__(self, world: World) -> None:
        self.client = httpx.AsyncClient(base_url=world.clinic.page_url)

    async def goes_in(self, link: str) -> httpx.Response:
        """Open a link and press its button."""
        shown = await self.client.get(link)
        return await self.client.post("/page/in", data=fields(shown.text))

    async def sends(self, act: str, back: str, **values: str) -> str:
        """Send a form of the screen `back`; gives the screen that follows, as a reader has it."""
        shown = await self.client.get(back)
        form = {"token": fields(shown.text)["token"], "act": act, "back": back, **values}
        sent = await self.client.post("/page/do", data=form, follow_redirects=True)
        return unescape(sent.text)

    async def sees(self) -> int:
        """The status of the first screen."""
        return (await self.client.get("/page")).status_code


def fields(text: str) -> dict[str, str]:
    """The hidden fields of a screen."""
    return dict(re.findall(r'name="(\w+)" value="([^"]*)"', text))


async def link_of(voice: Voice) -> str:
    """Ask the bot for the page; gives the link."""
    found = re.search(r"http\S+", (await voice.says("page"))[0])
    assert found is not None
    return found[0]


async def staff(world: World, name: str, role: Role) -> Voice:
    """Somebody of the clinic, in the chat."""

    def add(store: Any) -> None:
        person = people.add(store, role, name, world.now)
        people.add_contact(store, person.id, "chat", name.lower(), world.now)

    await world.stage.run(add)
    return Voice(world, name)
