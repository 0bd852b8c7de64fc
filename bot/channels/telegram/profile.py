"""What a Telegram bot shows of itself: its name for invitations, its menu of commands.

Never needed for a message to arrive: every failure here is a line in the log, and no more.
Read next: `bot.channels.telegram.channel`.
"""

from __future__ import annotations

import logging
from collections.abc import Mapping, Sequence

from telegram import Bot, BotCommand
from telegram.error import TelegramError
from telegram.request import HTTPXRequest

from bot.channels.telegram.channel import PUBLIC_API

# How long the Bot API may take [seconds]. Convention: somebody waits for the command to end.
PATIENCE_SECONDS = 5.0

INVITATION = "https://t.me/{name}?start={code}"
"""A link that opens the chat with the bot and hands over the code. Source: Bot API, deep linking.
"""

Menu = Sequence[tuple[str, str]]

_log = logging.getLogger(__name__)


async def bot_name(token: str, base_url: str | None) -> str | None:
    """The bot's name without @; None where it cannot be asked."""
    try:
        async with _bot(token, base_url) as bot:
            return bot.username
    except TelegramError:
        return None


async def show_menus(token: str, base_url: str | None, menus: Mapping[str, Menu]) -> bool:
    """Set the menu of commands for each language [two letters]; the first is for all others too.
    False where it did not go through."""
    listed = list(menus.items())
    # "" is everybody whose language has none of its own.
    for_all = [("", menu) for _, menu in listed[:1]]
    try:
        async with _bot(token, base_url) as bot:
            for language, menu in for_all + listed:
                commands = [BotCommand(word, meaning) for word, meaning in menu]
                await bot.set_my_commands(commands, language_code=language or None)
    except TelegramError as error:
        _log.warning("telegram: the menu of commands was not set (%s)", type(error).__name__)
        return False
    return True


def _bot(token: str, base_url: str | None) -> Bot:
    """The library's client, which asks for the bot's name as it opens."""
    seconds = PATIENCE_SECONDS
    request = HTTPXRequest(read_timeout=seconds, connect_timeout=seconds)
    server = PUBLIC_API if base_url is None else base_url
    return Bot(token, base_url=server.rstrip("/").removesuffix("/bot") + "/bot", request=request)
