"""The world of the tests: the real bot on a stepped clock, a real file, the local channel.

`world` has verbs, people have voices. Time moves only by `world.goes_to` and `world.at`.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from pathlib import Path
from typing import Any, ClassVar
from zoneinfo import ZoneInfo

from bot.clinic import Clinic
from bot.clinicians.invite import invite_patient
from bot.rehearsal.clinic import ZONE, made_up_clinic
from bot.rehearsal.stage import CHAT, TEXT, Line, Stage
from bot.store import answers, decisions, escalations, people, plans
from bot.store.database import Store
from bot.store.decisions import Decision
from bot.store.escalations import Escalation
from bot.store.migrations import migrate
from bot.store.people import Role
from rules.prompt_times import instant
from rules.protocol import Position, Tendon

# A Monday, nine in the morning in London, winter time.
# Where most patients of the tests begin: somebody has said so with the invitation.
LOWEST = Position(1, 1)

MONDAY = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)

CLINIC_TABLE = """
[clinic]
name = "Quaymore Physio"
phone = "020 7946 0141"
emergency_number = "112"
crisis_line = "the crisis line on 020 7946 0199"
zone = "Europe/London"
"""
"""A clinic in a configuration file; tables of the test's own may follow it."""


class Voice:
    """One person at a phone."""

    def __init__(self, world: World, name: str, channel: str = CHAT) -> None:
        self.world, self.name, self.channel = world, name, channel
        self.address = name.lower()
        self._read = 0

    async def says(self, text: str, channel: str | None = None) -> list[str]:
        """Write something; gives what the bot answered."""
        self.hears()
        await self.world.stage.say(channel or self.channel, self.address, text)
        return self.hears()

    async def presses(self, label: str) -> list[str]:
        """Press a button of the latest message that has buttons."""
        self.hears()
        payload = next(
            button.payload
            for outgoing in reversed(self.world.outgoing)
            if outgoing.address == self.address and outgoing.choices
            for row in outgoing.choices
            for button in row
            if button.label == label
        )
        await self.world.stage.say(self.channel, self.address, label, pressed=payload)
        return self.hears()

    def hears(self) -> list[str]:
        """What the bot has said to this person since the last time of asking, on any channel."""
        said = [
            line.text for line in self.world.lines if line.from_bot and line.address == self.address
        ]
        new, self._read = said[self._read :], len(said)
        return new


class World:
    """A clinic with nobody in it yet."""

    def __init__(
        self,
        path: Path,
        start: datetime,
        clinic: Clinic,
        prepare: Callable[[Store], None] = migrate,
    ) -> None:
        self.clinic = clinic
        self.lines: list[Line] = []
        self.outgoing: list[Any] = []
        self.beginning: Beginning | None = None
        self.stage = Stage(path, clinic, start, heard=self.outgoing.append, prepare=prepare)
        self.stage.listeners.append(self.lines.append)

    @property
    def now(self) -> datetime:
        """The instant of the stepped clock."""
        return self.stage.now

    async def clinician(self, name: str, channels: tuple[str, ...] = (CHAT, TEXT)) -> Voice:
        """A clinician at the end of the rota."""
        await self._begins_with("clinician", name, *channels)

        def add(store: Any) -> None:
            person = people.add(store, Role.CLINICIAN, name, self.now, zone=ZONE)
            for channel in channels:
                people.add_contact(store, person.id, channel, name.lower(), self.now)

        await self.stage.run(add)
        await self._has_begun()
        return Voice(self, name)

    async def invited(
        self,
        name: str,
        tendon: Tendon = Tendon.MID_PORTION,
        begins: Position | None = LOWEST,
    ) -> tuple[Voice, str]:
        """A patient who holds an invitation, and its code. `begins` None: nobody has said where the
        ladder begins, so the patient is asked what they can do."""
        code = await self.stage.run(
            invite_patient, self.clinic, name, tendon, None, self.now, begins
        )
        return Voice(self, name), code

    async def patient(
        self,
        name: str = "Ana",
        tendon: Tendon = Tendon.MID_PORTION,
        *,
        usual_pain: int = 2,
        usual_stiffness: int = 10,
        morning: str = "07:30",
        city: str = "London",
        side: str = "left",
        goal: str = "skip",
    ) -> Voice:
        """A patient who has answered all enrolment questions."""
        told = (city, "yes", morning, side, f"{usual_pain}", f"{usual_stiffness}", goal)
        await self._begins_with("patient", name, tendon, *told)
        if self.beginning is None or not await self.beginning.comes_again():
            voice, code = await self.invited(name, tendon)
            for text in (f"/start {code}", "yes", *told):
                await voice.says(text)
        await self._has_begun()
        voice = Voice(self, name)
        voice.hears()
        return voice

    async def _begins_with(self, *step: object) -> None:
        if self.beginning is not None and not await self.beginning.goes_on(step):
            self.beginning = None

    async def _has_begun(self) -> None:
        if self.beginning is not None:
            await self.beginning.is_kept()

    async def goes_to(self, instant_: datetime) -> None:
        """Move the clock to an instant, doing what is due on the way."""
        await self.stage.go_to(instant_)

    async def at(self, clock: str, *, days: int = 0, zone: str = ZONE) -> None:
        """Move to the next time the wall clock shows this, `days` days after the next one."""
        there = ZoneInfo(zone)
        today = self.now.astimezone(there).date()
        target = instant(today, time.fromisoformat(clock), there)
        if target <= self.now:
            days += 1
        await self.goes_to(instant(today + timedelta(days=days), time.fromisoformat(clock), there))

    async def episode(self, voice: Voice) -> plans.Episode:
        """The patient's episode."""
        return await self.stage.run(lambda s: plans.of_patient(s, _id(s, voice)))

    async def position(self, voice: Voice) -> tuple[int, int]:
        """Where the patient stands: (level, dose)."""
        moves = await self.stage.run(lambda s: plans.moves(s, _episode(s, voice).id))
        return moves[-1].position.level, moves[-1].position.dose

    async def put_at(self, voice: Voice, level: int, dose: int, on: date | None = None) -> None:
        """Put the patient on a place of the ladder, as if enrolled there."""
        day = on or self.now.astimezone(ZoneInfo(ZONE)).date()
        values = {"level": level, "dose": dose, "on": day.isoformat()}
        sql = "UPDATE moves SET level = :level, dose = :dose, on_date = :on WHERE episode = :e"
        await self.stage.run(
            lambda s: s.change(sql, {**values, "e": _episode(s, voice).id}) and None
        )

    async def answers(self, voice: Voice) -> dict[tuple[str, date], int | str]:
        """The answers that stand, by question and date."""
        kept = await self.stage.run(lambda s: answers.standing(s, _episode(s, voice).id))
        return {(answer.question, answer.about): answer.value for answer in kept}

    async def decisions(self, voice: Voice) -> list[Decision]:
        """All decisions about the patient, oldest first."""
        return await self.stage.run(lambda s: decisions.every(s, _episode(s, voice).id))

    async def decision(self, voice: Voice) -> tuple[str, str]:
        """The latest decision: (action, reason)."""
        latest = (await self.decisions(voice))[-1].advice
        return str(latest.action), str(latest.reason)

    async def escalations(self, voice: Voice) -> list[Escalation]:
        """The patient's escalations, oldest first."""
        sql = "SELECT id FROM escalations WHERE patient = :patient ORDER BY id"
        return await self.stage.run(
            lambda s: [
                escalations.get(s, row["id"]) for row in s.rows(sql, {"patient": _id(s, voice)})
            ]
        )

    async def rows(self, sql: str, **values: Any) -> list[dict[str, Any]]:
        """Any query, for what has no verb of its own."""
        return await self.stage.run(lambda s: s.rows(sql, values))


