"""A conversation kept as text, and a button's payload."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from talks.talking import TODAY

from dialogs.errors import StateError
from dialogs.memory import PAYLOAD_BYTES_MAX, payload, read_payload, read_state, state_text
from dialogs.turn import Answer, Asked, Completed, Question, State
from dialogs.waiting import choices
from dialogs.words import shipped_words

QUESTIONS = st.sampled_from(list(Question))
ASKED = st.builds(
    Asked,
    QUESTIONS,
    st.dates(),
    st.text(max_size=20),
    st.integers(0, 9),
    st.text(max_size=40),
    st.integers(0, 9),
)
STATES = st.builds(
    State,
    st.lists(ASKED).map(tuple),
    st.lists(ASKED).map(tuple),
    st.lists(
        st.builds(Answer, QUESTIONS, st.dates(), st.integers() | st.text(), st.booleans())
    ).map(tuple),
    st.text(),
    st.text(),
    st.lists(st.builds(Completed, st.text(), st.dates())).map(tuple),
)


@given(STATES)
def test_a_state_is_read_back_as_it_was(state: State) -> None:
    """Whatever a state holds comes back from its text unchanged."""
    kept = state_text(state)

    assert read_state(kept) == state


DAMAGED = {
    "nothing": "",
    "no JSON": "{waiting",
    "another value": "[]",
    "a number": "3",
    "a field missing": '{"waiting":[]}',
    "an unknown question": state_text(State((Asked(Question.SIDE, TODAY),))).replace("side", "x"),
    "no date": state_text(State((Asked(Question.SIDE, TODAY),))).replace("2026-03-04", "soon"),
    "a text for a number": state_text(State((Asked(Question.SIDE, TODAY),))).replace(
        ",0,", ',"0",'
    ),
    "deep nesting": "[" * 100_000,
}


@pytest.mark.parametrize("text", DAMAGED.values(), ids=DAMAGED)
def test_a_damaged_state_is_refused(text: str) -> None:
    """A state that we did not write raises a named error."""
    with pytest.raises(StateError):
        read_state(text)


@given(st.text())
def test_any_text_at_all_is_a_state_or_a_named_error(text: str) -> None:
    """Reading a state never raises anything but its own error."""
    try:
        state = read_state(text)
    except StateError:
        return

    assert isinstance(state, State)


@pytest.mark.parametrize("question", list(Question))
def test_every_button_fits_and_comes_back(question: Question) -> None:
    """Each button of each question fits the narrowest channel and names its question again."""
    asked = Asked(question, TODAY, "lumps-and-cholesterol", out_of=4)

    for row in choices(asked, shipped_words().buttons):
        for choice in row:
            text = payload(choice.asked, choice.answer)
            found, answer = read_payload(text)

            assert len(text.encode()) <= PAYLOAD_BYTES_MAX
            assert (found.key, answer) == (asked.key, choice.answer)


@pytest.mark.parametrize("length", [63, 64, 65])
def test_a_payload_over_its_length_is_refused(length: int) -> None:
    """A payload of 64 bytes is taken, one more is refused."""
    asked = Asked(Question.SIDE, TODAY)
    answer = "x" * (length - len(payload(asked, "")))

    if length <= PAYLOAD_BYTES_MAX:
        assert len(payload(asked, answer)) == length
    else:
        with pytest.raises(StateError):
            payload(asked, answer)


@pytest.mark.parametrize("text", ["", "3", "side|soon||left", "x|2026-03-04||left", "a|b|c|d|e"])
def test_a_strange_payload_is_refused(text: str) -> None:
    """A button that is none of ours raises a named error."""
    with pytest.raises(StateError):
        read_payload(text)
