"""[last_resort] of the configuration."""

from __future__ import annotations

import shutil
from typing import ClassVar

from bot.channels.tables import HTTPS, ChannelTable, Filled, Shared
from bot.ports import LAST_RESORT, Channel, Clock


class LastResortTable(ChannelTable):
    """`command`: a program and its arguments, which gets the text on standard input; or `url`: an
    address the text is posted to."""

    table: ClassVar = LAST_RESORT
    name: ClassVar = LAST_RESORT

    command: tuple[Filled, ...] = ()
    url: str = ""

    def problems(self, shared: Shared) -> list[str]:  # noqa: ARG002 - it stands alone
        """One of the two, and a program that is there."""
        if bool(self.command) == bool(self.url):
            return ["last_resort: expected either command or url"]
        if self.command and shutil.which(self.command[0]) is None:
            return [f"last_resort.command: there is no program {self.command[0]!r} to run"]
        if self.url and not self.url.startswith((HTTPS, "http://127.0.0.1")):
            return [f"last_resort.url: expected an address with {HTTPS}, found {self.url!r}"]
        return []

    def channel(self, shared: Shared, clock: Clock) -> Channel:  # noqa: ARG002 - it stands alone
        """The way out, as a channel nobody answers on."""
        from bot.channels.last_resort.channel import LastResort

        return LastResort(self.command, self.url)
