"""The chart of a patient's course: readable without colour, on a phone, and by ear."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path
from xml.etree import ElementTree

import pytest

from bot.charts.course import (
    ADVICE_ROWS,
    PAPER_WIDTH,
    PHONE_WIDTH,
    Course,
    CourseDay,
    course_svg,
    course_words,
)
from bot.charts.message_images import png_of
from bot.charts.shapes import mark
from rules.reasons import Action
from rules.variation import ChartLimits, Reading, individuals_limits

MONDAY = date(2026, 3, 2)
PICTURE = Path(__file__).resolve().parents[2] / "deploy" / "pictures" / "course.png"
TAKES_PICTURES = os.environ.get("NEXTMORNING_PICTURES") == "1"


def made_up_course() -> Course:
    """Eight invented weeks with every word of advice, a gap, a flare and two matters."""
    actions = (Action.HOLD, Action.REST_DAY)
    days = []
    for number in range(56):
        advised = {actions[number % 2]}
        if number % 14 == 12:
            advised = {Action.ADVANCE}
        if number == 30:
            advised = {Action.HOLD, Action.STEP_BACK}
        if number in (31, 32, 33):
            advised = {Action.STOP}
        answered = not 40 <= number < 44
        loaded = number % 2 == 0
        flare = 4 if 30 <= number < 34 else 0
        days.append(
            CourseDay(
                on=MONDAY + timedelta(days=number),
                first_step_pain=2 + (number % 5 == 0) + flare if answered else None,
                stiffness=10 + number % 3 * 5 + 10 * flare if answered else None,
                pain_during=3 + flare if loaded else None,
                pain_after=2 + flare if loaded else None,
                usual=2.0,
                variation=1.0 if number > 8 else None,
                level=1 + number // 14 - (number >= 30),
                advised=frozenset(advised) if answered else frozenset(),
            )
        )
    raised = ((MONDAY + timedelta(days=31), 3), (MONDAY + timedelta(days=32), 4))
    return Course(tuple(days), pain_limit=4, raised=raised, limits=limits_of(days))


@pytest.mark.parametrize("width", [PHONE_WIDTH, PAPER_WIDTH])
def test_every_mark_and_word_lies_inside_the_picture(width: int) -> None:
    """Nothing is drawn past the edges, at the width of a phone or of paper."""
    root = ElementTree.fromstring(course_svg(made_up_course(), "Ana", width))

    height = float(root.attrib["height"])
    places = [
        (float(e.attrib.get("x", e.attrib.get("cx", "0"))),
         float(e.attrib.get("y", e.attrib.get("cy", "0"))))
        for e in root.iter()
    ]  # fmt: skip
    points = [
        tuple(map(float, pair.split(",")))
        for e in root.iter()
        for pair in e.attrib.get("points", "").split()
    ]
    assert root.attrib["width"] == str(width)
    assert all(0 <= x <= width and 0 <= y <= height for x, y in [*places, *points])


def test_nothing_is_told_by_colour() -> None:
    """Every colour is a grey, so a copy in black and white says the same."""
    svg = course_svg(made_up_course(), "Ana")

    colours = set(re.findall(r"#([0-9a-f]{6})", svg))
    assert "000000" in colours
    assert {c for c in colours if not c[:2] == c[2:4] == c[4:]} == set()


def test_each_word_of_advice_has_a_shape_and_a_row_of_its_own() -> None:
    """The word stands beside its row and no two rows share a shape."""
    svg = course_svg(made_up_course(), "Ana")

    assert [action for action, _ in ADVICE_ROWS] == sorted(Action, key=lambda a: -a.boldness)
    assert len({mark(shape, 0, 0) for _, shape in ADVICE_ROWS}) == len(Action)
    assert all(f">{action.value}</text>" in svg for action in Action)


def test_no_line_is_drawn_over_days_without_an_answer() -> None:
    """The answers before and after a gap are two lines, so that nothing is made up."""
    days = [CourseDay(MONDAY + timedelta(days=n), first_step_pain=p) for n, p in
            enumerate([2, 3, None, None, 4, 5])]  # fmt: skip

    svg = course_svg(Course(tuple(days), 4), "Ana")

    lines = re.findall(r'<polyline points="([^"]+)"[^>]*stroke="#000000" stroke-width="1"', svg)
    assert [len(one.split()) for one in lines if one.count(" ") == 1][:2] == [2, 2]
    assert svg.count("<circle") == 4 + 2  # the answers, and the two dots of the keys


def test_words_of_anybody_cannot_become_marks_of_the_picture() -> None:
    """A name with every sign of mark-up is drawn as it was written."""
    name = "<script>\"Ana\" & 'Bea'</script>"

    root = ElementTree.fromstring(course_svg(made_up_course(), name))

    assert root.findtext(".//{*}text") == name
    assert root.attrib["aria-label"].startswith(name)


def test_the_picture_is_told_in_words() -> None:
    """Dates, ranges, levels, runs of days and what was raised, as counted by hand."""
    assert course_words(made_up_course()) == (
        "From 2 Mar to 26 Apr. First-step pain 2 to 7 in 52 answers, usual now 2."
        " Limits of the dotted lines 1.0 to 4.0, outside: 1 Apr to 4 Apr."
        " Worst pain in 28 sessions 3 to 7. Level 1 at first, 3 at the end."
        " Step back: 1 Apr. Stop: 2 Apr to 4 Apr. Raised: 3 on 2 Apr, 4 on 3 Apr."
    )


def test_a_course_without_any_answer_is_still_a_picture() -> None:
    """One empty day has its panels and says its date."""
    course = Course((CourseDay(MONDAY),), pain_limit=4)

    assert ElementTree.fromstring(course_svg(course, "Ana")).tag.endswith("svg")
    assert course_words(course) == "From 2 Mar to 2 Mar."


def test_the_picture_can_be_made_a_file_for_the_chat() -> None:
    """It becomes a PNG, and with NEXTMORNING_PICTURES=1 the one of the documents."""
    png = png_of(course_svg(made_up_course(), "Ana, left, to 26 Apr 2026"))

    assert png is not None
    assert png.startswith(b"\x89PNG")
    if TAKES_PICTURES:
        PICTURE.write_bytes(png)


def limits_of(days: Sequence[CourseDay]) -> ChartLimits | None:
    """The limits that the answers of these days give."""
    answered = [(d.on, d.first_step_pain) for d in days if d.first_step_pain is not None]
    return individuals_limits([Reading(on, float(pain)) for on, pain in answered])


def with_limits(*pains: int) -> Course:
    """A course of following mornings with the limits that their answers give."""
    days = tuple(
        CourseDay(MONDAY + timedelta(days=n), first_step_pain=pain) for n, pain in enumerate(pains)
    )
    return Course(days, pain_limit=4, limits=limits_of(days))


DIAMOND = r'<path d="M[^"]*z" fill="none"'


def test_answers_outside_the_limits_stand_out() -> None:
    """Of twelve mornings the 6 has a diamond about it, and the words name its day."""
    # By hand: mean 29/12, mean range 10/11, 3 / 1.128 of it is 2.42, so from 0.0 to 4.8.
    course = with_limits(2, 2, 2, 2, 2, 3, 2, 2, 6, 2, 2, 2)

    svg, words = course_svg(course, "Ana"), course_words(course)

    assert [day.on for day in course.outside] == [MONDAY + timedelta(days=8)]
    assert "Limits of the dotted lines 0.0 to 4.8, outside: 10 Mar." in words
    assert svg.count('stroke-dasharray="1 4"') == 1  # the lower one lies under the scale
    assert len(re.findall(DIAMOND, svg)) == 1 + 1  # the answer, and the one of the key


def test_few_answers_have_no_limits() -> None:
    """With seven of them nothing is drawn and nothing is said."""
    course = with_limits(2, 2, 2, 2, 2, 2, 9)

    assert course.limits is None
    assert "dotted" not in course_words(course)
    assert "out of limits" not in course_svg(course, "Ana")
