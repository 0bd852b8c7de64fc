"""The four-weekly sheet: points in one reply or one by one, wrong ones, none, corrections.

What each item can be is the rules' business (`rules.outcomes`); totals here are added by hand.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from talks.talking import TODAY, Conversation

from dialogs.clinician import read_command
from dialogs.clinician_commands import EnterSheet, NotUnderstood
from dialogs.questions import VISA_A
from dialogs.rendering import render
from dialogs.sheet import say_sheet_kept, say_sheet_wrong, say_total
from dialogs.turn import Asked, Completed, Skipped, Unread

ALL = "7 6 7 7 6 5 4 10"
POINTS = dict(zip(VISA_A, (7, 6, 7, 7, 6, 5, 4, 10), strict=True))


def sheet() -> Conversation:
    """A conversation with the whole sheet waiting."""
    return Conversation().prompt("evening", *VISA_A)


@pytest.mark.parametrize(
    "text",
    [
        pytest.param(ALL, id="with spaces"),
        pytest.param("7,6,7,7,6,5,4,10", id="with commas"),
        pytest.param("7-6-7-7-6-5-4-10", id="with hyphens"),
        pytest.param("7\n6\n7\n7\n6\n5\n4\n10", id="a line each"),
        pytest.param("1: 7, 2: 6, 3: 7, 4: 7, 5: 6, 6: 5, 7: 4, 8: 10", id="with their numbers"),
        pytest.param("8) 10 7) 4 1) 7 2) 6 3) 7 4) 7 5) 6 6) 5", id="in an order of their own"),
    ],
)
def test_eight_numbers_are_the_whole_sheet(text: str) -> None:
    """All points in one reply complete the sheet, however they are set apart."""
    talk = sheet().says(text)

    assert talk.answers == POINTS
    assert Completed("visa-a", TODAY) in talk.recorded
    assert talk.waits_for == []


def test_points_come_one_at_a_time() -> None:
    """One number answers the first item, and the others are asked for; the last one completes."""
    talk = sheet().says("7")
    after_one = talk.hears

    talk.says("6", "7", "7", "6", "5", "4")
    before_last = talk.hears
    talk.says("10")

    assert after_one.startswith("Now items 2, 3, 4, 5, 6, 7, 8 of the sheet.")
    assert before_last == "What is item 8 on the sheet? Send the number, or SKIP."
    assert Completed("visa-a", TODAY) in talk.recorded


ITEM_7, ITEM_8 = "0, 4, 7, 10", "0, 2, 4, 5, 7, 10, 14, 20, 21, 30"


@pytest.mark.parametrize(
    ("text", "wrong", "said"),
    [
        pytest.param("11 6 7 7 6 5 4 10", 1, "item 1 is 0 to 10.", id="item 1 over its top"),
        pytest.param("7 6 7 7 6 5 5 10", 7, f"item 7 is one of {ITEM_7}.", id="item 7 over a step"),
        pytest.param(
            "7 6 7 7 6 5 4 31", 8, f"item 8 is one of {ITEM_8}.", id="item 8 over its top"
        ),
        pytest.param("7 6 7.5 7 6 5 4 10", 3, "", id="half a point"),
    ],
)
def test_a_wrong_one_is_asked_about_and_the_others_are_kept(
    text: str, wrong: int, said: str
) -> None:
    """The item is named with what it can be; the others are kept, and it is asked again."""
    talk = sheet().says(text)

    kept = {
        question: points for question, points in POINTS.items() if question != VISA_A[wrong - 1]
    }
    assert talk.answers == kept
    assert talk.waits_for == [VISA_A[wrong - 1]]
    assert said in talk.hears
    assert talk.hears.endswith(f"What is item {wrong} on the sheet? Send the number, or SKIP.")


def test_two_wrong_ones_are_both_asked_again() -> None:
    """Each wrong item waits; a number each puts them right."""
    talk = sheet().says("7 6 7 12 6 5 9 10")
    first = talk.waits_for

    talk.says("7 4")

    assert first == ["visa-a-4", "visa-a-7"]
    assert talk.answers == {"visa-a-4": 7, "visa-a-7": 4}
    assert Completed("visa-a", TODAY) in talk.recorded


def test_more_numbers_than_items_are_not_guessed_at() -> None:
    """Nine numbers answer nothing."""
    talk = sheet().says(f"{ALL} 3")

    assert talk.answers == {}
    assert talk.waits_for == [question.value for question in VISA_A]


def test_all_eight_again_replace_those_before() -> None:
    """Who starts anew in the middle means the whole sheet."""
    talk = sheet().says("1 2 3")

    talk.says(ALL)

    assert talk.answers == POINTS


def test_an_item_is_corrected_by_its_number() -> None:
    """ "item 3 should be 8" replaces one answer, and the total is told anew."""
    talk = sheet().says(ALL).knows(answered=())
    known = Conversation(state=talk.state).knows(answered=tuple(talk.turn.recorded[:8]))

    known.says("item 3 should be 8")

    assert known.answers == {"visa-a-3": 8}
    assert "item 3 is now 8" in known.hears
    assert Completed("visa-a", TODAY) in known.recorded


def test_sorry_and_all_eight_replace_the_sheet() -> None:
    """A correction of the whole sheet is one, said back as a total and not item by item."""
    talk = sheet().says(ALL)

    talk.says("sorry, 8 6 7 7 6 5 4 10")

    assert talk.answers["visa-a-1"] == 8
    assert Completed("visa-a", TODAY) in talk.recorded
    assert talk.hears == ""


@pytest.mark.parametrize(
    ("text", "heard", "for_the_clinic"),
    [
        pytest.param("skip", "we skip it", False, id="skip"),
        pytest.param("no sheet", "you need the sheet", True, id="no sheet"),
        pytest.param("lost the paper, sorry", "you need the sheet", True, id="lost it"),
    ],
)
def test_without_a_sheet_nothing_waits(text: str, heard: str, for_the_clinic: bool) -> None:
    """The items are let go, the clinic hears who lacks it, and a reminder has nothing to ask."""
    talk = sheet().says(text)
    recorded = talk.recorded
    said = talk.hears

    talk.prompt("evening-reminder", *VISA_A)

    assert heard in said
    assert any(isinstance(thing, Skipped) for thing in recorded)
    assert any(isinstance(thing, Unread) for thing in recorded) is for_the_clinic
    assert talk.waits_for == []
    assert talk.turn.said == ()


def test_spanish_says_it_has_no_sheet() -> None:
    """The same in Spanish."""
    talk = Conversation().knows(language="es").prompt("evening", *VISA_A)

    talk.says("no tengo la hoja")

    assert "te falta la hoja" in talk.hears
    assert talk.waits_for == []


def test_a_sheet_found_the_next_day_counts_for_its_own_day() -> None:
    """Eight numbers that come late are taken for the sheet, and said to be."""
    talk = sheet().says("no sheet")

    talk.knows(now=talk.situation.now + timedelta(days=1)).says(ALL)

    assert talk.answers == POINTS
    assert {r.about for r in talk.recorded if hasattr(r, "about")} == {TODAY}
    assert "I put that down for the sheet of yesterday" in talk.hears


def test_a_button_answers_its_item() -> None:
    """The buttons of item 7 are its four points."""
    talk = sheet().says("7 6 7 7 6 5")
    shown = [choice.answer for row in talk.turn.said[-1].choices for choice in row]

    talk.presses("4", Asked(VISA_A[6], TODAY))

    assert shown == ["0", "4", "7", "10"]
    assert talk.answers == {"visa-a-7": 4}


@pytest.mark.parametrize(
    ("total", "earlier", "heard"),
    [
        pytest.param(52, None, "Your total is 52 of 100. 100 means", id="the first"),
        pytest.param(52, 46, "That is 6 more than on Wednesday 4 February.", id="more"),
        pytest.param(52, 55, "That is 3 less than on Wednesday 4 February.", id="less"),
        pytest.param(52, 52, "That is the same as on Wednesday 4 February.", id="the same"),
    ],
)
def test_a_patient_hears_total_and_change_alone(
    total: int, earlier: int | None, heard: str
) -> None:
    """No figure to compare it with, and no promise."""
    before = None if earlier is None else (date(2026, 2, 4), earlier)

    said = render(say_total(total, before), sheet().situation)

    assert heard in said
    assert "14" not in said


def test_a_clinician_sees_the_change_beside_the_published_figure() -> None:
    """The change is that since the first sheet; 14 points, 3 to 19, are those of lagas-2021."""
    totals = ((date(2026, 1, 4), 40), (date(2026, 2, 1), 60), (date(2026, 3, 1), 52))

    said = render(say_sheet_kept("Ana", totals), sheet().situation)

    assert said == (
        "Ana: VISA-A 52 of 100, kept. First on Sunday 4 January: +12 points in 56 days."
        " Smallest change that matters at 12 weeks: 14 (95% interval 3 to 19, Lagas 2021)."
    )


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        pytest.param(f"visa Ana {ALL}", EnterSheet("Ana", tuple(POINTS.values())), id="as it is"),
        pytest.param(
            f"VISA-A Ana Lund: {ALL}", EnterSheet("Ana Lund", tuple(POINTS.values())), id="colon"
        ),
    ],
)
def test_a_clinician_enters_a_sheet(text: str, expected: EnterSheet) -> None:
    """The name, then the points."""
    assert read_command(text, today=TODAY) == expected


@pytest.mark.parametrize("text", ["visa", "visa Ana", f"visa {ALL}"])
def test_a_sheet_without_name_or_points_is_refused(text: str) -> None:
    """What lacks either is not understood."""
    assert isinstance(read_command(text, today=TODAY), NotUnderstood)


@pytest.mark.parametrize(
    ("points", "heard"),
    [
        pytest.param((7, 6, 7, 7, 6, 5, 4), "8 items, I read 7 numbers", id="one too few"),
        pytest.param((7, 6, 7, 7, 6, 5, 5, 10), f"item 7 is one of {ITEM_7}", id="a wrong item"),
    ],
)
def test_a_clinician_hears_what_is_wrong(points: tuple[int, ...], heard: str) -> None:
    """Nothing is kept, and the sentence says what was expected."""
    wrong = say_sheet_wrong("Ana", points)

    assert wrong is not None
    assert heard in render(wrong, sheet().situation)
    assert say_sheet_wrong("Ana", tuple(POINTS.values())) is None
