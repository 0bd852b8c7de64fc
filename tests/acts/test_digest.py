"""The week of the whole caseload: on time, once, to clinicians, in one picture."""

from __future__ import annotations

from collections.abc import AsyncIterator
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from acts.sixty import sixty
from world import CLINIC_TABLE, World, world_at

from bot.charts.course import Course, CourseDay
from bot.charts.many import CELLS_MAX, Cell, many_svgs
from bot.clinicians.weekly_digest import digest_languages, digest_lines, digest_of, next_digest_at
from bot.errors import SettingsError
from bot.operations.erasure import erase
from bot.rehearsal.clinic import made_up_clinic
from bot.settings import clinic_of, read_settings
from bot.store import people
from rules.reasons import Action

MONDAY = date(2026, 3, 2)
WRITTEN = "SELECT picture FROM outbox WHERE once_key LIKE 'digest%'"
CLINIC = replace(made_up_clinic(), digest_on=1, digest_at=time(8, 30))  # Tuesdays


@pytest.fixture
async def weekly(tmp_path: Path) -> AsyncIterator[World]:
    """A clinic that wants the week on Tuesdays at half past eight, on a Monday morning."""
    made = world_at(tmp_path / "weekly.sqlite", clinic=CLINIC)
    async with made.stage:
        yield made


def weeks_of(heard: list[str]) -> list[str]:
    """The digests among what was heard."""
    return [text for text in heard if text.startswith("The week:")]


async def test_it_comes_once_at_the_time_that_the_clinic_chose(weekly: World) -> None:
    """A minute before there is none, then one, and none again until a week later."""
    ilse = await weekly.clinician("Ilse")
    await weekly.patient()

    counts = []
    for clock, days in (("08:29", 0), ("08:30", 0), ("23:00", 0), ("08:29", 6), ("08:30", 0)):
        await weekly.at(clock, days=days)
        counts.append(len(weeks_of(ilse.hears())))

    assert counts == [0, 1, 0, 0, 1]


async def test_a_bot_that_was_off_sends_it_later_that_day_and_not_the_day_after(
    weekly: World,
) -> None:
    """On Tuesday evening it is made up for, on Wednesday it is too late."""
    await weekly.clinician("Ilse")
    tuesday, wednesday = (datetime(2026, 3, day, 20, 0, tzinfo=UTC) for day in (3, 4))

    too_late = await weekly.stage.run(digest_languages, CLINIC, wednesday)
    weekly.stage.clock.move_to(tuesday)
    await weekly.stage.app.digest()

    assert too_late == frozenset()
    assert len(await weekly.rows(WRITTEN)) == 1


async def test_it_goes_to_clinicians_alone_with_the_picture(weekly: World) -> None:
    """Neither a patient nor the owner gets it; both clinicians get the same picture."""
    voices = [await weekly.clinician(name) for name in ("Ilse", "Bram")]
    patient = await weekly.patient()
    await weekly.at("08:30")

    heard = [weeks_of(voice.hears()) for voice in voices]

    assert [len(one) for one in heard] == [1, 1]
    assert weeks_of(patient.hears()) == []
    sent = [one for one in weekly.outgoing if one.text.startswith("The week:")]
    assert len({one.picture for one in sent}) == 1
    assert sent[0].picture.startswith(b"\x89PNG")


async def test_a_clinic_that_wants_none_gets_none(world: World) -> None:
    """Without the table in the configuration nothing is ever due."""
    ilse = await world.clinician("Ilse")
    await world.at("23:00", days=8)

    assert weeks_of(ilse.hears()) == []
    assert next_digest_at(world.clinic, world.now) is None


async def test_the_week_says_who_advanced_who_stepped_back_and_who_is_silent(
    weekly: World,
) -> None:
    """Ana advanced on Wednesday; Bea stepped back on Monday and wrote no more; Cleo never did."""
    ana, bea = await weekly.patient("Ana"), await weekly.patient("Bea")
    await weekly.patient("Cleo")
    for voice in (ana, bea):
        await voice.says("2 10")
    await weekly.at("19:00")
    for text in ("3 2 2 4", "no 0"):
        await ana.says(text)
    for text in ("3 7 3 4", "no 0"):
        await bea.says(text)
    await weekly.at("07:31")
    await ana.says("2 10")
    await weekly.at("19:05")
    await ana.says("2")
    await weekly.at("07:31")
    await ana.says("2 10 2")
    await weekly.at("09:00", days=1)

    digest = await weekly.stage.run(digest_of, CLINIC, weekly.now)

    assert digest.advanced == ("Ana",)
    assert digest.stepped_back == ("Bea",)
    assert set(digest.silent) == {"Bea", "Cleo"}
    assert [cell.name for cell in digest.cells][-1] == "Ana"
    lines = digest_lines(digest)
    assert len(lines) == 6
    assert "Stepped back: Bea." in lines
    assert lines[1].startswith("Most in need: ")


