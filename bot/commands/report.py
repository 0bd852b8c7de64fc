"""`nextmorning report`: one patient's course as a page for the notes or a referral."""

from __future__ import annotations

from contextlib import closing
from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from bot.clock import SystemClock
from bot.commands.erase import patient_called
from bot.commands.export import write_new
from bot.commands.options import ConfigOption, known_language
from bot.errors import RefusedError
from bot.patient_record.record import PatientRecord
from bot.report.gather import report_of
from bot.report.page import page_of
from bot.settings import clinic_of, read_settings
from bot.store import audit
from bot.store.database import Store
from bot.store.migrations import migrate

FileOption = Annotated[
    Path | None, typer.Option(help="A file that must not be there yet; else it is printed.")
]
LongOption = Annotated[
    bool, typer.Option("--long", help="With every decision, change and limit behind it.")
]
SinceOption = Annotated[
    datetime | None, typer.Option(formats=["%Y-%m-%d"], help="Only from this date on.")
]
LanguageOption = Annotated[
    str | None, typer.Option(help="Of the page, such as es; else the clinic's.")
]
WordsOption = Annotated[
    bool, typer.Option("--with-messages", help="Long, with what the patient wrote, word for word.")
]


def report(
    patient: Annotated[str, typer.Argument(help="The patient's whole name.")],
    to: FileOption = None,
    long: LongOption = False,
    since: SinceOption = None,
    language: LanguageOption = None,
    with_messages: WordsOption = False,
    config: ConfigOption = Path("clinic.toml"),
) -> None:
    """Make one page of a patient's course: the verdict, where things stand, the picture.

    It stands alone, prints on one side of A4, and leaves the patient's own words out unless asked
    for. It holds a patient's data: keep it as you keep patients' papers.

    Example: nextmorning report Ana --to ana.html

    Example: nextmorning report Ana --long --since 2026-03-01 --to ana.html
    """
    settings = read_settings(config)
    now = SystemClock().now()
    with closing(Store(settings.store.path)) as store:
        migrate(store)
        case = PatientRecord(store, clinic_of(settings), patient_called(store, patient), now)
        if case.episode.enrolled_on is None:
            raise RefusedError(f"{case.patient.name} has not enrolled yet: there is no course")
        with store.transaction():
            made = report_of(
                case,
                known_language(language or case.clinic.language),
                long=long,
                since=None if since is None else since.date(),
                with_messages=with_messages,
            )
            page = page_of(made)
            details = {"patient": case.patient.id, "with_messages": with_messages}
            audit.note(store, None, "patient reported", now, **details)
    if to is None:
        typer.echo(page, nl=False)
    else:
        write_new(to, page)
