"""The drawings: one for each shipped exercise, with words; and the patient's own weeks."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from xml.etree import ElementTree

import pytest
import resvg_py
from talks.talking import SITUATION, TODAY

from dialogs.pictures import LEVELS, exercise_svg, picture_of
from dialogs.progress import planned_days
from dialogs.rendering import gsm, render, segments
from dialogs.turn import Said, Value
from dialogs.weeks_picture import DAYS, WIDTH, Day, usual_band, weeks_svg
from rules.protocol_reader import shipped_protocol

LABELS = {"pain": "First-step pain, 0-10", "minutes": "Stiffness, minutes", "usual": "usual"}
LADDERS = ("mid-portion-ladder", "insertional-ladder")


@pytest.mark.parametrize("name", LEVELS.values())
def test_each_drawing_is_a_picture_and_has_its_words(name: str) -> None:
    """It draws, at the width of a narrow phone, without letters; words stand by it."""
    svg = exercise_svg(name)

    assert ElementTree.fromstring(svg).get("width") == str(WIDTH)
    assert "<text" not in svg
    assert bytes(resvg_py.svg_to_bytes(svg_string=svg)).startswith(b"\x89PNG")
    assert render(Said(f"picture/{name}"), SITUATION).startswith("Picture:")


@pytest.mark.parametrize("ladder", LADDERS)
def test_each_level_of_a_ladder_has_its_drawing(ladder: str) -> None:
    """No step of the ladders is told in words alone, and none shows another exercise."""
    for level in shipped_protocol(ladder).levels:
        name = picture_of(level)

        assert ("step" in name) == ("<rect" in exercise_svg(name).partition("<polyline")[2])
        assert ("step" in name) == level.deficit
        assert ("hop" in name) == level.hops
        assert ("hold" in name) == ("hold" in level.name)


def test_no_drawing_for_the_insertion_has_an_edge() -> None:
    """An insertional tendon is never shown a heel under the toes: there is no step to lower it."""
    for level in shipped_protocol("insertional-ladder").levels:
        assert "step" not in picture_of(level)


def days(count: int, pain: int = 3) -> list[Day]:
    """So many mornings up to today, with a small ripple."""
    return [
        Day(TODAY - timedelta(days=ago), pain + ago % 2, 10 + ago) for ago in reversed(range(count))
    ]


def test_the_weeks_show_each_answered_day_and_no_other() -> None:
    """A dot a pain, a bar a stiffness; a day without an answer stays empty."""
    kept = [*days(5), Day(TODAY - timedelta(days=10)), Day(TODAY - timedelta(days=DAYS), 9, 9)]

    svg = weeks_svg(kept, TODAY, LABELS, "en")

    assert svg.count("<circle") == 5
    assert svg.count('width="8"') == 5


@pytest.mark.parametrize(
    ("count", "known"), [(7, False), (8, True), (9, True)], ids=["seven", "eight", "nine"]
)
def test_the_band_waits_for_eight_answers(count: int, known: bool) -> None:
    """Under eight answers there is no usual yet."""
    assert (usual_band(days(count)) is not None) is known


def test_the_band_stays_on_the_scale() -> None:
    """No usual under 0 or over 10."""
    low, _ = usual_band([Day(d.on, 0) for d in days(10)]) or (None, None)
    _, high = usual_band([Day(d.on, 10) for d in days(10)]) or (None, None)

    assert (low, high) == (0.0, 10.0)


def test_an_empty_diary_draws() -> None:
    """Nothing answered is no reason to break."""
    assert ElementTree.fromstring(weeks_svg([], TODAY, LABELS, "es")) is not None


def test_words_in_a_label_are_not_markup() -> None:
    """A clinic's own wording may hold any letter."""
    svg = weeks_svg([], TODAY, {"pain": "a < b & c", "minutes": "<x>", "usual": "<y>"}, "en")

    assert ElementTree.fromstring(svg) is not None


@pytest.mark.parametrize(
    ("session_today", "last_ago", "spacing", "expected"),
    [
        pytest.param(True, None, 2, [0, 2, 4, 6], id="every other day from today"),
        pytest.param(False, 0, 2, [2, 4, 6], id="done today"),
        pytest.param(False, 1, 2, [1, 3, 5], id="done yesterday"),
        pytest.param(True, 4, 3, [0, 3, 6], id="twice a week"),
        pytest.param(False, None, 2, [1, 3, 5], id="rest today, none done"),
    ],
)
def test_the_planned_days_keep_the_spacing(
    session_today: bool, last_ago: int | None, spacing: int, expected: list[int]
) -> None:
    """Days from today by the spacing alone."""
    last = None if last_ago is None else TODAY - timedelta(days=last_ago)

    found = planned_days(TODAY, spacing, last, session_today=session_today)

    assert [(on - TODAY).days for on in found] == expected


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("opens", ["top", "clinician", "dose", "heel-raises", "days", "calm"])
@pytest.mark.parametrize("verdict", ["better", "the same", "worse", "mixed", ""])
@pytest.mark.parametrize("since_start", [False, True])
def test_the_week_in_words_is_one_text_message(
    language: str, opens: str, verdict: str, since_start: bool
) -> None:
    """With numbers and dates as long as they come."""
    values: dict[str, Value] = {
        "verdict": verdict, "since_start": since_start, "opens": opens, "level": 8, "levels": 9,
        "pain_now": 2.9, "pain_before": 4.3, "minutes_now": 45.0, "minutes_before": 120.0,
        "dose_line": "3 x 15", "heel_raises_min": 15, "on": date(2026, 12, 30), "drawn": False,
    }  # fmt: skip
    situation = replace(SITUATION, language=language)

    assert segments(gsm(render(Said("week", values), situation))).count == 1


def test_no_picture_is_kept_in_the_tree() -> None:
    """Drawings are code: no binary to review."""
    assert not list((Path(__file__).parents[2] / "dialogs").rglob("*.png"))
