"""`nextmorning exercises`: one patient's exercise sheet, to print."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path
from typing import Annotated

import typer

from bot.clock import SystemClock
from bot.commands.erase import patient_called
from bot.commands.export import write_new
from bot.commands.options import ConfigOption
from bot.patient_record.record import PatientRecord
from bot.report.exercises import exercise_page
from bot.settings import clinic_of, read_settings
from bot.store.database import Store


def exercises(
    patient: Annotated[str, typer.Argument(help="The patient's whole name.")],
    to: Annotated[
        Path | None, typer.Option(help="A file that must not be there yet; else it is printed.")
    ] = None,
    config: ConfigOption = Path("clinic.toml"),
) -> None:
    """Make the exercise sheet of a patient: picture, dose, what to mind, how much it may hurt, whom
    to call.

    One page of HTML to print, in the patient's language, as their plan stands now. None is made
    while the exercises are stopped or paused.

    Example: nextmorning exercises Ana --to ana-exercise.html
    """
    settings = read_settings(config)
    with closing(Store(settings.store.path, read_only=True)) as store:
        found = patient_called(store, patient)
        case = PatientRecord(store, clinic_of(settings), found, SystemClock().now())
        page = exercise_page(case)
    if to is None:
        typer.echo(page, nl=False)
    else:
        write_new(to, page)
