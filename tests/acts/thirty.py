"""Made-up patients who read what the bot writes and answer in their own way, for twelve weeks.

They know nothing of the bot's inside: they find the questions in the text, as a person would. What
each of them means is written down, to be compared with what the bot has kept.
"""

from __future__ import annotations

import asyncio
import random
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from functools import cache
from zoneinfo import ZoneInfo

from bot.clinicians.invite import invite_patient
from bot.ports import Outgoing
from bot.rehearsal.stage import CHAT, TEXT, Stage
from bot.store import people
from dialogs.turn import Question
from rules.prompt_times import instant
from rules.protocol import Position, Tendon

LONDON = ZoneInfo("Europe/London")
NEW_YORK = ZoneInfo("America/New_York")

# How each question is recognised in a text, in the order in which it may stand there.
ASKED = {
    Question.FIRST_STEP_PAIN: r"first-step pain,? 0-10|pain with your first steps",
    Question.STIFFNESS: r"stiff for how many|minutes stiff|minutes until the stiffness",
    Question.NEXT_DAY_PAIN: r"worst (?:tendon )?pain since|worst since session",
    Question.TWO_DAY_PAIN: r"last 24 hours|worst in 24 h|worst (?:tendon )?pain from|worst from",
    Question.SETS_DONE: r"sets done|how many sets",
    Question.PAIN_DURING: r"worst pain during",
    Question.PAIN_AFTER: r"pain straight after",
    Question.EFFORT: r"how hard was it|how hard was the session",
    Question.PAINKILLER: r"painkiller before",
    Question.ACTIVITY_MINUTES: r"minutes of other walking",
    Question.ACTIVITY_EFFORT: r"how hard was that activity",
    Question.HEEL_RAISES: r"how many heel raises",
    Question.OTHER_HEEL_RAISES: r"and on the other leg",
    Question.SET_OFF: r"may have set it off",
    Question.WHAT_ABOUT: r"what is the .* about\?",
}
MORNING = (Question.FIRST_STEP_PAIN, Question.STIFFNESS)
DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
GO_AHEAD = re.compile(r"Do your (?:first )?session today|Do a little more today|Move up to a new")


@dataclass(frozen=True)
class Habit:
    """How a patient writes. `forgets`: how often a message is left alone [0-1]; `slips`: how often
    it is mistyped at first [0-1]; the others: ways of a few."""

    name: str
    says: str = "terse"
    forgets: float = 0.0
    slips: float = 0.0
    texts: bool = False
    presses: bool = False
    mends: bool = False
    reports: bool = False
    late: bool = False
    fills_in: bool = False
    travels: bool = False


