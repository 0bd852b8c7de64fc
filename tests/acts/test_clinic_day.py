"""A day at a clinic with sixty patients and three clinicians: every worry ends with the right
person in time, and nobody is flooded. The counts are printed (`-rP`)."""

from __future__ import annotations

import shutil
import tempfile
from collections import Counter
from collections.abc import Awaitable, Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from world import Voice, World, number_in, world_at

from bot.clinic import Shift
from bot.escalations.rota import next_list_at
from bot.ports import Outgoing
from bot.rehearsal.clinic import ZONE, made_up_clinic
from bot.store import people, plans
from bot.store.people import Role
from rules.history import Tier
from rules.protocol import Tendon

MEMORY = Path("/dev/shm")
PATIENTS = 60
MESSAGES_MAX = 20  # Convention: "fewer than" this many to one clinician, the next morning included.

TUESDAY = date(2026, 3, 3)
BEFORE_DAWN = datetime(2026, 3, 3, 5, tzinfo=UTC)
NOON_AFTER = datetime(2026, 3, 4, 12, tzinfo=UTC)

WEEK = frozenset(range(5))
ROTA = (
    Shift("Ilse", time(8), time(12), WEEK),
    Shift("Bram", time(12), time(15), WEEK),
    Shift("Cleo", time(15), time(18), WEEK),
)

# How long a clinician takes to answer, and to speak to the patient afterwards. Convention.
ANSWERS_AFTER = timedelta(minutes=3)
CLOSES_AFTER = timedelta(minutes=25)


@dataclass(frozen=True)
class Event:
    """A patient writes something worrying; `taken_by` is who should have it in the end."""

    at: time
    words: str
    tier: Tier
    taken_by: str


EVENTS = (
    Event(time(9, 10), "heard a loud snap and now i cant push off at all", Tier.EMERGENCY, "Ilse"),
    Event(time(10), "my whole calf is swollen and tender", Tier.SAME_DAY, "Ilse"),
    Event(time(11), "both heels are stiff for over an hour", Tier.NEXT_WORKING_DAY, "Ilse"),
    Event(time(11, 30), "i feel really low and hopeless", Tier.NEXT_WORKING_DAY, "Ilse"),
    Event(time(12), "i suddenly can't breathe properly", Tier.EMERGENCY, "Bram"),
    Event(time(13, 20), "the back of my heel is red and hot and has pus", Tier.SAME_DAY, "Bram"),
    Event(time(14), "my whole calf is swollen and tender", Tier.SAME_DAY, "Bram"),
    Event(time(14, 30), "i had a cortisone injection last week in the tendon",
          Tier.NEXT_WORKING_DAY, "Ilse"),
    Event(time(15, 30), "i am coughing up blood", Tier.EMERGENCY, "Cleo"),
    Event(time(16, 10), "my whole calf is swollen and tender", Tier.SAME_DAY, "Cleo"),
    Event(time(17), "the back of my heel is red and hot and has pus", Tier.SAME_DAY, "Cleo"),
    Event(time(17, 30), "both heels are stiff for over an hour", Tier.NEXT_WORKING_DAY, "Ilse"),
)  # fmt: skip

# The second patient writes of the same thing again, when Ilse has it already.
AGAIN = Event(time(10, 20), "my calf is still swollen and tender", Tier.SAME_DAY, "Ilse")


@pytest.fixture
def folder() -> Iterator[Path]:
    """A folder for the store, in memory where there is such a place: no power fails here."""
    made = Path(tempfile.mkdtemp(dir=MEMORY if MEMORY.is_dir() else None))
    yield made
    shutil.rmtree(made)


def enrol_all(store: Any) -> None:
    """Sixty patients who answered the first questions the day before."""
    clinic, day_before = made_up_clinic(), BEFORE_DAWN - timedelta(days=1)
    protocol = clinic.protocol(clinic.ladders[Tendon.MID_PORTION])
    for number in range(1, PATIENTS + 1):
        name = f"P{number}"
        person = people.add(store, Role.PATIENT, name, day_before, zone=ZONE)
        people.add_contact(store, person.id, "chat", name.lower(), day_before)
        episode = plans.open_episode(store, person.id, Tendon.MID_PORTION, protocol, day_before)
        plans.enrol(
            store, episode, side="left", usual_pain=2, usual_stiffness=10,
            morning_time=time(7, 15 * (number % 4)), on=day_before.date(), now=day_before,
        )  # fmt: skip


