"""Writes two whole conversations as the bot has them, for people who want to read before they try.

    python tests/conversations.py

One by text message in English, one by chat in Spanish, through the real bot on a stepped clock.
They stand in deploy/conversations; a test of the house holds them up to date.
"""

from __future__ import annotations

import asyncio
import sys
import tempfile
from collections.abc import Awaitable, Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

ROOT = Path(__file__).resolve().parents[1]
# Run as a file and not with -m: a library installs a package that is named `tests` as well.
sys.path[:0] = [path for path in (str(ROOT), str(ROOT / "tests")) if path not in sys.path]

from world import Voice, World, world_at  # noqa: E402 - the folder must be on the path first

from bot.rehearsal.clinic import made_up_clinic  # noqa: E402
from bot.rehearsal.stage import CHAT, TEXT, Line  # noqa: E402
from dialogs.rendering import day, gsm  # noqa: E402

FOLDER = ROOT / "deploy" / "conversations"
ZONE = ZoneInfo("Europe/London")
CODE = "K7QWHM3A"  # stands for the code of the invitation, which is another each time

Play = Callable[[World], Awaitable[list[Line]]]


async def by_text_in_english(world: World) -> list[Line]:
    """A week of Ana, by text message: enrolment to a warning sign, a pause, and leaving."""
    clinician, ana, code = await _people(world, TEXT)
    for text in (f"START {code}", "yes", "London", "yes", "7:30", "left", "2", "10", "skip"):
        await ana.says(text)
    await ana.says("2 10")
    await ana.says("what did you ask?")
    await world.at("19:00")
    for text in ("3 2 2 4", "no 25"):
        await ana.says(text)
    await world.at("07:31")
    await ana.says("5 20")
    await ana.says("oops, change morning to 3")
    await ana.says("why")
    await world.at("19:05")
    await ana.says("2")
    await world.at("07:31")
    await ana.says("2 10 1")
    await ana.says("plan")
    await world.at("12:00")
    await ana.says("did 3x50, pain 1, later 2")
    for text in ("4 no 0",):
        await ana.says(text)
    await world.at("15:00")
    await ana.says("ask me at 6:45")
    await world.at("06:46")
    await ana.says("3 10 but my calf is swollen and hot")
    await _takes(world, clinician)
    await ana.says("holiday till Sunday")
    await ana.says("how am I doing?")
    await ana.says("STOP")
    return _of(world, ana, TEXT)


async def by_chat_in_spanish(world: World) -> list[Line]:
    """Some days of Ana, by chat in Spanish."""
    _, ana, code = await _people(world, CHAT)
    await ana.says(f"/start {code}")
    enrolling = ("español", "sí", "Lisboa", "sí", "7:30", "izquierda", "2", "10")
    for text in (*enrolling, "bailar en la boda"):
        await ana.says(text)
    await ana.says("2 10")
    await ana.says("plan")
    await world.at("19:05")
    await ana.says("hice 3x40, dolor 2, después 1")
    for text in ("4 no 0",):
        await ana.says(text)
    await world.at("07:31")
    await ana.says("2 10")
    await ana.says("por qué")
    await world.at("19:05")
    await ana.says("1")
    await ana.says("estoy en Madrid hasta el domingo")
    await world.at("07:31", zone="Europe/Madrid")
    await ana.says("3 15 2")
    await ana.says("cambia rigidez a 10")
    await ana.says("cómo voy")
    await ana.says("quiero hablar con alguien")
    return _of(world, ana, CHAT)


CONVERSATIONS: dict[str, tuple[str, str, Play]] = {
    "text-english": ("By text message, in English", "en", by_text_in_english),
    "chat-spanish": ("By chat, in Spanish", "es", by_chat_in_spanish),
}


async def played(name: str) -> str:
    """One conversation as Markdown."""
    title, language, play = CONVERSATIONS[name]
    with tempfile.TemporaryDirectory() as folder:
        clinic = replace(made_up_clinic(), visa_a=False)
        world = world_at(Path(folder) / "clinic.sqlite", clinic=clinic)
        async with world.stage:
            lines = await play(world)
    return _markdown(title, language, lines)


async def _people(world: World, channel: str) -> tuple[Voice, Voice, str]:
    clinician = await world.clinician("Ilse")
    ana, code = await world.invited("Ana")
    ana.channel = channel
    return clinician, ana, code


async def _takes(world: World, clinician: Voice) -> None:
    """The clinician has it, two minutes later."""
    await clinician.says("I have it")


def _of(world: World, voice: Voice, channel: str) -> list[Line]:
    return [
        line for line in world.lines if (line.address, line.channel) == (voice.address, channel)
    ]


def _markdown(title: str, language: str, lines: list[Line]) -> str:
    """The lines by day, the patient's set apart from the bot's."""
    parts = [f"# {title}", "", "Written by `python tests/conversations.py`; not edited by hand."]
    shown: datetime | None = None
    for line in lines:
        at = line.at.astimezone(ZONE)
        if shown is None or at.date() != shown.date():
            parts += ["", f"## {day(at.date(), language)}"]
        shown = at
        who = "bot" if line.from_bot else "Ana"
        text = gsm(line.text) if line.channel == TEXT and line.from_bot else line.text
        body = _code_hidden(text).replace("\n", "  \n> ")
        parts += ["", f"{at:%H:%M} **{who}**", f"> {body}"]
    return "\n".join(parts) + "\n"


def _code_hidden(text: str) -> str:
    first, _, rest = text.partition(" ")
    return f"{first} {CODE}" if first.lower() in ("start", "/start") and rest else text


def main() -> None:
    """Write the files."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    for name in CONVERSATIONS:
        (FOLDER / f"{name}.md").write_text(asyncio.run(played(name)), encoding="utf-8")
        print(FOLDER / f"{name}.md")


if __name__ == "__main__":
    main()
