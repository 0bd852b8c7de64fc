"""What can be taken from the page of one patient: the picture, the report to print, the exports."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from bot.clinicians.patient_summary import patient_svg
from bot.errors import NotFoundError
from bot.export.diary import diary_of
from bot.export.fhir import bundle_of
from bot.patient_record.record import PatientRecord
from bot.report.exercises import exercise_page
from bot.report.gather import report_of
from bot.report.page import page_of

DRAWING = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
"""A document of ours that fetches nothing and runs nothing; its styles stand in it."""


@dataclass(frozen=True)
class Document:
    """A text and its media type. `leaves`: it is saved as a file, and that is audited."""

    text: str
    media: str
    leaves: str = ""

    def headers(self) -> dict[str, str]:
        """Type, what it may do, and the name it is saved under."""
        kept = {"Content-Type": self.media, "Content-Security-Policy": DRAWING}
        if self.leaves:
            kept["Content-Disposition"] = f'attachment; filename="{self.leaves}"'
        return kept


def _picture(case: PatientRecord, language: str) -> Document:
    svg = patient_svg(case, language)
    if svg is None:
        raise NotFoundError("a picture before enrolment")
    return Document(svg, "image/svg+xml")


def _report(case: PatientRecord, language: str) -> Document:
    if case.episode.enrolled_on is None:
        raise NotFoundError("a report before enrolment")
    return Document(page_of(report_of(case, language)), "text/html; charset=utf-8")


def _exercises(case: PatientRecord, _language: str) -> Document:
    """In the patient's language, as it is theirs."""
    return Document(exercise_page(case), "text/html; charset=utf-8")


def _fhir(case: PatientRecord, _language: str) -> Document:
    text = json.dumps(bundle_of(case), ensure_ascii=False, indent=1)
    return Document(text, "application/fhir+json", f"patient-{case.patient.id}.json")


def _diary(case: PatientRecord, _language: str) -> Document:
    return Document(diary_of(case), "text/csv; charset=utf-8", f"patient-{case.patient.id}.csv")


DOCUMENTS: Mapping[str, Callable[[PatientRecord, str], Document]] = {
    "picture": _picture,
    "report": _report,
    "exercises": _exercises,
    "fhir": _fhir,
    "diary": _diary,
}
"""Each of a patient's record, in the reader's language."""
