"""[telegram] of the configuration."""

from __future__ import annotations

import asyncio
import re
from typing import ClassVar

from pydantic import SecretStr

from bot.channels.tables import ChannelTable, Shared
from bot.ports import Channel, Clock
from dialogs.commands import MENU_LANGUAGES, menu_in

# What a bot's token looks like. Source: Bot API, authorizing your bot (from memory).
TOKEN = re.compile(r"\d+:[\w-]+")


class TelegramTable(ChannelTable):
    """`token`: the bot's. `base_url`: another Bot API server. `webhook`: updates are brought to
    [web] instead of being asked for."""

    table: ClassVar = "telegram"
    name: ClassVar = "telegram"
    secrets: ClassVar = {"token": "NEXTMORNING_TELEGRAM_TOKEN"}

    token: SecretStr = SecretStr("")
    base_url: str = ""
    webhook: bool = False

    def problems(self, shared: Shared) -> list[str]:
        """A token of another form than the Bot API's; a webhook without an address."""
        public = shared.public_problems("telegram.webhook") if self.webhook else []
        token = self.in_clear("token").strip()
        if token and not TOKEN.fullmatch(token):
            public.append("telegram.token: expected a number, a colon and letters")
        return super().problems(shared) + public

    def channel(self, shared: Shared, clock: Clock) -> Channel:
        """Asking for updates, or brought them."""
        token, base_url = self.in_clear("token"), self.base_url or None
        if not self.webhook:
            from bot.channels.telegram.channel import TelegramChannel

            return TelegramChannel(token, base_url=base_url, clock=clock)
        from bot.channels.telegram.webhook import TelegramWebhookChannel

        url = "" if shared.web is None else shared.web.public_url
        return TelegramWebhookChannel(token, public_url=url, base_url=base_url, clock=clock)

    async def introduce(self) -> None:
        """Show the commands in chats, in each language that patients are spoken to in."""
        from bot.channels.telegram.profile import show_menus

        menus = {language: menu_in(language) for language in MENU_LANGUAGES}
        await show_menus(self.in_clear("token"), self.base_url or None, menus)

    def invitation(self, code: str) -> str | None:
        """A link to the bot; None where its name cannot be asked."""
        from bot.channels.telegram.profile import INVITATION, bot_name

        if not self.in_clear("token"):
            return None
        name = asyncio.run(bot_name(self.in_clear("token"), self.base_url or None))
        return None if name is None else INVITATION.format(name=name, code=code)
