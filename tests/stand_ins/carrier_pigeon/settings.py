"""[pigeon] of the configuration."""

from __future__ import annotations

from typing import ClassVar

from pydantic import SecretStr

from bot.channels.tables import ChannelTable, Filled, Shared
from bot.ports import Channel, Clock


class PigeonTable(ChannelTable):
    """`loft`: where pigeons come home; `ring`: what a pigeon is known by."""

    table: ClassVar = "pigeon"
    name: ClassVar = "pigeon"
    secrets: ClassVar = {"ring": "NEXTMORNING_PIGEON_RING"}

    loft: Filled
    ring: SecretStr = SecretStr("")

    def problems(self, shared: Shared) -> list[str]:
        """A loft is on a roof."""
        on_roof = [] if self.loft.startswith("roof") else ["pigeon.loft: expected one on a roof"]
        return super().problems(shared) + on_roof

    def channel(self, shared: Shared, clock: Clock) -> Channel:
        """The loft."""
        from stand_ins.carrier_pigeon.channel import PigeonChannel

        return PigeonChannel(self.in_clear("ring"), clock)