@dataclass
class Player:
    """One patient. `meant`: what they meant, by question and date; `half_typed`: the same of what
    they typed badly; `again`: questions put twice."""

    stage: Stage
    habit: Habit
    crowd: Crowd
    meant: dict[tuple[str, date], int] = field(default_factory=dict)
    half_typed: dict[tuple[str, date], int] = field(default_factory=dict)
    sent: int = 0
    again: int = 0
    heard: list[Outgoing] = field(default_factory=list)
    left_out: list[date] = field(default_factory=list)
    session_on: date | None = None
    away_until: date | None = None
    last_asked: tuple[Question, ...] = ()

    def __post_init__(self) -> None:
        self.random = random.Random(self.habit.name)

    @property
    def address(self) -> str:
        """Where the patient is reached."""
        return self.habit.name.lower()

    @property
    def zone(self) -> ZoneInfo:
        """The zone the patient is in."""
        if self.away_until is not None:
            there = self.stage.now.astimezone(NEW_YORK).date()
            if there <= self.away_until:
                return NEW_YORK
        return LONDON

    @property
    def today(self) -> date:
        """The date on the patient's own calendar."""
        return self.stage.now.astimezone(self.zone).date()

    async def enrol(self) -> None:
        """Redeem an invitation and answer the first questions."""
        code = await self.stage.run(
            invite_patient, self.stage.clinic, self.habit.name, Tendon.MID_PORTION, None,
            self.stage.now, Position(1, 1),
        )  # fmt: skip
        for text in (f"/start {code}", "yes", "London", "yes", "7:30", "left", "2", "10", "skip"):
            await self.stage.say(CHAT, self.address, text)
        if self.habit.texts:
            await self.stage.run(_add_text, self.address, self.stage.now)
        self.heard.clear()

    def value(self, question: Question, about: date) -> int:
        """What is true of this patient on that date."""
        die = random.Random(f"{self.habit.name} {question} {about}")
        ranges = {
            Question.FIRST_STEP_PAIN: (1, 3), Question.STIFFNESS: (5, 20),
            Question.NEXT_DAY_PAIN: (1, 3), Question.TWO_DAY_PAIN: (1, 2),
            Question.SETS_DONE: (3, 3), Question.PAIN_DURING: (1, 3), Question.PAIN_AFTER: (0, 3),
            Question.EFFORT: (3, 5), Question.PAINKILLER: (0, 0),
            Question.ACTIVITY_MINUTES: (0, 1), Question.ACTIVITY_EFFORT: (2, 4),
            Question.HEEL_RAISES: (8, 25), Question.OTHER_HEEL_RAISES: (10, 30),
        }  # fmt: skip
        low, high = ranges[question]
        found = die.randint(low, high)
        return found * 30 if question is Question.ACTIVITY_MINUTES else found

    # What is heard

    def hear(self, outgoing: Outgoing) -> None:
        """Keep a message, and think of an answer a few minutes later."""
        if outgoing.address != self.address:
            return
        self.heard.append(outgoing)
        if GO_AHEAD.search(outgoing.text) and self.habit.reports:
            self.crowd.at(self.noon(12), self.report)
        if questions(outgoing.text):
            minutes = 420 if self._is_late(outgoing) else 5
            self.crowd.at(self.stage.now + timedelta(minutes=minutes), self.answer)

    def _is_late(self, outgoing: Outgoing) -> bool:
        return self.habit.late and "Good morning" in outgoing.text and self.random.random() < 0.5

    def noon(self, hour: int) -> datetime:
        """A wall-clock hour of the patient's today, as an instant."""
        return instant(self.today, time(hour), self.zone)

    # What is said

    async def answer(self) -> None:
        """Answer the latest message that asks something, or forget to."""
        asking = next((o for o in reversed(self.heard) if questions(o.text)), None)
        if asking is None:
            return
        self.heard.clear()
        found = questions(asking.text)
        if self.random.random() < self.habit.forgets:
            return
        if found == (Question.SET_OFF,):
            await self.write("a long walk with the dog")
            return
        if found == (Question.WHAT_ABOUT,):
            await self.write("1")
            return
        abouts = [self._about(question, asking.text) for question in found]
        if self.habit.fills_in and found == MORNING and self.random.random() < 0.2:
            self.left_out.append(self.today)
            self.crowd.at(self.noon(12) + timedelta(days=1), self.fill_in)
            return
        self.again += found == self.last_asked and "Sorry" in asking.text
        self.last_asked = found
        await self._reply(asking, found, abouts)

    async def _reply(
        self, asking: Outgoing, found: tuple[Question, ...], abouts: list[date]
    ) -> None:
        values = [self.value(q, on) for q, on in zip(found, abouts, strict=True)]
        for question, on, value in zip(found, abouts, values, strict=True):
            self.meant[question.value, on] = value
        if Question.SETS_DONE in found:
            self.session_on = abouts[0]
        presses = self.habit.presses and asking.choices and self.random.random() < 0.8
        # Typed alone, "no" is the answer to the next question too.
        if presses and found[:2] != (Question.PAINKILLER, Question.ACTIVITY_MINUTES):
            for question, on in list(zip(found, abouts, strict=True))[1:]:
                self.meant.pop((question.value, on), None)
            await self.press(asking, self._words(found[0], values[0]))
            return
        text = self.wording(found, values)
        if self.random.random() < self.habit.slips:
            # The bot asks again, and then it is typed well, unless that is forgotten.
            for question, on, value in zip(found, abouts, values, strict=True):
                self.meant.pop((question.value, on), None)
                self.half_typed[question.value, on] = value
            await self.write(self._mistyped(text))
            return
        if self.habit.mends and found == MORNING and self.random.random() < 0.2:
            await self.write(f"{values[0] + 2} {values[1]}")
            name = self.random.choice(("oops, {0} {1}", "change morning to {0}"))
            text = name.format(*values)
        await self.write(text)

    def wording(self, found: tuple[Question, ...], values: list[int]) -> str:
        """The answers in this patient's words."""
        words = [self._words(q, value) for q, value in zip(found, values, strict=True)]
        if len(words) == 1:
            return {"wordy": f"it was {words[0]} i think", "comma": f"{words[0]}."}.get(
                self.habit.says, words[0]
            )
        if self.habit.says == "labels" and found == MORNING:
            return f"pain {words[0]}, stiffness {words[1]} min"
        if self.habit.says == "wordy" and found == MORNING:
            return f"Good morning! About {words[0]} today and {words[1]} minutes, thanks"
        if self.habit.says == "lines":
            return "\n".join(words)
        return {"comma": ", ", "wordy": " and "}.get(self.habit.says, " ").join(words)

    def _words(self, question: Question, value: int) -> str:
        if question is Question.PAINKILLER:
            return "yes" if value else "no"
        number_words = ("zero", "one", "two", "three", "four", "five")
        if self.habit.says == "words" and question is not Question.SETS_DONE and value < 6:
            return number_words[value]
        return str(value)

    def _mistyped(self, text: str) -> str:
        return self.random.choice((f"{text}1o", f"{text}{text}x", "qwe", "??"))

    async def report(self) -> None:
        """Tell of today's session without having been asked."""
        on = self.today
        pains = (Question.PAIN_DURING, Question.PAIN_AFTER)
        during, after = (self.value(question, on) for question in pains)
        self.meant |= {
            ("sets-done", on): 3, ("pain-during", on): during, ("pain-after", on): after,
        }  # fmt: skip
        self.session_on = on
        await self.write(f"did 3x12, pain {during}, later {after}")

    async def fill_in(self) -> None:
        """Yesterday's morning, told today."""
        yesterday = self.today - timedelta(days=1)
        pain, minutes = (self.value(question, yesterday) for question in MORNING)
        self.meant |= {("first-step-pain", yesterday): pain, ("stiffness", yesterday): minutes}
        await self.write(f"yesterday {pain} {minutes}")

    async def travel(self) -> None:
        """Three days elsewhere."""
        self.away_until = self.today + timedelta(days=3)
        day = DAYS[self.away_until.weekday()]
        await self.write(f"I am in New York till {day}")

    async def write(self, text: str) -> None:
        """Send a text on one of the patient's channels."""
        self.sent += 1
        channel = self.random.choice((CHAT, TEXT)) if self.habit.texts else CHAT
        await self.crowd.say(channel, self.address, text)

    async def press(self, asking: Outgoing, answer: str) -> None:
        """Press the button under a message."""
        self.sent += 1
        buttons = [b for row in asking.choices for b in row if b.label.lower() == answer]
        if not buttons:
            await self.crowd.say(CHAT, self.address, answer)
            return
        await self.crowd.say(CHAT, self.address, answer, buttons[0].payload)

    def _about(self, question: Question, text: str) -> date:
        """The date a question is about, as the text says it."""
        if question is Question.NEXT_DAY_PAIN:
            return self.today - timedelta(days=1)
        if question is Question.TWO_DAY_PAIN:
            return self.today - timedelta(days=2)
        if question in (*MORNING, Question.HEEL_RAISES, Question.OTHER_HEEL_RAISES):
            return self.today
        named = re.search(r"(yesterday|[A-Z][a-z]+day)(?:'s session|: how)", text)
        if named and named[1] == "yesterday":
            return self.today - timedelta(days=1)
        if named:
            ago = (self.today.weekday() - DAYS.index(named[1])) % 7
            return self.today - timedelta(days=ago)
        asked_with_sets = Question.SETS_DONE in questions(text)
        return self.today if asked_with_sets else self.session_on or self.today


