"""Codes of the FHIR export: LOINC where there is one, UCUM for units, our own for the rest.

No SNOMED CT content: it needs a licence that a clinic may not have. LOINC codes are used under its
licence: this material contains content from LOINC (http://loinc.org), copyright Regenstrief
Institute, Inc. and the LOINC Committee, available at no cost under http://loinc.org/license.
"""

from __future__ import annotations

import uuid
from typing import Any

from dialogs.questions import VISA_A
from dialogs.turn import Question

Json = dict[str, Any]

LOINC = "http://loinc.org"
UCUM = "http://unitsofmeasure.org"
OBSERVATION_CATEGORY = "http://terminology.hl7.org/CodeSystem/observation-category"

# Our own codes: question codes, actions, reasons and signs, as they stand in the store.
LOCAL = "urn:nextmorning:codes"

# Pain severity 0-10, verbal numeric rating, as reported. Source: LOINC 2.82, 72514-3. Kept as an
# integer: in the LOINC answer list the code for 2 reads "2 or more".
PAIN_SEVERITY = "72514-3"
PAIN_SEVERITY_NAME = "Pain severity - 0-10 verbal numeric rating [Score] - Reported"

PAINS = frozenset(
    {
        Question.FIRST_STEP_PAIN,
        Question.NEXT_DAY_PAIN,
        Question.TWO_DAY_PAIN,
        Question.PAIN_DURING,
        Question.PAIN_AFTER,
    }
)
# LOINC has no code for minutes of morning stiffness of a tendon that we found; hence our own.
MINUTES = frozenset({Question.STIFFNESS, Question.ACTIVITY_MINUTES})
NUMBERS = frozenset(
    {
        Question.EFFORT,
        Question.ACTIVITY_EFFORT,
        Question.HEEL_RAISES,
        Question.OTHER_HEEL_RAISES,
    }
)

# What a question is about, in words for whoever reads the export.
TITLES = {
    Question.FIRST_STEP_PAIN: "Tendon pain with the first steps of the morning",
    Question.STIFFNESS: "Minutes until the tendon's morning stiffness eased",
    Question.NEXT_DAY_PAIN: "Worst tendon pain in the 24 hours after the session",
    Question.TWO_DAY_PAIN: "Worst tendon pain between 24 and 48 hours after the session",
    Question.SETS_DONE: "Sets done of those prescribed",
    Question.PAIN_DURING: "Worst tendon pain during the session",
    Question.PAIN_AFTER: "Tendon pain straight after the session",
    Question.EFFORT: "How hard the session was, 0-10",
    Question.PAINKILLER: "Painkiller before the session, 1 yes, 0 no",
    Question.ACTIVITY_MINUTES: "Minutes of other activity on the day",
    Question.ACTIVITY_EFFORT: "How hard the other activity was, 0-10",
    Question.HEEL_RAISES: "Single-leg heel raises in one go",
    Question.OTHER_HEEL_RAISES: "Single-leg heel raises in one go, on the other side",
    **{question: f"VISA-A, points of item {item}" for item, question in enumerate(VISA_A, start=1)},
}

# LOINC has no code for the VISA-A total that we found; hence our own.
SHEET, SHEET_NAME = "visa-a", "VISA-A total, 0-100, 100 no problem"


def title(question: str) -> str:
    """A question in words; the code itself where there are none."""
    known = {asked.value: words for asked, words in TITLES.items()}
    return known.get(question, question.replace("-", " "))


def local(code: str, display: str) -> Json:
    """A concept of ours."""
    coding = {"system": LOCAL, "code": code, "display": display}
    return {"coding": [coding], "text": display}


def code_of(question: str) -> Json:
    """What an observation is of: our code, and LOINC's where it is a pain from 0 to 10."""
    concept = local(question, title(question))
    if question in PAINS:
        pain = {"system": LOINC, "code": PAIN_SEVERITY, "display": PAIN_SEVERITY_NAME}
        concept["coding"].insert(0, pain)
    return concept


def value_of(question: str, value: int) -> Json:
    """An observation's value: minutes with their unit, anything else as a whole number."""
    if question in MINUTES:
        unit = {"unit": "min", "system": UCUM, "code": "min"}
        return {"valueQuantity": {"value": value, **unit}}
    return {"valueInteger": value}


def address(kind: str, number: object, clinic: str) -> str:
    """The address of a resource within its bundle: the same each time it is exported."""
    return uuid.uuid5(uuid.NAMESPACE_URL, f"nextmorning/{clinic}/{kind}/{number}").urn
