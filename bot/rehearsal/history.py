"""The made-up clinic some weeks on: four patients with a history, played by the real bot.

Nothing is canned: the days are lived on the stepped clock, with every message through the channels.
It stops in the morning, as the first patient has just been asked and waits for someone to answer.
Read next: `view`, which reads the store for the page.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from bot.clinic import Clinic
from bot.rehearsal.clinic import PATIENTS, ZONE, Habit, made_up_clinic
from bot.rehearsal.people import Patient, bring_clinicians
from bot.rehearsal.stage import Act, Line, Stage
from bot.store.database import Store
from bot.store.migrations import migrate

# When the history begins: a Monday, three weeks before clocks change in the clinic's zone.
START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)

# Days of history before the page opens [local days].
HISTORY_DAYS = 24

# On which day of the history each patient enrols [days from the start]. Staggered so that on the
# last one somebody has just had a flare and somebody else has fallen silent.
ENROLS_ON = {"Nadia": 0, "Tomas": 2, "Petra": 6, "Osric": 8}

# How long writing a message takes [seconds], so that no reply shares an instant with what it
# answers, and a thread can be read in order.
A_MOMENT = timedelta(seconds=5)

Echo = Callable[[str], None]


@dataclass(frozen=True)
class Coming:
    """Something a made-up patient will do by themselves. `at`: an instant [UTC]."""

    who: str
    at: datetime


class Rehearsal(Stage):
    """A stage with its patients. `turn` is to be held by whoever moves time or speaks."""

    def __init__(self, path: Path, clinic: Clinic, start: datetime, echo: Echo) -> None:
        super().__init__(path, clinic, start, prepare=_prepare)
        self.turn = asyncio.Lock()
        self.patients: dict[str, SelfAnswering] = {}
        self.talks = False
        self.echo = echo
        self._coming: list[Coming] = []
        self.listeners.append(self._tell)

    async def say(self, channel: str, address: str, text: str, pressed: str | None = None) -> None:
        """Somebody writes, which takes a moment; returns once all that follows has happened."""
        self.clock.move_by(A_MOMENT)
        await super().say(channel, address, text, pressed)

    def later(self, at: datetime, act: Act) -> None:
        """As on any stage; who it is, is remembered for the page."""
        super().later(at, act)
        person = getattr(act, "__self__", None)
        if isinstance(person, Patient):
            self._coming.append(Coming(person.habit.name, at))

    def coming(self) -> tuple[Coming, ...]:
        """What made-up patients will do by themselves, soonest first."""
        self._coming = [coming for coming in self._coming if coming.at > self.now]
        alone = {p.habit.name for p in self.patients.values() if p.answers_alone}
        waiting = [coming for coming in self._coming if coming.who in alone]
        return tuple(sorted(waiting, key=lambda coming: coming.at))

    def _tell(self, line: Line) -> None:
        """One message a line; no control character of a message reaches the terminal."""
        if not self.talks:
            return
        local = line.at.astimezone(self.clinic.zone_info)
        person = f"{line.address} ({line.channel})"
        way = f"bot -> {person}" if line.from_bot else f"{person} -> bot"
        words = "".join(c if c.isprintable() else " " for c in line.text)
        self.echo(f"{local:%a %d %b %H:%M:%S}  {way}: {words}")


def _prepare(store: Store) -> None:
    """Made-up people need not survive a power cut: waiting for the disk would take most of the time
    in which the history is lived."""
    migrate(store)
    store.db.conn.execute("PRAGMA synchronous = OFF")


class SelfAnswering(Patient):
    """A patient who answers by themselves until somebody types for them."""

    async def _answer(self) -> None:
        # Looked at again here: somebody may have taken over since the question was heard.
        if self.answers_alone:
            await super()._answer()


@asynccontextmanager
async def open_rehearsal(
    path: Path, start: datetime = START, echo: Echo = print, *, days: int = HISTORY_DAYS
) -> AsyncIterator[Rehearsal]:
    """The clinic with its history, in a new store at `path`; `echo` is told how far it is, and
    afterwards of each message that passes.

    `days`: local days to be lived [count, at least 1]; whoever would enrol later does on the last.
    """
    rehearsal = Rehearsal(path, made_up_clinic(), start, echo)
    async with rehearsal:
        await bring_clinicians(rehearsal)
        await _live(rehearsal, start, days)
        rehearsal.talks = True
        yield rehearsal


async def _live(rehearsal: Rehearsal, start: datetime, days: int) -> None:
    """Live the days up to the last morning, each patient joining on their day."""
    zone = ZoneInfo(ZONE)
    first = start.astimezone(zone)
    for day in range(days):
        # Wall-clock days: a day is 23 or 25 hours long where clocks change.
        await rehearsal.go_to(first + timedelta(days=day))
        for habit in PATIENTS:
            if min(ENROLS_ON[habit.name], days - 1) == day:
                await _join(rehearsal, habit)
        if day % 7 == 6:
            rehearsal.echo(f"  {day + 1} of {days} days lived")
    await _last_morning(rehearsal, first + timedelta(days=days))


async def _join(rehearsal: Rehearsal, habit: Habit) -> None:
    person = SelfAnswering(rehearsal, habit)
    rehearsal.patients[person.address] = person
    await person.enrol()


async def _last_morning(rehearsal: Rehearsal, day: datetime) -> None:
    """Go to the minute in which the first patient is asked, and let them wait for an answer."""
    person = rehearsal.patients[PATIENTS[0].name.lower()]
    await rehearsal.go_to(day.replace(hour=0, minute=0))
    person.answers_alone = False
    asked = person.habit.morning_time
    await rehearsal.go_to(day.replace(hour=asked.hour, minute=asked.minute))
