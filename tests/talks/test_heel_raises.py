"""The weekly count of heel raises: of the sore leg, and behind it of the other."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from talks.talking import SITUATION, TODAY, Conversation

from dialogs.patient import open_prompt
from dialogs.turn import Answer, Completed, Question, Skipped

SORE, OTHER = "heel-raises", "other-heel-raises"


def counted(*texts: str, side: str = "left") -> Conversation:
    """A weekly count that was asked for, and what the patient wrote."""
    talk = Conversation().knows(side=side).prompt("weekly", Question.HEEL_RAISES)
    return talk.says(*texts)


@pytest.mark.parametrize(
    ("side", "asked"),
    [
        pytest.param("left", True, id="left"),
        pytest.param("right", True, id="right"),
        pytest.param("both", False, id="both"),
        pytest.param("", False, id="not told"),
    ],
)
def test_the_other_leg_is_asked_about_where_one_is_sore(side: str, asked: bool) -> None:
    """The week is complete with both legs, or with one where there is no other to compare."""
    talk = counted("12", side=side)

    assert talk.answers == {SORE: 12}
    assert talk.waits_for == ([OTHER] if asked else [])
    assert ("And on the other leg?" in talk.hears) is asked
    assert (Completed("weekly", TODAY) in talk.recorded) is not asked


def test_both_legs_complete_the_week() -> None:
    """The second number is the other leg's, of the same day."""
    talk = counted("12", "20")

    assert talk.recorded == (
        Answer(Question.OTHER_HEEL_RAISES, TODAY, 20), Completed("weekly", TODAY)
    )  # fmt: skip
    assert talk.waits_for == []


@pytest.mark.parametrize(
    ("text", "answers"),
    [
        pytest.param("12 20", {SORE: 12, OTHER: 20}, id="the sore leg first"),
        pytest.param("12, 20", {SORE: 12, OTHER: 20}, id="with a comma"),
        pytest.param("19 20", {SORE: 19, OTHER: 20}, id="one fewer"),
        pytest.param("20 20", {SORE: 20, OTHER: 20}, id="as many"),
        pytest.param("21 20", {SORE: 21, OTHER: 20}, id="one more, read back"),
        pytest.param("12 201", {}, id="one of them cannot be"),
        pytest.param("12 20 8", {}, id="three"),
    ],
)
def test_two_numbers_are_both_legs(text: str, answers: dict[str, int]) -> None:
    """In the order in which they were asked for; read back where the sore leg does more."""
    talk = counted(text)

    assert talk.answers == answers
    assert ("Just send it again" in talk.hears) is (text == "21 20")
    assert talk.waits_for == ([] if answers else [SORE])


def test_counts_are_thanked_for_and_may_be_sent_again() -> None:
    """With what they show; the same kind of message takes their place."""
    before = Answer(Question.HEEL_RAISES, TODAY - timedelta(weeks=1), 19)
    talk = Conversation().knows(side="left", answered=(before,))
    talk.prompt("weekly", Question.HEEL_RAISES).says("21 20")
    first = talk.hears
    talk.says("12 20")

    assert "21 on the sore leg, 20 on the other. That is 2 more than the week before." in first
    assert talk.answers == {SORE: 12, OTHER: 20}
    assert "heel raises is now 12" in talk.hears


def test_two_numbers_are_too_many_where_both_sides_are_sore() -> None:
    """There is one count to give."""
    talk = counted("12 20", side="both")

    assert talk.answers == {}
    assert "more than I asked for" in talk.hears


def test_skip_leaves_the_other_leg_out() -> None:
    """The first count stays; nothing is asked again."""
    talk = counted("12", "skip")

    (skipped,) = talk.recorded
    assert isinstance(skipped, Skipped)
    assert [asked.question for asked in skipped.questions] == [Question.OTHER_HEEL_RAISES]
    assert talk.waits_for == []


def test_the_other_leg_is_open_as_long_as_the_first() -> None:
    """Once the prompt is over, a number is no longer taken for it."""
    closes_at = SITUATION.now + timedelta(hours=3)
    opened = open_prompt(
        "weekly", Conversation().state, SITUATION, (Question.HEEL_RAISES,), {}, closes_at=closes_at
    )
    talk = Conversation(state=opened.state).says("12")
    before = replace(talk.state)

    talk.knows(now=closes_at).says("20")

    assert before.waiting[0].closes_at == closes_at
    assert talk.answers == {}
    assert OTHER not in talk.waits_for


@pytest.mark.parametrize(
    ("before", "text", "answers", "waits"),
    [
        pytest.param(("12",), "sorry, 15", {SORE: 15}, [OTHER], id="the first, other waiting"),
        pytest.param(("12", "skip"), "sorry, 15", {SORE: 15}, [], id="the first, other skipped"),
        pytest.param(("12", "20"), "sorry, 25", {OTHER: 25}, [], id="the other"),
        pytest.param(("12 20",), "oops 13 21", {SORE: 13, OTHER: 21}, [], id="both"),
        pytest.param(("12", "20"), "change other raises to 25", {OTHER: 25}, [], id="by name"),
        pytest.param(("12", "20"), "change raises to 15", {SORE: 15}, [], id="the first by name"),
    ],
)
def test_a_count_can_be_corrected(
    before: tuple[str, ...], text: str, answers: dict[str, int], waits: list[str]
) -> None:
    """A correction asks nothing new."""
    talk = counted(*before)
    known = tuple(Answer(question, TODAY, 1) for question in map(Question, (SORE, OTHER)))

    talk.knows(answered=known).says(text)

    assert talk.answers == answers
    assert talk.waits_for == waits


def test_spanish_asks_it_as_well() -> None:
    """The other leg in Spanish, and its name in a correction."""
    talk = Conversation().knows(language="es").prompt("weekly", Question.HEEL_RAISES).says("12")
    asked = talk.hears

    talk.says("20")
    known = (Answer(Question.OTHER_HEEL_RAISES, TODAY, 20),)
    talk.knows(answered=known).says("cambia otras elevaciones a 25")

    assert asked == "\u00bfY con la otra pierna? Env\u00eda el n\u00famero, 0 si ninguna."
    assert talk.answers == {OTHER: 25}
