"""The conversations that are shown are those the bot has."""

from __future__ import annotations

import pytest
from conversations import CONVERSATIONS, FOLDER, played


@pytest.mark.parametrize("name", CONVERSATIONS)
async def test_a_shown_conversation_is_the_one_the_bot_has(name: str) -> None:
    """Played again, it is the same text. `python tests/conversations.py` writes it anew."""
    shown = (FOLDER / f"{name}.md").read_text(encoding="utf-8")

    assert await played(name) == shown
