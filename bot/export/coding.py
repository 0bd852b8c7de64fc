"""Codes of the FHIR export: LOINC where there is one, UCUM for units, our own for the rest.

No SNOMED CT content: it needs a licence that a clinic may not have. LOINC codes are used under its
licence: this material contains content from LOINC (http://loinc.org), copyright Regenstrief
Institute, Inc. and the LOINC Committee, available at no cost under http://loinc.org/license.
"""

from __future__ import annotations

import uuid
from typing import Any

from dialogs.lines import words_for
from dialogs.questions import COLUMNS, PAIN_SEVERITY, Kind, Question, Row
from rules.lexicon import shipped_lexicon
from rules.protocol import Tendon
from rules.reasons import Action, Reason

Json = dict[str, Any]

LOINC = "http://loinc.org"
UCUM = "http://unitsofmeasure.org"
ICD_10 = "http://hl7.org/fhir/sid/icd-10"
TERMINOLOGY = "http://terminology.hl7.org/CodeSystem"
OBSERVATION_CATEGORY = f"{TERMINOLOGY}/observation-category"

# Our own: codes of questions, actions, reasons and signs, as they stand in the store; what tells
# one resource from another; the questions.
LOCAL = "urn:nextmorning:codes"
RECORDS = "urn:nextmorning:records"
ANSWERS = "urn:nextmorning:questionnaire:answers"

# LOINC's names of the codes in the table of questions. A pain stays an integer: in LOINC's list of
# answers to this one the code for 2 reads "2 or more".
LOINC_NAMES = {PAIN_SEVERITY: "Pain severity - 0-10 verbal numeric rating [Score] - Reported"}

# The answers that are observations besides: numbers of a day or a session, not of a sheet.
OBSERVED = frozenset(
    one for one in COLUMNS.values() if one.row.kind in (Kind.SCALE, Kind.MINUTES, Kind.COUNT)
)

# LOINC has no code for the VISA-A total that we found; hence our own.
SHEET = "visa-a"

# What our codes besides questions, actions, reasons and signs mean.
FURTHER = {
    SHEET: "VISA-A total, 0-100, 100 no problem",
    "advice": "Advice on the day's loading",
    "reason": "Reason",
    "further-reason": "Further reason",
    "export": "Export of all that is kept of one patient",
    "assembler": "Program that put it together",
}

# M76.6 has no side; HL7 version 2 has. Sources: ICD-10 (WHO, 2019); HL7 table 0495.
TENDINOPATHY = {"system": ICD_10, "code": "M76.6", "display": "Achilles tendinitis"}
SIDES = {"left": ("L", "Left"), "right": ("R", "Right"), "both": ("BIL", "Bilateral")}


def row_of(question: str) -> Row | None:
    """The row of a key in the store; None for one that is asked no more."""
    return Question(question).row if question in set(Question) else None


def title(question: str) -> str:
    """A question in words; the key itself where there are none."""
    row = row_of(question)
    return (row and row.title) or question.replace("-", " ")


def concept(system: str, code: str, display: str) -> Json:
    """A concept of one code."""
    return {"coding": [{"system": system, "code": code, "display": display}], "text": display}


def local(code: str, display: str = "") -> Json:
    """A concept of ours."""
    return concept(LOCAL, code, display or FURTHER[code])


def action_code(action: Action) -> str:
    """An action as a code: FHIR allows no space that a program could lose."""
    return action.replace(" ", "-")


def own_codes() -> Json:
    """The code system of all that is coded as ours."""
    named = {question.value: title(question) for question in Question}
    named |= {action_code(action): str(action) for action in Action}
    named |= {reason.value: str(reason) for reason in Reason}
    named |= {tendon.value: f"{tendon} Achilles tendon" for tendon in Tendon}
    named |= {key: rules.sign.title for key, rules in shipped_lexicon("en").signs.items()}
    named |= words_for("sign", "en") | FURTHER
    return {
        "url": LOCAL,
        "name": "NextmorningCodes",
        "title": "Questions, advice, reasons and signs of nextmorning",
        "status": "active",
        "content": "complete",
        "caseSensitive": True,
        "concept": [{"code": code, "display": text} for code, text in named.items()],
    }


def questionnaire() -> Json:
    """Every question that a response may answer. No answer is required: each response holds what
    one message told."""
    return {
        "url": ANSWERS,
        "name": "NextmorningAnswers",
        "title": "What patients are asked by message",
        "status": "active",
        "subjectType": ["Patient"],
        "item": [
            {
                "linkId": one.value,
                "text": title(one),
                "type": _ITEM_TYPES.get(one.row.kind, "string"),
            }
            for one in Question
        ],
    }


def code_of(question: str) -> Json:
    """What an observation is of: our code, and LOINC's where there is one."""
    of = local(question, title(question))
    row = row_of(question)
    if row and row.code:
        loinc = {"system": LOINC, "code": row.code, "display": LOINC_NAMES[row.code]}
        of["coding"].insert(0, loinc)
    return of


# What an answer is in a response; words where it is no number.
_ITEM_TYPES = {Kind.YES_NO: "boolean"} | dict.fromkeys(
    (Kind.SCALE, Kind.MINUTES, Kind.SETS, Kind.COUNT, Kind.POINTS), "integer"
)


def _item_type(question: str) -> str:
    row = row_of(question)
    return _ITEM_TYPES.get(row.kind, "string") if row else "string"


def answer_of(question: str, value: str) -> Json:
    """An answer in a response, as its item in the questionnaire says."""
    kind = _item_type(question)
    if kind == "string" or not value.lstrip("-").isdecimal():
        return {"valueString": value}
    return {"valueBoolean": value != "0"} if kind == "boolean" else {"valueInteger": int(value)}


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