class Beginning:
    """The people whom a fresh world begins with. The same of them, in the same order, are brought
    once a process; later worlds begin with the rows, the lines and the counts that this led to.
    Over with whatever else happens in the world: it goes by the rows that were changed."""

    kept: ClassVar[dict[tuple[object, ...], tuple[Any, ...]]] = {}

    def __init__(self, world: World, changes: int) -> None:
        self.world, self.stage = world, world.stage
        self.steps: tuple[object, ...] = ()
        self.changes = changes

    async def goes_on(self, step: tuple[object, ...]) -> bool:
        """Whether nothing but such steps has happened until now."""
        stage, changes = self.stage, await self.stage.run(changes_in)
        heard = (len(stage.heard), len(stage.listeners))
        untouched = (stage.now, heard, stage.app.clinic) == (MONDAY, (1, 1), usual_clinic())
        self.steps += (step,)
        return untouched and changes == self.changes

    async def comes_again(self) -> bool:
        """Begin as an earlier world has; False where none has begun so."""
        if self.steps not in self.kept:
            return False
        rows, lines, outgoing, count = self.kept[self.steps]
        await self.stage.run(_put_rows, rows)
        self.world.lines[:], self.world.outgoing[:] = lines, outgoing
        self.stage.chat._count = count
        return True

    async def is_kept(self) -> None:
        """A step is done."""
        lines, outgoing = tuple(self.world.lines), tuple(self.world.outgoing)
        if self.steps not in self.kept:
            rows = await self.stage.run(_all_rows)
            self.kept[self.steps] = (rows, lines, outgoing, self.stage.chat._count)
        self.changes = await self.stage.run(changes_in)


def changes_in(store: Store) -> int:
    """How many rows were changed so far."""
    return store.db.conn.total_changes


def _all_rows(store: Store) -> dict[str, list[Any]]:
    tables = store.rows("SELECT name FROM sqlite_schema WHERE type = 'table'")
    read = store.db.conn.execute
    return {one["name"]: read(f"SELECT * FROM {one['name']}").fetchall() for one in tables}


def _put_rows(store: Store, tables: dict[str, list[Any]]) -> None:
    store.db.conn.execute("PRAGMA defer_foreign_keys = ON")
    for name, rows in tables.items():
        store.change(f"DELETE FROM {name}")
        if rows:
            places = ", ".join("?" * len(rows[0]))
            store.db.conn.executemany(f"INSERT INTO {name} VALUES ({places})", rows)


def _id(store: Any, voice: Voice) -> int:
    person = people.by_address(store, voice.channel, voice.address)
    assert person is not None
    return person.id


def _episode(store: Any, voice: Voice) -> plans.Episode:
    return plans.of_patient(store, _id(store, voice))


@cache
def usual_clinic() -> Clinic:
    """The made-up clinic, its protocols read once for all worlds."""
    return made_up_clinic()


def world_at(path: Path, start: datetime = MONDAY, clinic: Clinic | None = None) -> World:
    """A world that starts at an instant."""
    return World(path, start, clinic or usual_clinic())


def number_in(text: str) -> int:
    """The first number in a text."""
    found = re.search(r"\d+", text)
    assert found is not None
    return int(found.group())
