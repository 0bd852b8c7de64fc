"""The chart of a patient's course: readable without colour, on a phone, and by ear."""

from __future__ import annotations

import os
import re
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from xml.etree import ElementTree

import pytest

from bot.charts.course import NEWS, Course, CourseDay, course_words
from bot.charts.course_picture import PAPER_WIDTH, PHONE_WIDTH, Heading, course_svg
from bot.charts.message_images import png_of
from bot.charts.panels import ADVICE_MARKS
from bot.charts.shapes import mark
from dialogs.catalogues import languages
from dialogs.lines import chart_line
from dialogs.verdict import verdict_lines, verdict_words
from rules.fortnight import Fortnight, Load
from rules.protocol import Position
from rules.reasons import Action
from rules.usual import Mean, Week
from rules.weeks import Verdict

MONDAY = date(2026, 3, 2)
PICTURE = Path(__file__).resolve().parents[2] / "deploy" / "pictures" / "course.png"
TAKES_PICTURES = os.environ.get("NEXTMORNING_PICTURES") == "1"


def made_up_course() -> Course:
    """Eight invented weeks: all advice that is shown, a gap, a flare, a morning above usual, and no
    answer on the last two days."""
    days = []
    for number in range(56):
        answered = not 40 <= number < 44 and number < 54
        flare = 4 if 30 <= number < 34 else 0
        level = max(1, 1 + number // 14 - (number >= 30))
        place = Position(level, 1 + number // 5 % 2)
        loaded = number % 2 == 0 and not 31 <= number < 36 and number < 54
        days.append(
            CourseDay(
                on=MONDAY + timedelta(days=number),
                first_step_pain=2 + (number % 5 == 0) + flare + 2 * (number == 48)
                if answered
                else None,
                stiffness=10 + number % 3 * 5 + 10 * flare if answered else None,
                pain_during=3 + flare + 3 * (number == 22) if loaded else None,
                usual=2.0 if answered else None,
                variation=0.7 if answered and number > 8 else None,
                usual_stiffness=15.0 if answered else None,
                place=place,
                done=place if loaded else None,
                whole=number % 6 != 0,
                advised=frozenset(ADVISED.get(number, ())),
            )
        )
    raised = ((MONDAY + timedelta(days=31), 3), (MONDAY + timedelta(days=32), 4))
    return Course(tuple(days), 4, (2, 4, 3, 3, 3, 3, 4, 2, 2), raised)


ADVISED = {
    22: [Action.DO_LESS],
    30: [Action.HOLD, Action.STEP_BACK],
    **{number: [Action.STOP] for number in (31, 32, 33)},
}


def made_up_verdict() -> Fortnight:
    """That of the made-up course, counted by hand, of a patient who enrolled with pain 4."""
    return Fortnight(
        this=Week(Mean(24, 10), Mean(155, 10)),
        before=Week(Mean(42, 12), Mean(340, 12)),
        at_enrolment=Week(Mean(4, 1), Mean(30, 1)),
        change=Verdict.BETTER,
        since_enrolment=Verdict.BETTER,
        limit=4,
        over_limit=0,
        load=Load.UP,
        sessions=6,
        sessions_before=5,
        place=Position(3, 1),
        place_before=Position(2, 1),
    )


TITLE = Heading("Ana, left, to 26 Apr 2026", verdict_lines(made_up_verdict(), "en"))


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("width", [PHONE_WIDTH, PAPER_WIDTH])
def test_every_mark_and_word_lies_inside_the_picture(width: int, language: str) -> None:
    """Nothing is drawn past the edges, at the width of a phone or of paper, in any language; a
    letter takes 6.3 pixels, as measured in the typeface of the pictures."""
    heading = Heading("Ana", verdict_lines(made_up_verdict(), language))
    root = ElementTree.fromstring(course_svg(made_up_course(), heading, language, width))

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
    ends = [
        float(e.attrib["x"]) + 6.3 * len(e.text or "")
        for e in root.findall(".//{*}text")
        if e.attrib["text-anchor"] == "start"
    ]
    assert max(ends) <= width
    assert root.attrib["width"] == str(width)
    assert all(0 <= x <= width and 0 <= y <= height for x, y in [*places, *points])


def test_nothing_is_told_by_colour() -> None:
    """Every colour is a grey, so a copy in black and white says the same."""
    svg = course_svg(made_up_course(), TITLE)

    colours = set(re.findall(r"#([0-9a-f]{6})", svg))
    assert "000000" in colours
    assert {c for c in colours if not c[:2] == c[2:4] == c[4:]} == set()


def test_each_mark_has_one_meaning_and_is_explained() -> None:
    """No two of advice share a shape, and each key of a panel and each word of advice is there."""
    svg = course_svg(made_up_course(), TITLE)

    assert len({mark(ADVICE_MARKS[action], 0, 0) for action in NEWS}) == len(NEWS)
    keys = ("answer", "usual", "band", "over", "above", "place", "session", "part", "within")
    told = [chart_line(f"key-{key}", "en") for key in keys] + [action.value for action in NEWS]
    assert [words for words in told if f">{words}</text>" not in svg] == []


@pytest.mark.parametrize("language", languages())
def test_the_verdict_stands_over_the_picture_with_its_figures(language: str) -> None:
    """Its lines are the first after the title, in the reader's language."""
    lines = verdict_lines(made_up_verdict(), language)

    root = ElementTree.fromstring(
        course_svg(made_up_course(), Heading("Ana", lines), language, PAPER_WIDTH)
    )

    assert [e.text for e in root.findall(".//{*}text")][1 : 1 + len(lines)] == list(lines)


def test_the_verdict_is_said_with_its_figures() -> None:
    """By hand: 24 / 10 is 2.4, 42 / 12 is 3.5, 155 / 10 is 15.5, 340 / 12 is 28."""
    assert verdict_lines(made_up_verdict(), "en") == (
        "Better than the 14 days before",
        "Better than at enrolment",
        "Load going up",
        "Done at level 3, dose 1 (level 2, dose 1 before)",
        "Sessions 6 (5 before)",
        "First-step pain 2.4 (3.5 before, 4 at enrolment)",
        "Over the limit of 4 on 0 of 10 mornings",
        "Stiffness 16 min (28 before, 30 at enrolment)",
    )
    assert verdict_words(made_up_verdict(), "en") == "better, load up"
    assert verdict_words(made_up_verdict(), "es") == "mejor, carga sube"
    nothing = replace(made_up_verdict(), this=Week(Mean(0, 0), Mean(0, 0)), place=None)
    assert "First-step pain not known (3.5 before, 4 at enrolment)" in verdict_lines(nothing, "en")


@pytest.mark.parametrize("language", languages())
def test_every_verdict_has_its_words(language: str) -> None:
    """And what is not known is said."""
    for change in (*Verdict, None):
        for load in (*Load, None):
            found = replace(made_up_verdict(), change=change, since_enrolment=change, load=load)
            assert verdict_lines(found, language)
            assert verdict_words(found, language)


def test_a_gap_is_a_gap() -> None:
    """No line goes over days without an answer, and nothing usual stands after the last answer."""
    days = [
        CourseDay(MONDAY + timedelta(days=n), pain, usual=None if pain is None else 2.0)
        for n, pain in enumerate([2, 3, None, None, 4, 5, None])
    ]

    svg = course_svg(Course(tuple(days), 4), Heading("Ana"))

    answers = re.findall(r'<polyline points="([^"]+)"[^>]*stroke="#000000" stroke-width="1"', svg)
    usual = re.findall(r'<polyline points="([^"]+)"[^>]*stroke="#777777"', svg)
    assert [len(one.split()) for one in answers].count(2) >= 2
    assert not any(len(one.split()) > 2 for one in answers)
    # Each day has two ends; the two lines of the keys stand at their own places.
    assert [len(one.split()) for one in usual if len(one.split()) > 2] == [4, 4]


def test_what_is_over_the_limit_or_above_usual_is_marked() -> None:
    """By hand: limit 4, usual 2 with 1.4 either side: 3 is a dot, 4 has a ring, 5 a diamond."""
    days = tuple(
        CourseDay(MONDAY + timedelta(days=n), pain, usual=2.0, variation=1.4 / 1.96)
        for n, pain in enumerate((2, 3, 4, 5))
    )
    course = Course(days, 4)

    assert [course.is_above(d) for d in days] == [False, False, True, False]
    assert [course.is_over(d.first_step_pain) for d in days] == [False, False, False, True]
    told = course_words(course)
    assert "Over the limit of 4: 5 Mar." in told
    assert "Above what usually varies: 4 Mar." in told


def test_words_of_anybody_cannot_become_marks_of_the_picture() -> None:
    """A name with every sign of mark-up is drawn as it was written."""
    name = "<script>\"Ana\" & 'Bea'</script>"

    root = ElementTree.fromstring(course_svg(made_up_course(), Heading(name)))

    assert root.findtext(".//{*}text") == name
    assert root.attrib["aria-label"].startswith(name)


def test_the_picture_is_told_in_words() -> None:
    """Dates, ranges, levels, runs of days and what was raised, as counted by hand."""
    assert course_words(made_up_course()) == (
        "From 2 Mar to 26 Apr. First-step pain 2 to 7 in 50 answers. Over the limit of 4: 1 Apr to"
        " 4 Apr. Above what usually varies: 19 Apr. Sessions 25, worst pain 3 to 7. Set to level 1,"
        " dose 1 at first, to level 3, dose 2 at the end. Do less: 24 Mar. Step back: 1 Apr. Stop:"
        " 2 Apr to 4 Apr. Escalations: 3 on 2 Apr, 4 on 3 Apr."
    )


def test_a_course_without_any_answer_is_still_a_picture() -> None:
    """One empty day has its panels and says its date."""
    course = Course((CourseDay(MONDAY),), pain_limit=4)

    assert ElementTree.fromstring(course_svg(course, Heading("Ana"))).tag.endswith("svg")
    assert course_words(course) == "From 2 Mar to 2 Mar."


def test_the_picture_can_be_made_a_file_for_the_chat() -> None:
    """It becomes a PNG, and with NEXTMORNING_PICTURES=1 the one of the documents."""
    png = png_of(course_svg(made_up_course(), TITLE))

    assert png is not None
    assert png.startswith(b"\x89PNG")
    if TAKES_PICTURES:
        PICTURE.write_bytes(png)
