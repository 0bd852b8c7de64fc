"""Staff, rota, days off and wording at the clinic page: in force at once."""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from datetime import time
from pathlib import Path

from acts.clinic_page import Visitor, link_of, number_of, opened, staff
from world import Voice, World

from bot.clinic import Shift
from bot.escalations.rota import rota
from bot.store.people import Role

PLACE = "/page/clinic"
MONDAY_TO_FRIDAY = {f"day-{day}": "1" for day in range(5)}


async def lead(world: World) -> Visitor:
    """Lou, who leads the clinic, at the page."""
    found = Visitor(world)
    await found.goes_in(await link_of(await staff(world, "Lou", Role.LEAD_CLINICIAN)))
    return found


async def on_duty(world: World) -> list[str]:
    """Who hears an alarm first, now."""
    heard = await world.stage.run(lambda store: rota(store, world.clinic, world.now))
    rows = await world.rows("SELECT id, name FROM people")
    names = {str(row["id"]): row["name"] for row in rows}
    return [names[one.clinician] for one in heard if one.on_duty]


async def test_the_rota_and_days_off_set_at_the_page_are_in_force_at_once(tmp_path: Path) -> None:
    """With the first shift those of the configuration are taken over; a day off ends with it."""
    async with opened(tmp_path, seeded=False) as world:
        lou = await lead(world)
        await world.clinician("Ilse")
        await world.clinician("Bram")
        night = Shift("Bram", time(20), time(22), frozenset({0}))
        world.clinic = world.stage.app.clinic = replace(world.clinic, rota=(night,))
        file_alone = await on_duty(world)
        shift = {"clinician": "Ilse", "opens": "08:00", "closes": "18:00", **MONDAY_TO_FRIDAY}
        added = await lou.sends("shift-add", PLACE, **shift)
        both = await on_duty(world)
        off = {"clinician": "Ilse", "on": "2026-03-02", "until": "2026-03-03"}
        await lou.sends("off-add", PLACE, **off)
        away = await on_duty(world)
        await lou.sends("off-end", PLACE, clinician="Ilse", on="2026-03-02")
        back = await on_duty(world)
        await world.at("20:30")
        evening = await on_duty(world)
        await lou.sends("shift-end", PLACE, number="1")
        ended = await on_duty(world)

        assert (file_alone, both, away, back) == ([], ["Ilse"], [], ["Ilse"])
        assert (evening, ended) == (["Bram"], [])
        assert "A shift of Ilse was added." in added
        assert "20:00" in added
        did = await world.rows("SELECT action FROM audit WHERE action LIKE '%shift%' ORDER BY id")
        assert [row["action"] for row in did] == ["shift added", "shift ended"]


async def test_a_field_that_is_wrong_says_what_was_expected_and_stands_as_it_was(
    tmp_path: Path,
) -> None:
    """And nothing is changed; a clinician who does not lead is refused."""
    async with opened(tmp_path, seeded=False) as world:
        lou, ilse = await lead(world), Visitor(world)
        await ilse.goes_in(await link_of(await world.clinician("Ilse")))
        shift = {"clinician": "Ilse", "opens": "08:00", "closes": "18:00"}
        off = {"clinician": "Ilse", "on": "2026-03-09"}
        told = [
            await lou.sends("shift-add", PLACE, **shift),
            await lou.sends("shift-add", PLACE, **{**shift, "opens": "8"}, **MONDAY_TO_FRIDAY),
            await lou.sends("off-add", PLACE, **off, until="2026-03-01"),
            await lou.sends("invite-staff", PLACE, name="ilse", role="clinician", language="en"),
            await ilse.sends("shift-add", PLACE, **shift, **MONDAY_TO_FRIDAY),
        ]

        for screen, expected in zip(
            told,
            (
                "at least one weekday",
                "a time of day such as 08:00",
                "a last day that is not before the first",
                "somebody of the clinic is named Ilse already",
                "only a lead clinician may change staff, rota or wording",
            ),
            strict=True,
        ):
            assert "Nothing was changed." in screen
            assert expected in screen
        assert 'name="opens" required value="8"' in told[1]
        assert await world.rows("SELECT * FROM shifts") == []
        assert "Add a shift" not in (await ilse.client.get(PLACE)).text


async def test_somebody_is_invited_and_removed_at_the_page(tmp_path: Path) -> None:
    """The code lets them in; to remove them is asked about as in chat, and ends their session
    and their shifts: a rota of nobody means that everybody is on duty."""
    async with opened(tmp_path, seeded=False) as world:
        lou = await lead(world)
        fields = {"name": "Sol", "role": "clinician", "language": "es"}
        shown = await lou.sends("invite-staff", PLACE, **fields)
        code = re.search(r"code ([A-Z2-9]{8})", shown)
        assert code is not None
        sol = Voice(world, "Sol")
        await sol.says(f"/start {code[1]}")
        visitor = Visitor(world)
        await visitor.goes_in(await link_of(sol))
        shift = {"clinician": "Sol", "opens": "08:00", "closes": "18:00", **MONDAY_TO_FRIDAY}
        await lou.sends("shift-add", PLACE, **shift)
        before = await visitor.sees()
        asked = await lou.sends("remove-staff", PLACE, to="Sol")
        still = await visitor.sees()
        await lou.sends("say", PLACE, say="yes")

        assert "Not done yet. Sol would hear nothing more" in asked
        assert (before, still, await visitor.sees()) == (200, 200, 401)
        assert await on_duty(world) == ["Lou"]
        by = await world.rows("SELECT made_by FROM invitations")
        assert by[-1]["made_by"] == await number_of(world, "Lou")


async def test_a_message_is_worded_at_the_page_and_a_bad_template_refused(tmp_path: Path) -> None:
    """It stands in the clinic's folder and is said from the next message on; what cannot be read,
    or asks for what is never given, is told and loses nothing. Empty: as it ships."""
    async with opened(tmp_path, seeded=False) as world:
        lou, folder, ana = await lead(world), tmp_path / "ours", await world.patient("Ana")
        app = world.stage.app
        app.clinic = replace(app.clinic, wording_folder=folder)
        place = "/page/wording?of=en&message=help"
        word = {"of": "en", "message": "help"}
        shipped = await ana.says("help")
        broken = await lou.sends("word", place, **word, text="Hello {% if %}")
        foreign = await lou.sends("word", place, **word, text="Hello {{ shoe_size }}")
        same = await ana.says("help")
        saved = await lou.sends("word", place, **word, text="Ring us:\r\n{{ clinic_phone }}")
        world.clinic = world.stage.clinic = app.clinic
        said = await ana.says("help")
        kept = tomllib.loads((folder / "en" / "page.toml").read_text())
        await lou.sends("word", place, **word, text="")
        world.clinic = world.stage.clinic = app.clinic
        again = await ana.says("help")

        assert "help: cannot be read" in broken
        assert ">Hello {% if %}</textarea>" in broken
        assert "asks for shoe_size, which this message is never given" in foreign
        assert "help is said in your words from now on." in saved
        assert (said, kept) == (
            ["Ring us: 020 7946 0141"],
            {"help": "Ring us:\n{{ clinic_phone }}"},
        )
        assert shipped == same == again
