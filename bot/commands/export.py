"""`nextmorning export`: all that is kept of one patient, in a form that others can read."""

from __future__ import annotations

import json
import os
import shlex
from contextlib import closing
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from bot.clock import SystemClock
from bot.commands.erase import patient_called
from bot.commands.options import ConfigOption
from bot.errors import RefusedError
from bot.export.diary import diary_of, options_of
from bot.export.fhir import bundle_of
from bot.export.loading import BundleType
from bot.patient_record.record import PatientRecord
from bot.settings import clinic_of, read_settings
from bot.store import audit
from bot.store.database import Store
from bot.store.migrations import migrate


class ExportFormat(StrEnum):
    """FHIR R4 for programs; a diary for people, tables, and `nextmorning replay`."""

    FHIR = "fhir"
    CSV = "csv"


def export(
    patient: Annotated[str, typer.Argument(help="The patient's whole name.")],
    form: Annotated[ExportFormat, typer.Option("--format", help="How it is written.")],
    to: Annotated[
        Path | None, typer.Option(help="A file that must not be there yet; else it is printed.")
    ] = None,
    bundle: Annotated[
        BundleType, typer.Option(help="FHIR: for a server to take, or for an archive.")
    ] = BundleType.TRANSACTION,
    with_messages: Annotated[
        bool, typer.Option("--with-messages", help="FHIR: every message, word for word, as well.")
    ] = False,
    config: ConfigOption = Path("clinic.toml"),
) -> None:
    """Hand over all that is kept of a patient.

    fhir: one HL7 FHIR R4 bundle, with every answer, advice and escalation. It can be posted to a
    FHIR server as it is, and again later: nothing is there twice. csv: a diary with one row a day;
    how to replay it is told beside it.

    Example: nextmorning export Ana --format fhir --to ana.json

    Example: nextmorning export Ana --format fhir --bundle collection --with-messages --to ana.json

    Example: nextmorning export Ana --format csv --to ana.csv
    """
    settings = read_settings(config)
    now = SystemClock().now()
    with closing(Store(settings.store.path)) as store:
        migrate(store)
        case = PatientRecord(store, clinic_of(settings), patient_called(store, patient), now)
        with store.transaction():
            text = _text(case, form, bundle, with_messages)
            audit.note(store, None, "patient exported", now, patient=case.patient.id, form=form)
        if form is ExportFormat.CSV:
            typer.echo(f"To replay it: {_replay(case, to or Path('diary.csv'))}", err=True)
    if to is None:
        typer.echo(text, nl=False)
    else:
        write_new(to, text)


def write_new(path: Path, text: str) -> None:
    """Write a file that only its owner can read; raises RefusedError where it is there already."""
    try:
        number = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    except FileExistsError:
        raise RefusedError(f"{path} is there already, and nothing is overwritten") from None
    except OSError as error:
        raise RefusedError(f"{path} cannot be written: {error.strerror}") from error
    with os.fdopen(number, "w", encoding="utf-8") as file:
        file.write(text)


def _text(case: PatientRecord, form: ExportFormat, bundle: BundleType, with_messages: bool) -> str:
    if form is ExportFormat.CSV:
        return diary_of(case)
    made = bundle_of(case, bundle, with_messages=with_messages)
    return json.dumps(made, indent=1, ensure_ascii=False) + "\n"


def _replay(case: PatientRecord, diary: Path) -> str:
    words = ["nextmorning", "replay", str(diary)]
    for name, value in options_of(case).items():
        words += [f"--{name}"] if value is True else [f"--{name}", str(value)]
    return shlex.join(words)
