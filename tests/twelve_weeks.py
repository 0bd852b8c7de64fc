"""Twelve weeks of four patients through the real bot, and what a week of it came to.

    python tests/twelve_weeks.py

writes the table into deploy/guide/measured.md; `tests/acts/test_twelve_weeks.py` plays them, holds
the table, and counts what the consent promises.
"""

from __future__ import annotations

import asyncio
import random
import re
import sys
import tempfile
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

ROOT = Path(__file__).resolve().parents[1]
# Run as a file and not with -m: a library installs a package that is named `tests` as well.
sys.path[:0] = [path for path in (str(ROOT), str(ROOT / "tests")) if path not in sys.path]

from bot.clinicians.invite import invite_patient  # noqa: E402 - the folder must be on the path first
from bot.ports import Outgoing  # noqa: E402
from bot.rehearsal.clinic import ZONE, Diary, made_up_clinic, steady  # noqa: E402
from bot.rehearsal.people import bring_clinicians  # noqa: E402
from bot.rehearsal.stage import CHAT, TEXT, Stage  # noqa: E402
from bot.store import conversations, people  # noqa: E402
from bot.store.database import Store  # noqa: E402
from dialogs.questions import Kind, Question  # noqa: E402
from dialogs.rendering import gsm, segments  # noqa: E402
from dialogs.turn import Asked  # noqa: E402
from dialogs.waiting import batch  # noqa: E402
from rules.protocol import Tendon  # noqa: E402

# A Monday; London's clocks change on the 29th of March, in the fourth week.
START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
WEEKS = 12
DOCUMENT = ROOT / "deploy" / "guide" / "measured.md"
BLOCK = re.compile(r"<!-- twelve weeks -->\n.*?\n<!-- end -->", re.S)

# In memory where there is such a place: no power fails here.
MEMORY = Path("/dev/shm")

# A flare in the third week, and a session that was too much in the sixth.
STORY = {
    16: {Question.FIRST_STEP_PAIN: 5, Question.STIFFNESS: 25},
    36: {Question.PAIN_DURING: 6, Question.PAIN_AFTER: 5},
    37: {Question.FIRST_STEP_PAIN: 4},
}


@dataclass
class Player:
    """A made-up patient: `forgets` is how often a message is left alone [0-1]."""

    name: str
    diary: Diary
    channel: str = CHAT
    language: str = "en"
    side: str = "left"
    forgets: float = 0.0
    heard: list[tuple[date, str]] = field(default_factory=list)
    replies: int = 0
    questions: int = 0
    answers: int = 0

    def plays_on(self, stage: Stage) -> None:
        """Take up the phone: what comes from now on is counted and answered."""
        self.stage, self.dice = stage, random.Random(self.name)
        self.asked_at = stage.now
        stage.heard.append(self.hear)

    async def enrol(self, stage: Stage) -> None:
        """The first questions, which are not counted."""
        code = await stage.run(
            invite_patient, stage.clinic, self.name, Tendon.MID_PORTION, None, stage.now
        )
        spanish = self.language == "es"
        answers = ("sí", "Londres", "sí") if spanish else ("yes", "London", "yes")
        side = "izquierda" if spanish else self.side
        last = "saltar" if spanish else "skip"  # the goal, and what the leg can do
        words = ("español",) if spanish else ()
        for text in (f"START {code}", *words, *answers, "7:30", side, "2", "10", *[last] * 4):
            await stage.say(self.channel, self.name.lower(), text)

    def hear(self, outgoing: Outgoing) -> None:
        """Keep a message, and answer some minutes later."""
        if outgoing.address != self.name.lower():
            return
        self.heard.append((local(self.stage.now), outgoing.text))
        self.stage.later(self.stage.now + timedelta(minutes=4), self.answer)

    async def answer(self) -> None:
        """Type what is asked for; of two messages at once the later is answered."""
        if self.asked_at == self.stage.now:
            return
        self.asked_at = self.stage.now
        asked = await self.stage.run(_waiting, self.channel, self.name.lower())
        self.questions += len(asked)
        if not asked or self.dice.random() < self.forgets:
            return
        self.replies += 1
        self.answers += len(asked)
        text = " ".join(self._reply(one) for one in asked)
        await self.stage.say(self.channel, self.name.lower(), text)

    def _reply(self, asked: Asked) -> str:
        if asked.question.row.kind is Kind.WORDS:
            return "un paseo largo" if self.language == "es" else "a long walk"
        day = (asked.about - local(START)).days
        value = self.diary(day, asked.question)
        if asked.question is Question.HEEL_RAISES and self.side != "both":
            self.answers += 1
            return f"{value} {self.diary(day, Question.OTHER_HEEL_RAISES)}"
        return "no" if asked.question.row.kind is Kind.YES_NO else str(value)