@pytest.mark.parametrize(
    ("now", "due"),
    [
        pytest.param((2, 9, 0), (3, 8, 30), id="the day before"),
        pytest.param((3, 8, 29), (3, 8, 30), id="a minute before"),
        pytest.param((3, 8, 30), (10, 8, 30), id="at the time itself the next one"),
        pytest.param((4, 0, 0), (10, 8, 30), id="the day after"),
    ],
)
def test_the_next_one_is_due_on_the_clinics_wall_clock(now: Any, due: Any) -> None:
    """Strictly after the present instant, at most a week ahead."""
    at = datetime(2026, 3, *now, tzinfo=UTC)

    assert next_digest_at(CLINIC, at) == datetime(2026, 3, *due, tzinfo=UTC)


def test_the_next_one_keeps_its_wall_clock_over_a_change_of_clocks() -> None:
    """Half past eight in London is 08:30 UTC in winter and 07:30 UTC from 29 March 2026 on."""
    at = datetime(2026, 3, 25, 12, 0, tzinfo=UTC)

    assert next_digest_at(CLINIC, at) == datetime(2026, 3, 31, 7, 30, tzinfo=UTC)


async def test_only_the_latest_picture_is_kept_and_it_goes_with_any_patient(
    weekly: World,
) -> None:
    """Two weeks leave one picture; once a patient is erased there is none, and the text stays."""
    await weekly.clinician("Ilse")
    await weekly.patient("Ana")
    await weekly.at("08:30", days=7)
    count = "SELECT count(*) AS n FROM pictures WHERE name LIKE 'digest%'"
    before = (await weekly.rows(count))[0]["n"]

    def leave(store: Any) -> None:
        store.change("UPDATE escalations SET acknowledged_at = raised_at")
        erase(store, people.patients_named(store, "Ana")[0], weekly.now)

    await weekly.stage.run(leave)

    sent = await weekly.rows(WRITTEN)
    assert before == 1
    assert (await weekly.rows(count))[0]["n"] == 0
    assert [row["picture"] for row in sent] == [None, None]


def test_the_configuration_says_when(tmp_path: Path) -> None:
    """The weekday by name and the time of day; left out, there is none."""
    file = tmp_path / "clinic.toml"
    file.write_text(CLINIC_TABLE)
    without = clinic_of(read_settings(file))
    file.write_text(CLINIC_TABLE + '[digest]\nweekday = "friday"\ntime = "16:00"\n')

    clinic = clinic_of(read_settings(file))

    assert without.digest_on is None
    assert (clinic.digest_on, clinic.digest_at) == (4, time(16, 0))


def test_a_weekday_that_is_none_is_refused_with_its_key(tmp_path: Path) -> None:
    """The key is named and what was found."""
    file = tmp_path / "clinic.toml"
    file.write_text(CLINIC_TABLE + '[digest]\nweekday = "someday"\n')

    with pytest.raises(SettingsError, match=r"digest\.weekday"):
        read_settings(file)


@pytest.mark.parametrize(("count", "pages"), [(1, 1), (CELLS_MAX, 1), (CELLS_MAX + 1, 2), (60, 5)])
def test_the_picture_comes_in_pages_and_leaves_nobody_out(count: int, pages: int) -> None:
    """In the order given; with more than one, each says which it is."""
    days = tuple(
        CourseDay(MONDAY + timedelta(days=n), 2, usual=2.0, variation=1.0) for n in range(28)
    )
    course = Course(days, 4)
    cells = [Cell(f"P{n} <b>", "level 1", "worse, load up", course) for n in range(count)]

    drawn = [ElementTree.fromstring(svg) for svg in many_svgs(cells, "The week")]

    words = [e.text or "" for root in drawn for e in root.findall(".//{*}text")]
    assert len(drawn) == pages
    assert [word for word in words if word.endswith("<b>")] == [cell.name for cell in cells]
    assert (f"The week, 1 of {pages}" in words) == (pages > 1)


def test_a_step_back_and_a_stop_are_marked_under_the_days() -> None:
    """Two more marks than in the same picture without them."""
    plain = (CourseDay(MONDAY), CourseDay(MONDAY + timedelta(days=1)))
    marked = (
        replace(plain[0], advised=frozenset({Action.STEP_BACK})),
        replace(plain[1], advised=frozenset({Action.STOP})),
    )

    drawn = [
        many_svgs([Cell("Ana", "", "", Course(days, 4))], "The week")[0].count("<path")
        for days in (plain, marked)
    ]

    assert drawn[1] - drawn[0] == 2


async def test_sixty_are_sent_in_pages_by_need_in_the_readers_language(weekly: World) -> None:
    """Those over their limit first, in words and on the first page; no page a second time."""
    ilse = await weekly.clinician("Ilse")

    def settle(store: Any) -> None:
        (clinician,) = people.by_role(store, people.Role.CLINICIAN)
        people.set_language(store, clinician.id, "es")
        sixty(store, weekly.clinic, weekly.now)

    await weekly.stage.run(settle)
    await weekly.at("08:30", days=1)
    await weekly.at("08:31")

    heard = [text for text in ilse.hears() if "semana" in text]

    first, *rest = heard
    assert "Quienes más lo necesitan: Ada" in first
    assert "(sobre el límite)" in first
    assert [one.partition(", ")[2] for one in rest] == [f"{n} de 5" for n in range(2, 6)]
    sent = [one for one in weekly.outgoing if one.text in heard]
    assert len({one.picture for one in sent}) == 5