class Day:
    """Who says what, when: patients answer in the morning, clinicians what they are told."""

    def __init__(self, world: World) -> None:
        self.world, self.told = world, Counter[str]()
        self.clinicians: dict[str, Voice] = {}

    def says_later(self, at: datetime, address: str, words: str) -> None:
        """Somebody will write this at an instant."""

        async def act() -> None:
            await self.world.stage.say("chat", address, words)

        doing: Callable[[], Awaitable[None]] = act
        self.world.stage.later(at, doing)

    def hear(self, outgoing: Outgoing) -> None:
        """What people do when something reaches them."""
        address, text, now = outgoing.address, outgoing.text, self.world.now
        if address not in self.clinicians:
            if "first-step pain" in text.lower() and "0-10" in text:
                self.says_later(now + timedelta(minutes=5), address, "2 10")
            return
        self.told[address] += 1
        if "I HAVE THEM ALL" in text:
            self.says_later(now + ANSWERS_AFTER, address, "I have them all")
        elif "Reply I HAVE IT" in text:
            number = number_in(text.rsplit("I HAVE IT", 1)[1])
            self.says_later(now + ANSWERS_AFTER, address, f"I have it {number}")
        elif text.startswith("Not done yet"):
            self.says_later(now, address, "yes")
        elif text.startswith("You have"):
            for line in text.removeprefix("You have ").split(". ")[0].split(", "):
                words = f"closed {number_in(line)} go on, spoke to them"
                self.says_later(now + CLOSES_AFTER, address, words)


async def test_every_worry_of_a_day_ends_with_the_right_person_in_time(folder: Path) -> None:
    """Twelve worries of all tiers among sixty patients, through the real bot."""
    clinic = replace(made_up_clinic(), rota=ROTA)
    world = world_at(folder / "day.sqlite", BEFORE_DAWN, clinic)
    async with world.stage as stage:
        day = Day(world)
        for shift in ROTA:
            voice = await world.clinician(shift.clinician)
            day.clinicians[voice.address] = voice
        await stage.run(enrol_all)
        await stage.app.plan_ahead()
        stage.heard.append(day.hear)
        for number, event in enumerate(EVENTS, start=1):
            day.says_later(_on_the_day(event.at), f"p{number}", event.words)
        day.says_later(_on_the_day(AGAIN.at), "p2", AGAIN.words)

        await world.goes_to(NOON_AFTER)

        voices = [Voice(world, f"P{number}") for number in range(1, len(EVENTS) + 1)]
        raised = [await world.escalations(voice) for voice in voices]
        names = {row["id"]: row["name"] for row in await world.rows("SELECT id, name FROM people")}
        answered = await world.rows("SELECT count(DISTINCT episode) AS n FROM answers")
    print(f"{PATIENTS} patients, {len(EVENTS)} worries, messages {dict(day.told)}")
    assert answered[0]["n"] == PATIENTS
    assert [len(one) for one in raised] == [1] * len(EVENTS)
    for event, (matter,) in zip(EVENTS, raised, strict=True):
        assert matter.tier is event.tier, event
        assert matter.acknowledged_at is not None, event
        assert names[matter.acknowledged_by] == event.taken_by, event
        assert matter.acknowledged_at < _in_time_until(matter.raised_at, matter.tier), event
        assert matter.closed_at is not None, event
    assert max(day.told.values()) < MESSAGES_MAX


def _on_the_day(at: time) -> datetime:
    return datetime.combine(TUESDAY, at, tzinfo=ZoneInfo(ZONE)).astimezone(UTC)


def _in_time_until(raised_at: datetime, tier: Tier) -> datetime:
    """When another person would have been told: the tier's interval after the first notice."""
    pace = made_up_clinic().pace
    if tier is Tier.EMERGENCY:
        return raised_at + pace.emergency_interval
    if tier is Tier.SAME_DAY:
        return raised_at + pace.same_day_interval
    return next_list_at(raised_at, pace.working_hours) + pace.next_working_day_interval
