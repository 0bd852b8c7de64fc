"""[hosted_sms] of the configuration."""

from __future__ import annotations

from importlib.util import find_spec
from typing import ClassVar

from pydantic import SecretStr

from bot.channels.tables import ChannelTable, Filled, Number, Shared
from bot.ports import Channel, Clock


class HostedSmsTable(ChannelTable):
    """A hosted SMS gateway; needs the extra hosted-sms."""

    table: ClassVar = "hosted_sms"
    name: ClassVar = "sms"
    secrets: ClassVar = {"token": "NEXTMORNING_HOSTED_SMS_TOKEN"}

    account: Filled
    token: SecretStr = SecretStr("")
    number: Number

    def problems(self, shared: Shared) -> list[str]:
        """It reaches us at our address on the internet."""
        problems = shared.public_problems("hosted_sms") + super().problems(shared)
        if find_spec("twilio") is None:
            problems.append("hosted_sms: in the checkout, run pip install -e '.[hosted-sms]'")
        return problems

    def channel(self, shared: Shared, clock: Clock) -> Channel:
        """Reached at [web] public_url."""
        from bot.channels.hosted_sms.channel import HostedSmsChannel

        return HostedSmsChannel(
            account=self.account,
            token=self.in_clear("token"),
            number=self.number,
            public_url="" if shared.web is None else shared.web.public_url,
            clock=clock,
        )

    def own_number(self) -> str:
        """What patients write to."""
        return self.number
