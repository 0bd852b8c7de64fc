"""[sms_gateway] of the configuration."""

from __future__ import annotations

import re
from typing import ClassVar, Literal

from pydantic import SecretStr

from bot.channels.tables import ChannelTable, Filled, Shared, WebTable
from bot.ports import Channel, Clock

SECRET = re.compile(r"[A-Za-z0-9_-]{20,200}")
SECRET_EXPECTED = "20 to 200 letters, digits, - and _ (it is part of an address)"


class SmsGatewayTable(ChannelTable):
    """An SMS gateway of one's own, spoken to over HTTP. `senders`: how it writes the numbers of
    people who write, with their country or as people of [sms] region write them."""

    table: ClassVar = "sms_gateway"
    name: ClassVar = "sms"
    secrets: ClassVar = {"password": "NEXTMORNING_SMS_PASSWORD", "secret": "NEXTMORNING_SMS_SECRET"}

    url: Filled = "http://127.0.0.1:13013/cgi-bin/sendsms"
    username: Filled = "nextmorning"
    password: SecretStr = SecretStr("")
    secret: SecretStr = SecretStr("")
    number: Filled
    senders: Literal["international", "national"] = "international"

    def problems(self, shared: Shared) -> list[str]:
        """The gateway is on this machine, so [web] is enough."""
        problems = [] if shared.web else ["web: is missing, and sms_gateway needs it"]
        if shared.sms is None:
            problems.append("sms.region: is missing, and sms_gateway needs it")
        problems += super().problems(shared)
        secret = self.in_clear("secret")
        if secret and not SECRET.fullmatch(secret):
            problems.append(f"sms_gateway.secret: expected {SECRET_EXPECTED}")
        return problems

    def channel(self, shared: Shared, clock: Clock) -> Channel:
        """Reached by the gateway at [web]."""
        from bot.channels.sms_gateway.channel import SmsGatewayChannel

        return SmsGatewayChannel(
            url=self.url,
            username=self.username,
            password=self.in_clear("password"),
            number=self.number,
            ours=(shared.web or WebTable()).local_url(),
            secret=self.in_clear("secret"),
            senders=self.senders,
            region="" if shared.sms is None else shared.sms.region,
            clock=clock,
        )

    def own_number(self) -> str:
        """What patients write to."""
        return self.number
