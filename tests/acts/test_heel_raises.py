"""Heel raises of both legs through the real bot: kept, shown to the clinic, exported, replayed.

Patients are enrolled on Monday 2 March 2026; the weekly count comes on Sunday evening.
"""

from __future__ import annotations

from collections.abc import AsyncIterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from world import World, world_at

from bot.clinicians.patient_summary import patient_lines
from bot.export.diary import diary_of
from bot.export.fhir import bundle_of
from bot.patient_record.record import PatientRecord
from bot.rehearsal.clinic import made_up_clinic
from bot.replay.diary import read_diary
from bot.replay.walk import Options, replay
from bot.report.course import measure_lines
from bot.store import people
from rules.history import HeelRaises
from rules.protocol import Tendon
from rules.quantities import Count

SUNDAY = datetime(2026, 3, 8, 19, 1, tzinfo=UTC)
WEEK = timedelta(weeks=1)


@pytest.fixture
async def without_sheet(tmp_path: Path) -> AsyncIterator[World]:
    """A clinic that asks for no sheet behind the count."""
    made = world_at(tmp_path / "raises.sqlite", clinic=replace(made_up_clinic(), visa_a=False))
    async with made.stage:
        yield made


async def counts(world: World, *weeks: tuple[str, ...]) -> None:
    """A patient answers the count of so many Sundays."""
    patient = await world.patient("Ana")
    for week, texts in enumerate(weeks):
        await world.goes_to(SUNDAY + week * WEEK)
        for text in ("3 2 1 4", "no 0", *texts):
            await patient.says(text)


async def case_of(world: World, work: Any) -> Any:
    """What a function says of the one patient's case at the present instant."""
    return await world.stage.run(
        lambda store: work(
            PatientRecord(
                store, world.clinic, people.by_role(store, people.Role.PATIENT)[0], world.now
            )
        )
    )


@pytest.mark.parametrize(
    ("texts", "other", "report", "shown"),
    [
        pytest.param(
            ("12", "20"),
            Count(20),
            "Heel raises on 8 Mar 2026: 12 of 20 on the other side, 60%.",
            "; heel raises 12 of 20 on the other side, 60 %",
            id="one after the other",
        ),
        pytest.param(
            ("12", "0"),
            Count(0),
            "Heel raises on 8 Mar 2026: 12 of 0 on the other side, no share of none.",
            "",
            id="none on the other side",
        ),
        pytest.param(("12", "skip"), None, "", "", id="skipped"),
    ],
)
async def test_the_clinic_sees_one_side_as_a_share_of_the_other(
    without_sheet: World, texts: tuple[str, ...], other: Count | None, report: str, shown: str
) -> None:
    """12 of 20 is 60 percent, by hand; without the other side nothing is said of it."""
    await counts(without_sheet, texts)

    history = await case_of(without_sheet, lambda case: case.history)
    measures = await case_of(without_sheet, measure_lines)
    lines = await case_of(without_sheet, patient_lines)

    assert history.heel_raises == (HeelRaises(SUNDAY.date(), Count(12), other),)
    assert [line for line in measures if "other side" in line] == [report] * bool(report)
    assert "heel raises" not in lines[3] if not shown else shown in lines[3]


async def test_the_report_shows_the_first_and_the_latest_week(without_sheet: World) -> None:
    """Of three weeks the two ends."""
    await counts(without_sheet, ("10", "20"), ("12", "20"), ("15", "20"))

    measures = await case_of(without_sheet, measure_lines)

    told = [line for line in measures if "other side" in line]
    assert [line.split(": ")[1] for line in told] == [
        "10 of 20 on the other side, 50%.", "15 of 20 on the other side, 75%."
    ]  # fmt: skip


async def test_the_other_side_is_in_both_exports_and_replays(without_sheet: World) -> None:
    """An observation of its own, and a column of the diary that changes no advice of its replay."""
    await counts(without_sheet, ("12", "20"))

    text = await case_of(without_sheet, diary_of)
    bundle = await case_of(without_sheet, bundle_of)
    protocol = await case_of(without_sheet, lambda case: case.protocol)
    days = read_diary(text, protocol)
    resources = [entry["resource"] for entry in bundle["entry"]]
    values = [
        one["valueInteger"]
        for one in resources
        if one["resourceType"] == "Observation"
        and one["code"]["coding"][0]["code"] == "other-heel-raises"
    ]

    options = Options(protocol=protocol, tendon=Tendon.MID_PORTION)
    again = replay(days, options)
    alone = replay([replace(day, other_heel_raises=None) for day in days], options)

    counted = [day for day in days if day.heel_raises is not None]
    assert [(day.heel_raises, day.other_heel_raises) for day in counted] == [(12, 20)]
    assert values == [20]
    assert [day.advice for day in again] == [day.advice for day in alone]
