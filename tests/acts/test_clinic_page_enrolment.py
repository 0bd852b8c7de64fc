"""Enrolling at the clinic page: one patient or a list, already under way or not."""

from __future__ import annotations

import re
from pathlib import Path

from acts.clinic_page import Visitor, link_of, number_of, opened
from world import Voice, World

ENROL = "/page/enrol"


async def visitor(world: World) -> Visitor:
    """Ilse at the page."""
    found = Visitor(world)
    await found.goes_in(await link_of(await world.clinician("Ilse")))
    return found


def codes(screen: str) -> list[str]:
    """The codes in the letters of a screen."""
    return re.findall(r"code[^:]*: ([A-Z2-9]{8})", screen)


async def test_somebody_already_under_way_is_asked_only_what_is_not_known(tmp_path: Path) -> None:
    """Level, side and usual come with the invitation; the patient gives the rest, and answers
    the first question. The letter can be read again until the next form, on its screen alone."""
    async with opened(tmp_path, seeded=False) as world:
        ilse = await visitor(world)
        one = {"name": "Mara", "tendon": "mid-portion", "channel": "sms"}
        told = {"address": "+44 20 7946 0018", "level": "3 2", "side": "right", "usual": "3 20"}
        screen = await ilse.sends("enrol", ENROL, **one, **told)
        again = (await ilse.client.get(ENROL)).text
        elsewhere = (await ilse.client.get("/page")).text
        mara = Voice(world, "Mara")
        texts = (codes(screen)[0], "yes", "London", "yes", "7:30")
        asked = [(await mara.says(text))[0] for text in texts]
        welcome = await mara.says("skip")
        (advice,) = await mara.says("3 20")

        sql = "SELECT * FROM episodes JOIN moves ON episode = episodes.id WHERE patient = :id"
        (kept,) = await world.rows(sql, id=await number_of(world, "Mara"))
        assert "1 patient is invited" in screen
        assert "sms:+442079460018?body=Hello%20Mara" in screen
        assert (codes(again), codes(elsewhere)) == (codes(screen), [])
        assert "time" in asked[3]
        assert "able to do again" in asked[4]
        assert [text[:12] for text in welcome] == ["Thank you, t", "Good morning"]
        assert (kept["side"], kept["usual_pain"], kept["usual_stiffness"]) == ("right", 3, 20)
        assert (kept["level"], kept["dose"]) == (3, 2)
        assert "on two legs, 3 sets of 12" in advice


async def test_a_list_is_invited_whole_or_told_row_by_row(tmp_path: Path) -> None:
    """As it is copied from a spreadsheet. Where a row is wrong nobody is invited, each fault is
    told, and what was written stands where it was."""
    async with opened(tmp_path, seeded=False) as world:
        ilse = await visitor(world)
        await world.patient("Ana")
        wrong = (
            "name\ttendon\tlevel\tside\tusual\n"
            "Mara\tmid-portion\t3 2\tleft\t3 20\n"
            "Ole\tmiddle\t3\tup\t11 20\n"
            "Ana\tinsertional\t2\n"
        )
        refused = await ilse.sends("import", ENROL, list=wrong)
        too_high = "name\ttendon\tlevel\nMara\tmid-portion\t3\nOle\tmid-portion\t19\n"
        no_level = await ilse.sends("import", ENROL, list=too_high)
        nobody = await world.rows("SELECT name FROM people WHERE role = 'patient'")
        done = await ilse.sends("import", ENROL, list=too_high.replace("19", "2"))

        for fault in (
            "line 3, column tendon: expected one of mid-portion, insertional; found 'middle'",
            "line 3, column side: expected one of left, right, both; found 'up'",
            "line 3, column usual: expected usual pain from 0 to 10",
            "line 4, column name: expected a name of its own",
        ):
            assert fault in refused
        assert wrong.strip() in refused
        assert re.search(r"line 3, Ole: .* has levels 1 to \d+; found 19", no_level)
        assert [row["name"] for row in nobody] == ["Ana"]
        assert len(set(codes(done))) == 2
        by = await world.rows("SELECT person FROM audit WHERE action = 'patient invited'")
        assert [row["person"] for row in by[-2:]] == [await number_of(world, "Ilse")] * 2
