"""People who answer by themselves: they read what the bot says and type a reply, some minutes
later, through the same channel as anyone."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from bot.clinicians.invite import invite_patient
from bot.ports import Outgoing
from bot.rehearsal.clinic import CLINICIANS, ZONE, Cast, Habit
from bot.rehearsal.stage import CHAT, Stage
from bot.store import conversations, people
from bot.store.database import Store
from bot.store.people import Role
from dialogs.questions import Kind, Question
from dialogs.turn import Asked
from dialogs.waiting import batch
from rules.protocol import Position

# How long a made-up patient takes to answer [minutes].
ANSWER_AFTER = timedelta(minutes=4)

# Where their ladders begin: the invitation says it.
LOWEST = Position(1, 1)


async def bring_clinicians(stage: Stage) -> None:
    """The clinicians exist from the start, each with two channels."""
    for cast in CLINICIANS:
        await stage.run(_add_clinician, cast, stage.now)


def _add_clinician(store: Store, cast: Cast, now: datetime) -> None:
    person = people.add(store, Role.CLINICIAN, cast.name, now, zone=ZONE)
    for channel, address in cast.channels:
        people.add_contact(store, person.id, channel, address, now)


class Patient:
    """One made-up patient at a phone. `answers_alone` False: somebody else types for them."""

    def __init__(self, stage: Stage, habit: Habit) -> None:
        self.stage, self.habit = stage, habit
        self.address = habit.name.lower()
        self.answers_alone = True
        self._first_day: date | None = None
        stage.heard.append(self._hear)

    async def enrol(self) -> None:
        """Redeem an invitation and answer the enrolment questions, as a person would."""
        stage, habit = self.stage, self.habit
        code = await stage.run(
            invite_patient, stage.clinic, habit.name, habit.tendon, None, stage.now, LOWEST
        )
        self._first_day = stage.now.astimezone(ZoneInfo(ZONE)).date()
        replies = (
            f"/start {code}",
            "yes",
            "London",
            "yes",
            f"{habit.morning_time:%H:%M}",
            habit.side,
            f"{habit.usual_pain}",
            f"{habit.usual_stiffness} min",
            habit.goal,
        )
        for reply in replies:
            await stage.say(CHAT, self.address, reply)

    def day(self, on: date) -> int:
        """Day of treatment, 0 the first."""
        assert self._first_day is not None
        return (on - self._first_day).days

    def _hear(self, outgoing: Outgoing) -> None:
        if outgoing.address != self.address or not self.answers_alone or self._first_day is None:
            return
        self.stage.later(self.stage.now + ANSWER_AFTER, self._answer)

    async def _answer(self) -> None:
        """Type what is asked for, if anything waits and this day is one to answer on."""
        waiting = await self.stage.run(_waiting, self.address)
        replies = [self._reply(asked) for asked in waiting]
        if waiting and all(reply is not None for reply in replies):
            await self.stage.say(CHAT, self.address, " ".join(filter(None, replies)))

    def _reply(self, asked: Asked) -> str | None:
        if asked.question is Question.SIGN:
            return "no"
        value = self.habit.diary(self.day(asked.about), asked.question)
        if value is None:
            return None
        return ("no", "yes")[value] if asked.question.row.kind is Kind.YES_NO else str(value)


def _waiting(store: Store, address: str) -> tuple[Asked, ...]:
    person = people.by_address(store, CHAT, address)
    return () if person is None else batch(conversations.state(store, person.id).waiting)
