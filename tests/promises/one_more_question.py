"""Lives one evening with the question that `test_changes_stay_small` has added, and tells of it."""

from __future__ import annotations

import asyncio
import json
import sys
from pathlib import Path
from typing import Any

from world import world_at

import dialogs
from bot.export.diary import diary_of
from bot.export.fhir import bundle_of
from bot.patient_record.record import PatientRecord
from bot.replay.diary import read_diary
from bot.report.gather import report_of
from bot.report.page import page_of
from bot.store import people


async def evening(folder: Path) -> dict[str, Any]:
    """What is said, kept and shown of the evening's new question."""
    world = world_at(folder / "clinic.sqlite")
    async with world.stage as stage:
        ana = await world.patient()
        await ana.says("2 10")
        await world.at("19:00")
        said = [await ana.says(text) for text in ("3 2 2 4", "no 0", "lots", "4")]
        corrected = await ana.says("oops, 5")
        lo = await world.patient("Lo")
        for text in ("español", "3 2 2 4"):
            await lo.says(text)
        spanish = await lo.says("no 0")

        def kept(store: Any) -> dict[str, Any]:
            (patient,) = people.patients_named(store, "Ana")
            case = PatientRecord(store, world.clinic, patient, world.now)
            diary = diary_of(case)
            return {
                "answers": [one.value for one in case.kept if one.question == "calf-tightness"],
                "diary": diary,
                "read again": [
                    dict(day.others) for day in read_diary(diary, case.protocol) if day.others
                ],
                "observed": [
                    entry["resource"]["valueInteger"]
                    for entry in bundle_of(case)["entry"]
                    if "calf-tightness" in str(entry["resource"].get("code"))
                ],
                "weeks": page_of(report_of(case, long=True)).partition("Week by week")[2][:2000],
            }

        told = await stage.run(kept)
    return {"said": said, "corrected": corrected, "spanish": spanish, **told}


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    assert dialogs.__file__.startswith(str(folder))
    print(json.dumps(asyncio.run(evening(folder))))
