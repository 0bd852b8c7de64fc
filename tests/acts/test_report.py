"""The report on one patient: whole, standing alone, and without the patient's words."""

from __future__ import annotations

import re
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from acts.typing_commands import typed
from playwright.async_api import async_playwright
from world import CLINIC_TABLE, World, world_at

from bot.errors import RefusedError
from bot.patient_record.record import PatientRecord
from bot.report.course import week_table
from bot.report.exercises import exercise_page
from bot.report.gather import PICTURE_DAYS, report_of
from bot.report.page import page_of
from bot.report.protocol import source_table
from bot.store import people
from rules.protocol_reader import shipped_protocol
from rules.sources import SOURCES

ROOT = Path(__file__).resolve().parents[2]
CHROMIUM = "/usr/bin/chromium"

WORRY = "my whole calf is swollen and tender since yesterday"


async def lived(world: World, name: str = "Ana") -> World:
    """A patient with a session, a step back, a matter that was closed, and a quiet day."""
    ilse = await world.clinician("Ilse")
    patient = await world.patient(name)
    await patient.says("2 10")
    await world.at("19:00")
    for text in ("3 7 3 4", "no 20"):
        await patient.says(text)
    await world.at("08:00")
    await patient.says("3 15")
    await patient.says(WORRY)
    await ilse.says("closed 1 go on, scan was clear")
    await ilse.says("yes")
    await world.at("08:00")
    return world


async def case_of(world: World, work: Any) -> Any:
    """What a function says of the one patient's case at the present instant."""
    return await world.stage.run(
        lambda store: work(
            PatientRecord(
                store, world.clinic, people.by_role(store, people.Role.PATIENT)[-1], world.now
            )
        )
    )


async def page(world: World, language: str = "en", **asked: Any) -> str:
    """The page of the one patient."""
    return await case_of(world, lambda case: page_of(report_of(case, language, **asked)))


async def test_a_course_is_reported_whole_and_without_the_patients_words(world: World) -> None:
    """The escalation with its end, each decision with its numbers, the week by hand: two mornings
    of 2 and 3 are 2.5 (2); 10 and 15 minutes 12.5 (2); worst pain 7. Words only where asked for;
    no script, no address, no picture from elsewhere.
    """
    await lived(world)
    kept = await world.rows("SELECT * FROM decisions")

    report = (await case_of(world, lambda case: report_of(case, long=True))).long
    table = await case_of(world, week_table)
    without, with_words = await page(world, long=True), await page(world, with_messages=True)

    (row,) = report.escalations.rows
    assert (row[0], row[1], row[3]) == ("1", "3 Mar 2026 08:00", "same day; loading stopped")
    assert row[4].startswith("Ilse, 3 Mar 2026")
    assert row[5] == "Ilse, 3 Mar 2026 08:00: go on scan was clear"
    assert len(report.decisions.rows) == len(kept)
    (back,) = [row for row in report.decisions.rows if row[1] == "step back"]
    assert back[2].startswith("pain far over limit")
    assert "worst pain 7" in back[3]
    assert back[5] == "mid-portion-ladder 2"
    assert table.rows[0][:5] == ("2 Mar 2026", "2.5 (2)", "12.5 (2)", "1", "7")
    assert "calf is swollen" not in without
    assert "own words are left out" in without
    assert with_words.count("calf is swollen") == 2  # with the escalation, and as a message
    assert "own words are left out" not in with_words
    assert "default-src 'none'" in without
    assert re.findall(r"<script|<link|<img|\bsrc=|\bhref=|url\(|@import", without) == []


async def test_whatever_a_name_or_a_message_holds_is_shown_and_not_run(tmp_path: Path) -> None:
    """Mark-up in either arrives as the characters that were typed."""
    made = world_at(tmp_path / "w.sqlite")
    async with made.stage:
        await lived(made, "A<b>&na")
        await made.stage.say("chat", "a<b>&na", "<script>alert(1)</script> moon")

        text = await page(made, with_messages=True)

    assert "<script" not in text
    assert "<b>&na" not in text
    assert "&lt;script&gt;alert(1)" in text
    assert "<h1>A&lt;b&gt;&amp;na, left, to 4 Mar 2026</h1>" in text


def test_every_source_of_the_protocol_has_its_status() -> None:
    """Each key that a number names is listed once, with how far it was checked."""
    protocol = shipped_protocol("mid-portion-ladder")

    rows = source_table(protocol).rows

    assert [row[0] for row in rows] == sorted(
        {one.source for one in protocol.cited if one.source in SOURCES}
    )
    assert all(row[2] for row in rows)


@pytest.mark.parametrize(
    ("days", "pictures"),
    [
        pytest.param(PICTURE_DAYS - 1, 1, id="a day under twelve weeks"),
        pytest.param(PICTURE_DAYS, 1, id="twelve weeks"),
        pytest.param(PICTURE_DAYS + 1, 2, id="a day over twelve weeks"),
    ],
)
async def test_a_long_course_is_drawn_in_pieces(world: World, days: int, pictures: int) -> None:
    """Twelve weeks make a picture; the day after begins another."""
    await world.patient()
    enrolled = date(2026, 3, 2) - timedelta(days=days - 1)
    sql = "UPDATE episodes SET enrolled_on = :on"
    await world.stage.run(lambda store: store.change(sql, {"on": enrolled.isoformat()}) and None)

    report = await case_of(world, lambda case: report_of(case, long=True))

    assert len(report.long.pictures) == pictures