class Crowd:
    """Patients of one clinic. Those who write at the same minute write at once, so that the clinic
    is as busy as one would be."""

    def __init__(self, stage: Stage) -> None:
        self.stage = stage
        self._due: dict[datetime, list[Callable[[], asyncio.Future[None]]]] = {}

    def at(self, when: datetime, act: Callable) -> None:
        """Somebody will do something at an instant; the same act is done once."""
        when = max(when, self.stage.now + timedelta(minutes=1))
        if when not in self._due:
            self._due[when] = []
            self.stage.later(when, lambda: self._all_act(when))
        if act not in self._due[when]:
            self._due[when].append(act)

    async def _all_act(self, when: datetime) -> None:
        await asyncio.gather(*(act() for act in self._due.pop(when)))

    async def say(self, channel: str, address: str, text: str, pressed: str | None = None) -> None:
        """A message into the channel; the stage handles it with all others of the minute."""
        local = self.stage.chat if channel == CHAT else self.stage.text
        await local.say(address, text, self.stage.now, pressed)


@cache
def questions(text: str) -> tuple[Question, ...]:
    """The questions that a text asks, in the order in which they stand there."""
    found = {
        question: place.start()
        for question, pattern in ASKED.items()
        if (place := re.search(pattern, text, re.IGNORECASE)) is not None
    }
    return tuple(sorted(found, key=lambda question: found[question]))


def _add_text(store, address: str, now: datetime) -> None:
    person = people.by_address(store, CHAT, address)
    assert person is not None
    people.add_contact(store, person.id, TEXT, address, now)
