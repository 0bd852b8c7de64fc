"""`nextmorning caseload`: who needs somebody, most urgent first, with the reason. Reads only."""

from __future__ import annotations

import json
from contextlib import closing
from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from bot.clinicians.patient_summary import patient_lines
from bot.clinicians.worklist import entry_lines, needs_of
from bot.clock import SystemClock
from bot.commands.erase import patient_called
from bot.commands.options import ConfigOption, JsonOption
from bot.patient_record.record import PatientRecord
from bot.settings import clinic_of, read_settings
from bot.store.database import Store
from dialogs.lines import line


def caseload(
    patient: Annotated[
        str | None, typer.Argument(help="One patient's whole name; without it, who needs somebody.")
    ] = None,
    config: ConfigOption = Path("clinic.toml"),
    as_json: JsonOption = False,
) -> None:
    """Say who needs somebody, most urgent first, and why; or how one patient is doing.

    Example: nextmorning caseload

    Example: nextmorning caseload Ana
    """
    settings = read_settings(config)
    clinic, now = clinic_of(settings), SystemClock().now()
    with closing(Store(settings.store.path, read_only=True)) as store:
        if patient is not None:
            case = PatientRecord(store, clinic, patient_called(store, patient), now)
            lines = patient_lines(case)
            plain: dict[str, object] = {"patient": case.patient.name, "lines": lines}
        else:
            found = needs_of(store, clinic, now)
            lines = entry_lines(found) or [line("nobody-waits", "en")]
            plain = {"needs": [asdict(need) for entry in found for need in entry.needs]}
    told = {"at": now.isoformat(timespec="seconds"), **plain}
    typer.echo(json.dumps(told, indent=1) if as_json else "\n".join(lines))
