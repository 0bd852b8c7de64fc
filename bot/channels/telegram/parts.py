"""What a message to a chat is made of: its texts within the Bot API's lengths, and its buttons.

Read next: `telegram`, which sends them.
"""

from __future__ import annotations

from collections.abc import Iterator

from telegram import InlineKeyboardButton, InlineKeyboardMarkup

from bot.ports import Button

TEXT_MAX = 4096
"""Longest text of one message, after entities [characters]. Source: Bot API, sendMessage, `text`.
Counted in UTF-16 units, as for entities (from memory: the server counts no more strictly)."""

CAPTION_MAX = 1024
"""Longest text under a picture [characters]. Source: Bot API, sendPhoto, `caption`."""


def keyboard(choices: tuple[tuple[Button, ...], ...]) -> InlineKeyboardMarkup | None:
    """Buttons in rows; None where there are none."""
    rows = [
        [InlineKeyboardButton(b.label, callback_data=b.payload) for b in row] for row in choices
    ]
    return InlineKeyboardMarkup(rows) if rows else None


def parts(text: str) -> Iterator[str]:
    """The text in messages of at most `TEXT_MAX`, cut at a line's end where there is one."""
    while len(text.encode("utf-16-le")) > 2 * TEXT_MAX:
        room = text.encode("utf-16-le")[: 2 * TEXT_MAX].decode("utf-16-le", "ignore")
        cut = room.rfind("\n") if "\n" in room.strip() else len(room)
        yield text[:cut]
        text = text[cut:].removeprefix("\n")
    yield text


def fits_under_picture(text: str) -> bool:
    """Whether a text may stand under a picture."""
    return len(text.encode("utf-16-le")) <= 2 * CAPTION_MAX
