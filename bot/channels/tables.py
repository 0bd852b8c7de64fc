"""What every channel's table of the configuration has: its checks, and the channel made from it.

Read next: `bot.channels.registry`, which lists them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from ipaddress import ip_network
from typing import Annotated, ClassVar, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, SecretStr, model_validator

from bot.phone_numbers import REGIONS, is_e164
from bot.ports import Channel, Clock

HTTPS = "https://"


def _known_region(name: str) -> str:
    if name not in REGIONS:
        raise ValueError(f"expected the two letters of a country such as GB, found {name!r}")
    return name


def _full_number(text: str) -> str:
    if not is_e164(text):
        raise ValueError(f"expected a number such as +12025550143, found {text!r}")
    return text


def _networks(texts: tuple[str, ...]) -> tuple[str, ...]:
    for text in texts:
        ip_network(text)
    return texts


Filled = Annotated[str, Field(min_length=1)]
Port = Annotated[int, Field(ge=1, le=65535)]
Number = Annotated[str, AfterValidator(_full_number)]
Networks = Annotated[tuple[str, ...], AfterValidator(_networks)]


class Table(BaseModel):
    """A table of the configuration. An unknown key is an error."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class WebTable(Table):
    """[web]: where other programs reach us. `public_url`: our address on the internet, with https;
    `proxies` stand between; `watchers` may ask for numbers and readiness.
    `page`: whether there is a page for clinicians."""

    host: Filled = "127.0.0.1"
    port: Port = 8421
    public_url: str = ""
    proxies: Networks = ("127.0.0.1", "::1")
    watchers: Networks = ("127.0.0.1", "::1")
    page: bool = False

    @model_validator(mode="after")
    def _page_is_safe(self) -> Self:
        """A page is opened by https, or on this machine alone."""
        if self.page and not self.page_url().startswith(
            (HTTPS, "http://127.0.0.1", "http://[::1]")
        ):
            raise ValueError("page = true was expected with a public_url that begins https://")
        return self

    def page_url(self) -> str:
        """Where the clinic page is reached; empty where there is none."""
        return (self.public_url.rstrip("/") or self.local_url()) if self.page else ""

    def local_url(self) -> str:
        """Our address for a program on this machine."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"http://{host}:{self.port}"


class SmsTable(Table):
    """[sms]: whichever way text messages go. `region`: the country whose way of writing numbers is
    understood, two letters; `monthly_segments`: how many parts the clinic pays for;
    `alarm_segments_a_day`: after how many of alarms in a day none is repeated by SMS."""

    region: Annotated[str, AfterValidator(_known_region)]
    monthly_segments: Annotated[int, Field(ge=1)] | None = None
    alarm_segments_a_day: Annotated[int, Field(ge=10)] = 100


@dataclass(frozen=True)
class Shared:
    """The tables that several channels read."""

    web: WebTable | None = None
    sms: SmsTable | None = None

    def public_problems(self, key: str) -> list[str]:
        """What is missing for `key`, which needs an address on the internet."""
        if self.web is None:
            return [f"web: is missing, and {key} needs it"]
        if not self.web.public_url.startswith(HTTPS):
            found = self.web.public_url
            return [f"web.public_url: {key} needs an address with {HTTPS}, found {found!r}"]
        return []


class ChannelTable(Table):
    """A channel's own table.

    `table`: its name in the file. `name`: the channel's; of tables with one name there may be one.
    `secrets`: each key that may stand in the environment instead, and its variable.
    """

    table: ClassVar[str]
    name: ClassVar[str]
    secrets: ClassVar[Mapping[str, str]] = {}

    @classmethod
    def with_secrets(cls, given: object, environment: Mapping[str, str]) -> object:
        """The table as it was given, with secrets from the environment; None where there is none.
        A table that has no other key to fill in is there as soon as a secret is."""
        values = {key: environment.get(name, "").strip() for key, name in cls.secrets.items()}
        found = {key: value for key, value in values.items() if value}
        needs_more = any(field.is_required() for field in cls.model_fields.values())
        if given is None and found and not needs_more:
            return found
        return {**given, **found} if isinstance(given, dict) else given

    def problems(self, shared: Shared) -> list[str]:  # noqa: ARG002 - for those that share
        """What keeps the channel from working: one sentence each, with the key."""
        return [
            f"{self.table}.{key}: is missing; put it there or in {variable}"
            for key, variable in self.secrets.items()
            if not self.in_clear(key)
        ]

    def in_clear(self, key: str) -> str:
        """A secret as it is."""
        value: SecretStr = getattr(self, key)
        return value.get_secret_value()

    def channel(self, shared: Shared, clock: Clock) -> Channel:
        """The channel. What it is made of is imported now: few clinics use them all."""
        raise NotImplementedError

    async def introduce(self) -> None:
        """Show what the channel can show of the bot. Nothing depends on it."""

    def invitation(self, code: str) -> str | None:  # noqa: ARG002 - for those that have one
        """A link that hands over an invitation's code, where there can be one."""
        return None

    def own_number(self) -> str:
        """The number that patients write to; empty where there is none."""
        return ""