def players() -> tuple[Player, ...]:
    """The four: the same tendon, other people."""
    story = steady(2, 10, STORY)
    return (
        Player("Careful", story),
        Player("Careless", story, forgets=0.35),
        Player("Spanish", story, TEXT, "es"),
        Player("Both", story, side="both"),
    )


async def lived(weeks: int = WEEKS) -> tuple[Player, ...]:
    """The four after so many weeks at one clinic."""
    four = players()
    with tempfile.TemporaryDirectory(dir=MEMORY if MEMORY.is_dir() else None) as folder:
        async with Stage(Path(folder) / "clinic.sqlite", made_up_clinic(), START) as stage:
            await bring_clinicians(stage)
            for player in four:
                await player.enrol(stage)
            for player in four:
                player.plays_on(stage)
            await stage.go_to(START + timedelta(weeks=weeks, hours=-10))
    return four


def table(four: Iterable[Player], weeks: int = WEEKS) -> str:
    """Markdown: what a week came to."""
    lines = [
        "| a week of | messages | most in a day | questions | exchanges | answers | SMS parts"
        " | reading grade |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for player in four:
        texts = [text for _, text in player.heard]
        parts = sum(segments(gsm(text)).count for text in texts)
        figures = (len(texts), player.questions, player.replies, player.answers, parts)
        messages, *others = (f"{figure / weeks:.1f}" for figure in figures)
        most = max(Counter(on for on, _ in player.heard).values())
        cells = (messages, str(most), *others, f"{grade(texts, player.language):.1f}")
        lines.append(f"| {player.name.lower()} | {' | '.join(cells)} |")
    return "\n".join(lines)


def grade(texts: Iterable[str], language: str) -> float:
    """Years of school that the texts ask for.

    English: Flesch-Kincaid grade level, 0.39 words a sentence + 11.8 syllables a word - 15.59.
    Source: Kincaid, Fishburne, Rogers and Chissom, Naval Technical Training Command Research Branch
    Report 8-75, 1975 (formula from memory). Spanish: -0.205 sentences + 0.049 syllables in 100
    words - 3.407. Source: Crawford, A Spanish language Fry-type readability procedure, 1984
    (formula from memory). Syllables are counted by groups of vowels, a silent e left out.
    """
    whole = "\n".join(re.sub(r"\d\) ", "", text) for text in texts)
    sentences = len(re.findall(r"[.?!:]+(?=\s|$)", whole))
    found = re.findall(r"[^\W\d_]+", whole)
    syllables = sum(map(_syllables, found))
    if language == "es":
        return (-0.205 * 100 * sentences + 0.049 * 100 * syllables) / len(found) - 3.407
    return 0.39 * len(found) / sentences + 11.8 * syllables / len(found) - 15.59


def _syllables(word: str) -> int:
    ending = re.sub(r"(?<=[a-z]{2})(?<!l)e$", "", word.lower())
    return max(1, len(re.findall(r"[aeiouyáéíóúü]+", ending)))


def local(now: datetime) -> date:
    """The date in London."""
    return now.astimezone(ZoneInfo(ZONE)).date()


def _waiting(store: Store, channel: str, address: str) -> tuple[Asked, ...]:
    person = people.by_address(store, channel, address)
    return () if person is None else batch(conversations.state(store, person.id).waiting)


if __name__ == "__main__":
    made = table(asyncio.run(lived()))
    document = DOCUMENT.read_text(encoding="utf-8")
    DOCUMENT.write_text(
        BLOCK.sub(f"<!-- twelve weeks -->\n{made}\n<!-- end -->", document), encoding="utf-8"
    )
    print(made)
