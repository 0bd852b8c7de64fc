"""What a configuration says about the ways to reach people and be reached: the channels and the web
server made from it, and what is missing for them. Read next: `bot.commands.serve`.
"""

from __future__ import annotations

from importlib.util import find_spec

from bot.app import App
from bot.channels.hosted_sms import HostedSmsChannel
from bot.channels.sms_gateway import SECRET, SECRET_EXPECTED, SmsGatewayChannel
from bot.channels.telegram import TelegramChannel
from bot.channels.telegram_profile import Menu
from bot.channels.telegram_webhook import TelegramWebhookChannel
from bot.ports import Channel, Clock
from bot.settings import TOKEN_VARIABLE, Settings, WebTable
from bot.web.service import WebServer, service
from dialogs.commands import MENU_LANGUAGES, menu_in

HTTPS = "https://"

# Tables that each are a way to send text messages: addresses are the same with all.
SMS_WAYS = ("sms_gateway", "hosted_sms")


def web_server(settings: Settings, app: App) -> WebServer | None:
    """The web server, listening already; None where the configuration has none.
    Raises PortTakenError."""
    web = settings.web
    if web is None:
        return None
    application = service(app, settings.store.path, web.watchers)
    return WebServer(application, web.host, web.port, web.proxies)


def telegram_channel(settings: Settings, clock: Clock) -> Channel | None:
    """The channel to Telegram: asking for updates, or brought them where `webhook` says so."""
    table = settings.telegram
    if table is None:
        return None
    token, base_url = table.token.get_secret_value(), table.base_url or None
    if not table.webhook:
        return TelegramChannel(token, base_url=base_url, clock=clock)
    assert settings.web is not None
    public_url = settings.web.public_url
    return TelegramWebhookChannel(token, public_url=public_url, base_url=base_url, clock=clock)


def sms_over_http(settings: Settings, clock: Clock) -> Channel | None:
    """The channel to phones that goes over HTTP, if there is one."""
    if settings.sms_gateway is not None:
        return _sms_gateway(settings, clock)
    if settings.hosted_sms is None:
        return None
    assert settings.web is not None
    table = settings.hosted_sms
    return HostedSmsChannel(
        account=table.account,
        token=table.token.get_secret_value(),
        number=table.number,
        public_url=settings.web.public_url,
        clock=clock,
    )


def _sms_gateway(settings: Settings, clock: Clock) -> Channel:
    table, web = settings.sms_gateway, settings.web
    assert table is not None
    assert web is not None
    return SmsGatewayChannel(
        url=table.url,
        username=table.username,
        password=table.password.get_secret_value(),
        number=table.number,
        ours=_reached_at(web),
        secret=table.secret.get_secret_value(),
        senders=table.senders,
        region="" if settings.sms is None else settings.sms.region,
        clock=clock,
    )


def _reached_at(web: WebTable) -> str:
    """Our address for a program on this machine."""
    host = f"[{web.host}]" if ":" in web.host else web.host
    return f"http://{host}:{web.port}"


def menus() -> dict[str, Menu]:
    """The menu of commands in each language that patients are spoken to in."""
    return {language: menu_in(language) for language in MENU_LANGUAGES}


def door_problems(settings: Settings) -> list[str]:
    """What is missing for the ways to reach people: one sentence each, with the key."""
    problems = []
    telegram, web = settings.telegram, settings.web
    if telegram is not None and not telegram.token.get_secret_value():
        problems.append(
            f"telegram.token: is missing; put the bot's token there or in {TOKEN_VARIABLE}"
        )
    if telegram is not None and telegram.webhook:
        problems += _public_problems(web, "telegram.webhook")
    if settings.sms_gateway is not None:
        problems += _gateway_problems(settings)
    if settings.hosted_sms is not None:
        problems += _hosted_problems(settings)
    ways = [way for way in SMS_WAYS if getattr(settings, way) is not None]
    problems += [f"{way}: expected one way to send text messages, {ways[0]} is" for way in ways[1:]]
    return problems


def _public_problems(web: WebTable | None, key: str) -> list[str]:
    if web is None:
        return [f"web: is missing, and {key} needs it"]
    if not web.public_url.startswith(HTTPS):
        return [f"web.public_url: {key} needs an address with {HTTPS}, found {web.public_url!r}"]
    return []


def _gateway_problems(settings: Settings) -> list[str]:
    table = settings.sms_gateway
    assert table is not None
    problems = [] if settings.web else ["web: is missing, and sms_gateway needs it"]
    if settings.sms is None:
        problems.append("sms.region: is missing, and sms_gateway needs it")
    for key in ("password", "secret"):
        if not getattr(table, key).get_secret_value():
            variable = f"NEXTMORNING_SMS_{key.upper()}"
            problems.append(f"sms_gateway.{key}: is missing; put it there or in {variable}")
    secret = table.secret.get_secret_value()
    if secret and not SECRET.fullmatch(secret):
        problems.append(f"sms_gateway.secret: expected {SECRET_EXPECTED}")
    return problems


def _hosted_problems(settings: Settings) -> list[str]:
    table = settings.hosted_sms
    assert table is not None
    problems = _public_problems(settings.web, "hosted_sms")
    if not table.token.get_secret_value():
        problems.append(
            "hosted_sms.token: is missing; put it there or in NEXTMORNING_HOSTED_SMS_TOKEN"
        )
    if find_spec("twilio") is None:
        problems.append("hosted_sms: in the checkout, run pip install -e '.[hosted-sms]'")
    return problems
