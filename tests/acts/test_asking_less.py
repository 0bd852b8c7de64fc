"""A calm patient of a clinic that asks less, through the real bot: six weeks and a sore day."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from twelve_weeks import START, Player

from bot.rehearsal.clinic import Diary, made_up_clinic, steady
from bot.rehearsal.people import bring_clinicians
from bot.rehearsal.stage import CHAT, Stage
from bot.settings import read_settings
from dialogs.questions import Question

CLINIC = Path(__file__).parents[2] / "deploy" / "clinic.example.toml"
DAYS = 46


def calm(sore: dict[int, dict[Question, int]]) -> Diary:
    """First-step pain 2 and 10 minutes every morning, but for what was sore."""
    plain = steady(2, 10, sore)
    morning = {Question.FIRST_STEP_PAIN: 2, Question.STIFFNESS: 10}
    return lambda day, asked: sore.get(day, {}).get(asked, morning.get(asked, plain(day, asked)))


async def test_some_mornings_are_skipped_until_an_answer_is_over_usual(tmp_path: Path) -> None:
    """Told the evening before. Worse since the session of day 38, which is told on day 40."""
    player = Player("Calm", calm({38: {Question.TWO_DAY_PAIN: 5}}))
    clinic = replace(made_up_clinic(), ask_less=True)
    async with Stage(tmp_path / "clinic.sqlite", clinic, START) as stage:
        await bring_clinicians(stage)
        await player.enrol(stage)
        player.plays_on(stage)
        await stage.go_to(START + timedelta(days=37))
        await stage.say(CHAT, "calm", "what do I do today?")
        await stage.say(CHAT, "calm", "why?")
        await stage.go_to(START + timedelta(days=DAYS - 1, hours=12))

    def days(words: str) -> set[int]:
        return {(on - START.date()).days for on, text in player.heard if words in text}

    assert days("No session today") == {37}
    assert days("Your last session was yesterday") == {37}
    assert set(range(1, DAYS)) - days("Good morning") == {37, 39}
    assert {day + 1 for day in days("ask nothing tomorrow")} - {DAYS} == {37, 39}


def test_it_is_off_as_it_ships_and_the_clinic_chooses_it(tmp_path: Path) -> None:
    """In `[prompts]`, beside the other questions."""
    text = CLINIC.read_text(encoding="utf-8")
    file = tmp_path / "clinic.toml"
    file.write_text(text.replace("ask_less = false", "ask_less = true"), encoding="utf-8")

    assert read_settings(CLINIC).prompts.ask_less is False
    assert read_settings(file).prompts.ask_less is True
