"""What a carrier gave the clinic to speak SMPP with: where, as whom, and how much at once."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta

from bot.channels.smpp_pdu import ISDN, Address, TypeOfNumber
from bot.channels.smpp_text import GSM
from bot.phone_numbers import is_e164

# Longest names [characters], without the closing zero. Source: SMPP v3.4, section 4.1.5.
SYSTEM_ID_MAX, PASSWORD_MAX, SYSTEM_TYPE_MAX = 15, 8, 12


@dataclass(frozen=True)
class SmppAccount:
    """What the carrier gave the clinic. The password is left out of what is printed.

    `sender`: number or name that patients see. `region`: country of numbers that come without
    country code. `alphabet`: what data_coding 0 means to the carrier, GSM or a codec's name.
    `validity`: how long the carrier may try; None leaves it to the carrier.
    `messages_per_second`, `window` (requests without response at once): as agreed.
    """

    host: str
    port: int
    system_id: str
    password: str = field(repr=False)
    sender: str
    system_type: str = ""
    region: str | None = None
    alphabet: str = GSM
    tls: bool = False
    messages_per_second: float = 10.0
    window: int = 10
    validity: timedelta | None = timedelta(hours=12)

    def problems(self) -> tuple[str, ...]:
        """What SMPP does not allow: one sentence each, with the key and never the value."""
        limits = (
            ("system_id", self.system_id, SYSTEM_ID_MAX),
            ("password", self.password, PASSWORD_MAX),
            ("system_type", self.system_type, SYSTEM_TYPE_MAX),
        )
        return tuple(
            f"smpp.{key}: expected at most {most} plain letters and digits"
            for key, value, most in limits
            if len(value) > most or not value.isascii() or "\0" in value
        )

    def source(self) -> Address:
        """The sender as an address: a number with country code, a short code, or a name.
        Short codes as network-specific: common practice, no source."""
        if is_e164(self.sender):
            return Address(self.sender.removeprefix("+"), TypeOfNumber.INTERNATIONAL, ISDN)
        if self.sender.isdecimal():
            return Address(self.sender, TypeOfNumber.NETWORK_SPECIFIC)
        return Address(self.sender, TypeOfNumber.ALPHANUMERIC)
