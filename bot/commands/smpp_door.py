"""What a configuration says about text messages by SMPP: the channel made from it, and what is
missing for it. Read next: `bot.channels.smpp`."""

from __future__ import annotations

from datetime import timedelta

from bot.channels.smpp import SmppChannel
from bot.channels.smpp_account import SmppAccount
from bot.ports import Channel, Clock
from bot.settings import Settings


def smpp_channel(settings: Settings, clock: Clock) -> Channel | None:
    """The channel to telephones by SMPP, if there is one."""
    account = _account(settings)
    return None if account is None else SmppChannel(account, clock=clock)


def smpp_problems(settings: Settings) -> list[str]:
    """What keeps [smpp] from working: one sentence each, with the key."""
    account = _account(settings)
    if account is None:
        return []
    problems = list(account.problems())
    if not account.password:
        problems.append("smpp.password: is missing; put it there or in NEXTMORNING_SMPP_PASSWORD")
    others = (settings.sms_gateway, settings.hosted_sms)
    if any(other is not None for other in others):
        problems.append("smpp: expected one way to send text messages, there is another")
    return problems


def _account(settings: Settings) -> SmppAccount | None:
    table = settings.smpp
    if table is None:
        return None
    hours = table.validity_hours
    return SmppAccount(
        host=table.host,
        port=table.port,
        system_id=table.system_id,
        password=table.password.get_secret_value(),
        sender=table.sender,
        system_type=table.system_type,
        region=None if settings.sms is None else settings.sms.region,
        alphabet=table.alphabet,
        tls=table.tls,
        messages_per_second=table.messages_per_second,
        window=table.window,
        validity=timedelta(hours=hours) if hours else None,
    )