async def test_the_short_page_says_the_verdict_first_and_holds_no_table(world: World) -> None:
    """In the reader's language, with what was raised last; the long part from a date on alone."""
    await lived(world)

    spanish = await page(world, "es")
    later = await case_of(
        world, lambda case: report_of(case, long=True, since=world.now.date()).long
    )

    body = spanish[spanish.index("<body>") :]
    assert body.index("Pocas respuestas para comparar con los 14 d") < body.index("Tratamiento")
    assert "Hecho en nivel 1, dosis 1" in body
    assert "1 hoy mismo: Ana, pantorrilla hinchada o caliente" in body
    assert "<table" not in body
    assert later.escalations.rows == ()  # it was raised the day before
    assert later.decisions.rows == ()
    assert len(later.weeks.rows) == 1


async def sheet(world: World) -> str:
    """The exercise sheet of the one patient."""
    made: str = await case_of(world, exercise_page)
    return made


async def test_the_exercise_sheet_is_the_patients_plan_in_their_language(world: World) -> None:
    """Exercise, dose, what to mind, limit, whom to call, and the drawing; as the plan stands."""
    await world.patient()
    english = await sheet(world)
    await world.stage.run(
        lambda store: people.set_language(
            store, people.by_role(store, people.Role.PATIENT)[0].id, "es"
        )
    )
    spanish = await sheet(world)

    for told in (
        "Heel-raise hold on two legs, 3 sets of 40 seconds.",
        "leave 2 days or more",
        "Keep the same weight on both feet.",
        "Up to 4 of 10 is all right",
        "112 at once: a pop or a kick",
        "020 7946 0141",
        "<svg",
    ):
        assert told in english, told
    assert "Elevación mantenida con dos piernas, 3 series de 40 segundos." in spanish
    assert "Hasta 4 de 10 se puede tolerar" in spanish
    assert re.findall(r"<script|<link|<img|\bsrc=|\bhref=|url\(|@import", english) == []


async def test_no_exercise_sheet_while_exercises_are_stopped(world: World) -> None:
    """From the alarm on; paper would say to do them."""
    patient = await world.patient()
    await patient.says(WORRY)

    with pytest.raises(RefusedError, match="stopped or paused"):
        await sheet(world)


CONFIG = (
    CLINIC_TABLE
    + """\
[store]
path = "world.sqlite"
"""
)


async def test_the_command_writes_a_file_for_its_owner_alone_and_leaves_a_line(
    world: World,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Written once, never over another file, and kept in the audit with what it held."""
    await lived(world)
    monkeypatch.chdir(tmp_path)
    Path("clinic.toml").write_text(CONFIG)

    first = typed(monkeypatch, capsys, "report", "Ana", "--to", "ana.html")
    long = ("--long", "--since", "2026-03-01", "--language", "es")
    longer = typed(monkeypatch, capsys, "report", "Ana", *long)
    second = typed(monkeypatch, capsys, "report", "Ana", "--to", "ana.html")

    assert (first.status, first.out) == (0, "")
    assert "<table" not in Path("ana.html").read_text()
    assert "<table" in longer.out
    assert Path("ana.html").stat().st_mode & 0o777 == 0o600
    assert second.status == 2
    assert "is there already" in second.err
    rows = await world.rows("SELECT details FROM audit WHERE action = 'patient reported'")
    assert "false" in rows[0]["details"]


async def test_there_is_no_report_before_enrolment(
    world: World,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Somebody who was only invited has no course, and the command says so."""
    await world.invited("Ana")
    monkeypatch.chdir(tmp_path)
    Path("clinic.toml").write_text(CONFIG)

    ended = typed(monkeypatch, capsys, "report", "Ana")

    assert ended.status == 2
    assert "has not enrolled yet" in ended.err


async def test_it_fits_a_phone_a_desk_and_paper(world: World, tmp_path: Path) -> None:
    """Nothing is wider than the window, the one picture seen is the one made for it; on paper both
    the report and the exercise sheet are one side of A4 [points].
    """
    await world.patient("Ana")
    exercises = tmp_path / "exercises.html"
    exercises.write_text(await sheet(world))
    await lived(world, "Bea")
    file = tmp_path / "bea.html"
    file.write_text(await page(world, "es"))
    seen = {}
    async with async_playwright() as playwright:
        opened = await playwright.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"]
        )
        window = await opened.new_page()
        await window.goto(file.as_uri())
        for width in (390, 1200):
            await window.set_viewport_size({"width": width, "height": 1200})
            assert await window.evaluate("document.documentElement.scrollWidth") == width
            seen[width] = [
                name
                for name in ("wide", "narrow")
                if await window.locator(f"figure .{name}").first.is_visible()
            ]
        await window.emulate_media(media="print")
        printed = await window.locator("figure .narrow").first.is_visible()
        uncut = "getComputedStyle(document.querySelector('figure')).breakInside"
        assert await window.evaluate(uncut) == "avoid"
        pdfs = [await window.pdf(prefer_css_page_size=True)]
        await window.goto(exercises.as_uri())
        pdfs.append(await window.pdf(prefer_css_page_size=True))
        await opened.close()

    assert seen == {390: ["narrow"], 1200: ["wide"]}
    assert not printed
    # A4 is 210 by 297 mm: 595 by 842 points.
    boxes = [re.findall(rb"/MediaBox \[0 0 ([0-9.]+) ([0-9.]+)\]", pdf) for pdf in pdfs]
    sizes = [[(round(float(w)), round(float(h))) for w, h in pages] for pages in boxes]
    assert sizes == [[(595, 842)], [(595, 842)]]
