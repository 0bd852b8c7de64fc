"""Three weeks of one patient, printed as they happen: `nextmorning rehearse --play`.

The patient and the clinicians type; everything else is the bot itself on the stepped clock.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, time, timedelta
from pathlib import Path

from bot.rehearsal.clinic import CLINICIANS, Habit, made_up_clinic, steady
from bot.rehearsal.people import Patient, bring_clinicians
from bot.rehearsal.stage import CHAT, Line, Stage
from bot.store import decisions, notices, plans
from bot.store.database import Store
from bot.store.decisions import Decision
from dialogs.turn import Question
from rules.prompt_times import instant
from rules.protocol import Tendon

# A Monday in winter time. The change of clocks of 29 March falls after the three weeks.
START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
WEEKS = 3

# The days on which the tendon was not steady. Day 0 is the Monday of enrolment.
STORY: Mapping[int, Mapping[Question, int]] = {
    # Well over usual one morning: a rest day.
    7: {Question.FIRST_STEP_PAIN: 5, Question.STIFFNESS: 20},
    # Too much in one session: a step back, and rest until it has settled.
    12: {Question.PAIN_DURING: 7, Question.PAIN_AFTER: 5},
    13: {Question.FIRST_STEP_PAIN: 4, Question.STIFFNESS: 25},
}

# When the patient writes about the calf, and how long the first clinician stays silent.
WORRY_DAY = 18
WORRY_TIME = time(10, 12)
WORRY = "my calf is swollen and hot since last night, sore when i touch it"
SECOND_CLINICIAN_AFTER = timedelta(minutes=68)


async def play(echo: Callable[[str], None]) -> None:
    """Play the three weeks, handing each line to `echo`."""
    with tempfile.TemporaryDirectory() as folder:
        async with Stage(Path(folder) / "play.sqlite", made_up_clinic(), START) as stage:
            habit = Habit(
                "Nadia", Tendon.MID_PORTION, "left", 2, 10, time(7, 15), steady(2, 10, STORY)
            )
            patient = Patient(stage, habit)
            teller = _Teller(stage, echo)
            await bring_clinicians(stage)
            await patient.enrol()
            await _weeks(stage, patient, teller)
            await teller.tell_escalations()


async def _weeks(stage: Stage, patient: Patient, teller: _Teller) -> None:
    """Day by day to the end of the third week, with the worry on its day."""
    zone = stage.clinic.zone_info
    first = START.astimezone(zone).date()
    for day in range(WEEKS * 7):
        on = first + timedelta(days=day)
        if day == WORRY_DAY:
            await stage.go_to(instant(on, WORRY_TIME, zone))
            await stage.say(CHAT, patient.address, WORRY)
            await stage.go_to(stage.now + SECOND_CLINICIAN_AFTER)
            second = CLINICIANS[1].channels[0]
            await stage.say(*second, "I have it")
        if day == WORRY_DAY + 1:
            await stage.go_to(instant(on, time(9, 40), zone))
            for text in ("closed go on, scan clear", "yes"):
                await stage.say(*CLINICIANS[1].channels[0], text)
        await stage.go_to(instant(on, time(23, 0), zone))
        await teller.tell_decisions()


class _Teller:
    """Prints what passes and what was decided, in order."""

    def __init__(self, stage: Stage, echo: Callable[[str], None]) -> None:
        self.stage, self.echo = stage, echo
        self._day = ""
        self._told = 0
        stage.listeners.append(self._line)

    def _line(self, line: Line) -> None:
        local = line.at.astimezone(self.stage.clinic.zone_info)
        day = f"{local:%A %d %B}"
        if day != self._day:
            self._day = day
            self.echo(f"\n--- {day} ---")
        name = line.address.capitalize()
        who = f"bot to {name}" if line.from_bot else name
        where = "" if line.channel == CHAT else f" ({line.channel})"
        first, *others = line.text.splitlines() or [""]
        self.echo(f"{local:%H:%M}  {who + where + ':':<20} {first}")
        for other in others:
            self.echo(f"{'':27} {other}")

    async def tell_decisions(self) -> None:
        """The decisions kept since the last time, with their reasons and numbers."""
        for decision in (await self.stage.run(_decisions))[self._told :]:
            self._told += 1
            advice = decision.advice
            numbers = ", ".join(f"{k} {v}" for k, v in advice.because.evidence.items())
            place = f"level {advice.position.level}, dose {advice.position.dose}"
            self.echo(f"   == {advice.action.upper()}: {advice.reason} ({numbers}); now {place}")

    async def tell_escalations(self) -> None:
        """Each escalation with its whole history."""
        zone = self.stage.clinic.zone_info
        for number, history in (await self.stage.run(_escalations)).items():
            self.echo(f"\nEscalation {number}, as kept:")
            for at, kind, who, note in history:
                self.echo(f"  {at.astimezone(zone):%a %H:%M}  {kind:<14} {who:<14} {note}")


def _decisions(store: Store) -> list[Decision]:
    episodes = plans.under_treatment(store)
    return [decision for episode in episodes for decision in decisions.every(store, episode.id)]


def _escalations(store: Store) -> dict[int, list[tuple[datetime, str, str, str]]]:
    found = {}
    for row in store.rows("SELECT id FROM escalations ORDER BY id"):
        found[row["id"]] = [
            (
                notices.happened_at(notice),
                notice["kind"],
                " ".join(filter(None, (notice["name"], notice["channel"]))),
                notice["note"],
            )
            for notice in notices.history(store, row["id"])
        ]
    return found
