"""Which channels there are: a line each. Their tables are read, checked and made into channels
here, and nowhere is one of them named again."""

from __future__ import annotations

from collections.abc import Mapping

from bot.channels.hosted_sms.settings import HostedSmsTable
from bot.channels.last_resort.settings import LastResortTable
from bot.channels.sms_gateway.settings import SmsGatewayTable
from bot.channels.tables import ChannelTable, Shared
from bot.channels.telegram.settings import TelegramTable
from bot.ports import LAST_RESORT, Channel, Clock

TABLES: list[type[ChannelTable]] = [
    TelegramTable,
    SmsGatewayTable,
    HostedSmsTable,
    LastResortTable,
]


def channel_problems(tables: Mapping[str, ChannelTable], shared: Shared) -> list[str]:
    """What keeps the configured channels from working: one sentence each, with the key."""
    problems: list[str] = []
    for table in tables.values():
        problems += table.problems(shared)
    firsts: dict[str, str] = {}
    for name, table in tables.items():
        first = firsts.setdefault(table.name, name)
        if first != name:
            problems.append(
                f"{name}: expected either {first} or {name}; both reach the same phones"
            )
    if not set(tables) - {LAST_RESORT}:
        problems += TelegramTable().problems(shared)
    return problems


def build_channels(
    tables: Mapping[str, ChannelTable], shared: Shared, clock: Clock
) -> list[Channel]:
    """The configured channels. Raises SettingsError for what `channel_problems` would name."""
    return [table.channel(shared, clock) for table in tables.values()]
