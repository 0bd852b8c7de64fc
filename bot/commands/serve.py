"""`nextmorning serve`: runs the bot for real, or says what is missing."""

from __future__ import annotations

import asyncio
import logging
import signal
from pathlib import Path
from typing import Annotated

import typer

from bot.app import App
from bot.channels.registry import build_channels, channel_problems
from bot.clock import SystemClock
from bot.commands.clock_jump import keep_time
from bot.commands.configuration import unfilled, with_line
from bot.commands.log import LogFormat, write_log
from bot.commands.options import ConfigOption
from bot.commands.watchdog import keep_alive
from bot.errors import SettingsError
from bot.scheduler import scheduler_for
from bot.settings import Settings, clinic_of, read_mended
from bot.store import people
from bot.store.database import Store, Writer
from bot.store.soundness import faults, migrate_if_sound, serve_alone
from bot.web.service import WebServer, service

log = logging.getLogger(__name__)


def serve(
    config: ConfigOption = Path("clinic.toml"),
    check: Annotated[
        bool, typer.Option("--check", help="Only say what is missing or wrong, and stop.")
    ] = False,
    log_format: Annotated[
        LogFormat, typer.Option(help="Lines to read, or one JSON object a line.")
    ] = LogFormat.TEXT,
) -> None:
    """Run the bot for a clinic.

    Example: nextmorning serve --config clinic.toml --check
    """
    settings, problems = _read(config)
    # A patient in a crisis must not be sent to the example's number.
    problems += tuple(one for one in unfilled(config) if check or one.startswith("clinic."))
    if check:
        problems += tuple(_nobody_joined(settings))
    if check or problems or settings is None:
        _report(config, problems)
        return
    write_log(log_format)
    asyncio.run(_run(settings))


def _read(config: Path) -> tuple[Settings | None, tuple[str, ...]]:
    """The settings, None where they cannot be read; and all that is wrong with them."""
    settings, problems = read_mended(config)
    if settings is None:
        return None, problems
    named = {problem.partition(":")[0] for problem in problems}
    further = (one for one in problems_of(settings) if one.partition(":")[0] not in named)
    return settings, (*problems, *further)


def problems_of(settings: Settings) -> tuple[str, ...]:
    """What keeps this configuration from running: one sentence each, with the key."""
    problems: list[str] = []
    try:
        clinic_of(settings)
    except SettingsError as error:
        problems += error.problems
    problems += channel_problems(settings.channels, settings.shared)
    folder = settings.store.path.absolute().parent
    if not folder.is_dir():
        problems.append(f"store.path: the folder {folder} does not exist")
    else:
        problems += _store_problems(settings.store.path)
        problems += _rota_problems(settings)
    return tuple(problems)


def _store_problems(path: Path) -> list[str]:
    """A store that others can read, or in which nobody would be told of a warning sign."""
    nobody = "nobody would be told of a warning sign: nextmorning invite-clinician NAME comes first"
    if not path.exists():
        return [nobody]
    problems = []
    if path.stat().st_mode & 0o077:
        problems.append(f"store.path: others can read {path}; expected 0600 (chmod 600 {path})")
    store = Store(path, read_only=True)
    known = "people" in store.db.table_names() and any(
        one.opted_out_at is None for one in people.by_role(store, *people.CLINICAL)
    )
    if not known:
        problems.append(nobody)
    problems += faults(store)
    store.close()
    return problems


def _nobody_joined(settings: Settings | None) -> list[str]:
    """Whoever was invited and has not come yet hears no alarm."""
    if settings is None or not settings.store.path.exists():
        return []
    store = Store(settings.store.path, read_only=True)
    staff = people.by_role(store, *people.CLINICAL) if "people" in store.db.table_names() else []
    joined = any(people.contacts(store, one.id) for one in staff)
    store.close()
    if joined or not staff:
        return []
    names = ", ".join(one.name for one in staff)
    return [f"nobody who would hear an alarm has joined yet: {names} must send their code"]


def _rota_problems(settings: Settings) -> list[str]:
    """Shifts of somebody nobody knows: a slip in a name would leave a clinician off duty."""
    if not settings.store.path.exists():
        return []
    store = Store(settings.store.path, read_only=True)
    known: set[str] = set()
    if "people" in store.db.table_names():
        known = {person.name for person in people.by_role(store, *people.CLINICAL)}
    store.close()
    named = dict.fromkeys(shift.clinician for shift in settings.rota)
    return [
        f"rota.clinician: no clinician is named {name!r}; there are {', '.join(sorted(known))}"
        for name in named
        if name not in known
    ]


def _report(config: Path, problems: tuple[str, ...]) -> None:
    for problem in problems:
        typer.echo(with_line(config, problem), err=True)
    if problems:
        raise typer.Exit(2)
    typer.echo(f"{config}: nothing is missing")


async def _run(settings: Settings) -> None:
    """Serve until a signal says stop."""
    clock = SystemClock()
    alone = serve_alone(settings.store.path)
    writer = Writer(settings.store.path, migrate_if_sound)
    writer.start()
    app = App(
        writer,
        clinic_of(settings),
        clock,
        build_channels(settings.channels, settings.shared, clock),
    )
    web = _web_server(settings, app)
    scheduler = scheduler_for(app)
    scheduler.start()
    serving = asyncio.create_task(_serve(app, web))
    showing = asyncio.create_task(_introduce(settings))
    living = asyncio.create_task(keep_alive(app))
    timing = asyncio.create_task(keep_time(app, scheduler))
    for number in (signal.SIGINT, signal.SIGTERM):
        asyncio.get_running_loop().add_signal_handler(number, serving.cancel)
    log.info("serving %s on %s", app.clinic.name, ", ".join(app.channels))
    try:
        await serving
    except asyncio.CancelledError:
        log.info("stopping")
    finally:
        showing.cancel()
        living.cancel()
        timing.cancel()
        scheduler.shutdown(wait=False)
        await app.close()
        alone.close()


def _web_server(settings: Settings, app: App) -> WebServer | None:
    """The web server, listening already; None where the configuration has none.
    Raises PortTakenError."""
    web = settings.web
    if web is None:
        return None
    application = service(app, settings.store.path, web.watchers)
    return WebServer(application, web.host, web.port, web.proxies)


async def _serve(app: App, web: WebServer | None) -> None:
    """The bot and its web server, both until cancelled; when one fails, both end."""
    async with asyncio.TaskGroup() as group:
        group.create_task(app.serve())
        if web is not None:
            group.create_task(web.run_until_cancelled())


async def _introduce(settings: Settings) -> None:
    """Show in each channel what it can show. Nothing depends on it, so nothing waits for it."""
    for table in settings.channels.values():
        await table.introduce()
