"""Thirty patients of different habits, some weeks each, through the real bot: each answer that is
kept is the one that was meant.

Six clinics of five patients, so that two workers share them (`-n 2`). The share of questions put
again is printed (`-rP`).
"""

from __future__ import annotations

import os
from datetime import timedelta
from pathlib import Path

import pytest
from acts.thirty import Crowd, Habit, Player
from world import World, world_at

from bot.store import answers, people, plans

WEEKS = int(os.environ.get("NEXTMORNING_WEEKS", "3"))
"""How long they live [weeks]; NEXTMORNING_WEEKS=12 for the whole of a treatment's first part."""

CLINICS = {
    "terse and wordy": (
        Habit("Ada"), Habit("Bo", "comma"), Habit("Cy", "wordy"), Habit("Dee", "labels"),
        Habit("Eli", "lines"),
    ),
    "forgetful": (
        Habit("Fay", forgets=0.2), Habit("Gil", "comma", forgets=0.3),
        Habit("Hal", "labels", forgets=0.4), Habit("Ivy", "words", forgets=0.2),
        Habit("Jo", "wordy", forgets=0.5),
    ),
    "mistyping": (
        Habit("Kai", slips=0.1), Habit("Lea", "comma", slips=0.2),
        Habit("Max", "labels", slips=0.1), Habit("Nia", mends=True),
        Habit("Oz", "comma", mends=True, forgets=0.1),
    ),
    "buttons and two channels": (
        Habit("Pia", presses=True), Habit("Quin", presses=True, forgets=0.2),
        Habit("Rex", texts=True), Habit("Sol", "labels", texts=True, forgets=0.2),
        Habit("Tia", texts=True, presses=True),
    ),
    "late and out of turn": (
        Habit("Uma", late=True), Habit("Vic", "comma", late=True, forgets=0.1),
        Habit("Wyn", fills_in=True), Habit("Xia", reports=True),
        Habit("Yul", reports=True, fills_in=True),
    ),
    "travellers and all at once": (
        Habit("Zoe", travels=True), Habit("Abe", "labels", travels=True, forgets=0.2),
        Habit("Bea", "words", travels=True, reports=True), Habit("Cal", slips=0.1, texts=True),
        Habit("Dot", "comma", forgets=0.2, slips=0.1, mends=True, texts=True),
    ),
}  # fmt: skip


@pytest.mark.parametrize("clinic", CLINICS)
async def test_what_is_kept_is_what_was_meant(clinic: str, tmp_path: Path) -> None:
    """After their weeks the answers that stand are those the patients meant, and no others."""
    world = world_at(tmp_path / "clinic.sqlite")
    async with world.stage as stage:
        crowd = Crowd(stage)
        players = [Player(stage, habit, crowd) for habit in CLINICS[clinic]]
        for player in players:
            await player.enrol()
        for player in players:
            stage.heard.append(player.hear)
            if player.habit.travels:
                crowd.at(player.noon(14) + timedelta(days=9), player.travel)

        await world.goes_to(world.now + timedelta(weeks=WEEKS))
        kept = [await _kept(world, player) for player in players]

    sent, again = sum(p.sent for p in players), sum(p.again for p in players)
    print(f"{sent} messages, {again} questions put again ({100 * again / sent:.1f} percent)")
    for player, found in zip(players, kept, strict=True):
        # Of what was typed badly the bot may take a number that is right, and ask the rest again.
        right = {key for key, value in player.half_typed.items() if found.get(key) == value}
        others = {key: value for key, value in found.items() if key not in right - {*player.meant}}
        assert others == player.meant, player.habit.name


async def _kept(world: World, player: Player) -> dict[tuple[str, object], object]:
    """The answers that stand, but for words."""

    def read(store) -> dict[tuple[str, object], object]:
        person = people.by_address(store, "chat", player.address)
        episode = plans.of_patient(store, person.id)
        found = answers.standing(store, episode.id)
        return {(a.question, a.about): a.value for a in found if isinstance(a.value, int)}

    return await world.stage.run(read)
