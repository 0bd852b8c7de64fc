"""Codes of the FHIR export: LOINC where there is one, UCUM for units, our own for the rest.

No SNOMED CT content: it needs a licence that a clinic may not have. LOINC codes are used under its
licence: this material contains content from LOINC (http://loinc.org), copyright Regenstrief
Institute, Inc. and the LOINC Committee, available at no cost under http://loinc.org/license.
"""

from __future__ import annotations

import uuid
from typing import Any

from dialogs.questions import COLUMNS, PAIN_SEVERITY, Kind, Question, Row

Json = dict[str, Any]

LOINC = "http://loinc.org"
UCUM = "http://unitsofmeasure.org"
OBSERVATION_CATEGORY = "http://terminology.hl7.org/CodeSystem/observation-category"

# Our own codes: question codes, actions, reasons and signs, as they stand in the store.
LOCAL = "urn:nextmorning:codes"

# LOINC's names of the codes in the table of questions. A pain stays an integer: in LOINC's list of
# answers to this one the code for 2 reads "2 or more".
LOINC_NAMES = {PAIN_SEVERITY: "Pain severity - 0-10 verbal numeric rating [Score] - Reported"}

# The answers that are observations besides: numbers of a day or a session, not of a sheet.
OBSERVED = frozenset(
    one for one in COLUMNS.values() if one.row.kind in (Kind.SCALE, Kind.MINUTES, Kind.COUNT)
)

# LOINC has no code for the VISA-A total that we found; hence our own.
SHEET, SHEET_NAME = "visa-a", "VISA-A total, 0-100, 100 no problem"


def row_of(question: str) -> Row | None:
    """The row of a key in the store; None for one that is asked no more."""
    return Question(question).row if question in set(Question) else None


def title(question: str) -> str:
    """A question in words; the key itself where there are none."""
    row = row_of(question)
    return (row and row.title) or question.replace("-", " ")


def local(code: str, display: str) -> Json:
    """A concept of ours."""
    coding = {"system": LOCAL, "code": code, "display": display}
    return {"coding": [coding], "text": display}


def code_of(question: str) -> Json:
    """What an observation is of: our code, and LOINC's where there is one."""
    concept = local(question, title(question))
    row = row_of(question)
    if row and row.code:
        loinc = {"system": LOINC, "code": row.code, "display": LOINC_NAMES[row.code]}
        concept["coding"].insert(0, loinc)
    return concept


def value_of(question: str, value: int) -> Json:
    """An observation's value: minutes with their unit, anything else as a whole number."""
    row = row_of(question)
    if row and row.kind is Kind.MINUTES:
        unit = {"unit": "min", "system": UCUM, "code": "min"}
        return {"valueQuantity": {"value": value, **unit}}
    return {"valueInteger": value}


def address(kind: str, number: object, clinic: str) -> str:
    """The address of a resource within its bundle: the same each time it is exported."""
    return uuid.uuid5(uuid.NAMESPACE_URL, f"nextmorning/{clinic}/{kind}/{number}").urn
