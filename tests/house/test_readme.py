"""The documents show the conversation as it is, and the play shows all it promises."""

from __future__ import annotations

from pathlib import Path

import pytest
from readme import BLOCK, DOCUMENTS, filled, played


@pytest.fixture(scope="module")
def lines() -> list[str]:
    """What `nextmorning rehearse --play` prints."""
    return played()


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.stem)
def test_the_conversation_in_a_document_is_what_the_bot_says(
    document: Path, lines: list[str]
) -> None:
    """Out of date? `PYTHONPATH=.:tests python tests/readme.py` writes it anew."""
    text = document.read_text()

    assert BLOCK.search(text)
    assert filled(text, lines) == text


@pytest.mark.parametrize(
    "shown",
    [
        pytest.param("== HOLD:", id="a hold"),
        pytest.param("== ADVANCE: ready", id="an advance"),
        pytest.param("== REST DAY: well-above-usual", id="a rest day for soreness"),
        pytest.param("== STEP BACK:", id="a step back"),
        pytest.param("== STOP: warning-sign", id="a stop for a warning sign"),
        pytest.param("told           Bram", id="told to the second clinician"),
        pytest.param("acknowledged   Bram", id="acknowledged"),
    ],
)
def test_the_play_shows_each_advice_and_an_escalation_to_its_end(
    lines: list[str], shown: str
) -> None:
    """In one run, in three weeks of one patient."""
    assert any(shown in line for line in lines)
