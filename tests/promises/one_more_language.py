"""Lives a morning in the language that `test_changes_stay_small` has added, and tells of it."""

from __future__ import annotations

import asyncio
import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter
from world import world_at

import dialogs
from bot.operations.custom_wording import wording_problems
from bot.rehearsal.clinic import made_up_clinic
from bot.settings import Language
from dialogs.catalogues import languages, shipped_messages
from dialogs.commands import menu_in
from rules.protocol_reader import SHIPPED, shipped_protocol


async def morning(folder: Path) -> dict[str, Any]:
    """What is said in Portuguese."""
    language = TypeAdapter(Language).validate_python("pt")
    clinic = replace(made_up_clinic(), language=language)
    world = world_at(folder / "clinic.sqlite", clinic=clinic)
    async with world.stage:
        ilse = await world.clinician("Ilse")
        ana, code = await world.invited("Ana")
        for text in (
            f"/start {code}",
            "sim",
            "Madrid",
            "sim",
            "7:30",
            "izquierda",
            "2",
            "10",
            "saltar",
        ):
            await ana.says(text)
        await world.at("07:30")
        prompt = ana.hears()
        answered = await ana.says("2 10")
        ilse.hears()
        alarmed = await ana.says("tengo la pantorrilla hinchada y caliente")
        told = ilse.hears()
    protocols = [shipped_protocol(name) for name in SHIPPED]
    own = {"pt": shipped_messages("pt")}
    return {
        "languages": languages(),
        "prompt": prompt,
        "answered": answered,
        "alarmed": alarmed,
        "told": told,
        "menu": menu_in("pt"),
        "problems": wording_problems(folder, own, protocols),
    }


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    assert dialogs.__file__.startswith(str(folder))
    print(json.dumps(asyncio.run(morning(folder))))
