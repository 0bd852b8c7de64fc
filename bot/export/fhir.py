"""A patient's whole record as one HL7 FHIR R4 bundle, written by hand as JSON.

Patient, Condition, QuestionnaireResponse and Observation for the answers, with the Questionnaire
and the code system that they name; CarePlan for the ladder, Observation for each advice, Task for
each escalation, Communication for the messages where wanted, Provenance for the whole. Corrected
answers are in it as well, marked as such. Read next: `coding`, then `loading`.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from itertools import groupby
from typing import Any

from bot.export.coding import (
    ANSWERS,
    OBSERVATION_CATEGORY,
    OBSERVED,
    SHEET,
    SIDES,
    TENDINOPATHY,
    TERMINOLOGY,
    Json,
    action_code,
    address,
    answer_of,
    code_of,
    concept,
    local,
    own_codes,
    questionnaire,
    title,
    value_of,
)
from bot.export.loading import BundleType, bundled
from bot.patient_record.record import PatientRecord
from bot.ports import kind_of
from bot.store import decisions, instants, people, plans
from dialogs.advising import dose_line
from rules.history import Move

# How soon a task is to be seen to, by tier.
PRIORITIES = {"emergency": "stat", "same day": "urgent", "next working day": "routine"}


def bundle_of(
    case: PatientRecord,
    kind: BundleType = BundleType.TRANSACTION,
    *,
    with_messages: bool = False,
) -> Json:
    """All that is kept of the patient, as a FHIR R4 bundle. with_messages: and every word of what
    was written to them and by them."""
    record = _Record(case)
    entries = list(record.resources(with_messages=with_messages))
    entries.append(record.provenance([entry["fullUrl"] for entry in entries]))
    return bundled(kind, entries, _at(case.now))


class _Record:
    """One patient's rows on their way into resources."""

    def __init__(self, case: PatientRecord) -> None:
        self.case, self.store = case, case.store
        self.patient = address("Patient", case.patient.id, case.clinic.name)
        self.condition = address("Condition", case.episode.id, case.clinic.name)

    def resources(self, *, with_messages: bool) -> Iterator[Json]:
        """Every resource but the provenance, each as an entry."""
        yield self._entry("CodeSystem", "", own_codes())
        yield self._entry("Questionnaire", "", questionnaire())
        yield self._entry("Patient", self.case.patient.id, self._person())
        yield self._entry("Condition", self.case.episode.id, self._condition())
        yield from self._answers()
        for on, total in self.case.sheets:
            yield self._entry("Observation", f"{SHEET} {on}", self._sheet(on, total))
        if self.case.episode.enrolled_on is not None:
            yield self._entry("CarePlan", self.case.episode.id, self._plan())
        for decision in decisions.every(self.store, self.case.episode.id):
            yield self._entry("Observation", f"advice {decision.id}", self._advice(decision))
        if with_messages:
            yield from self._messages()
        yield from self._escalations()

    def _entry(self, kind: str, number: object, resource: Json) -> Json:
        url = address(kind, number, self.case.clinic.name)
        return {"fullUrl": url, "resource": {"resourceType": kind, **resource}}

    @property
    def _subject(self) -> Json:
        return {"reference": self.patient, "type": "Patient"}

    def _person(self) -> Json:
        person = self.case.patient
        telecom = [
            {
                "system": "sms" if kind_of(contact.channel) == "text" else "other",
                "value": contact.address,
                "rank": contact.rank,
            }
            for contact in people.contacts(self.store, person.id)
        ]
        return {
            **({"identifier": [self._own_identifier()]} if person.identifier else {}),
            "active": not self.case.episode.discharged,
            "name": [{"text": person.name}],
            **({"telecom": telecom} if telecom else {}),
            **({"birthDate": _day(person.born_on)} if person.born_on else {}),
            "communication": [
                {"language": {"coding": [{"system": "urn:ietf:bcp:47", "code": person.language}]}}
            ],
        }

    def _own_identifier(self) -> Json:
        """What the clinic calls the patient. Its system is known where the clinic has said it."""
        clinic = self.case.clinic
        system = {"system": clinic.identifier_system} if clinic.identifier_system else {}
        return {
            "type": concept(f"{TERMINOLOGY}/v2-0203", "MR", "Medical record number"),
            **system,
            "value": self.case.patient.identifier,
            "assigner": {"display": clinic.name},
        }

    def _condition(self) -> Json:
        """What the clinic enrolled the patient with. The bot diagnoses nothing, so it says nothing
        of how certain that is."""
        episode = self.case.episode
        sites = [local(episode.tendon, f"{episode.tendon} Achilles tendon")]
        if episode.side in SIDES:
            sites.append(concept(f"{TERMINOLOGY}/v2-0495", *SIDES[episode.side]))
        status = "inactive" if episode.discharged else "active"
        return {
            "clinicalStatus": _status("condition-clinical", status),
            "category": [_status("condition-category", "problem-list-item")],
            "code": {"coding": [TENDINOPATHY], "text": "Achilles tendinopathy"},
            "bodySite": sites,
            "subject": self._subject,
        }

    def _answers(self) -> Iterator[Json]:
        """The answers of each message as one response, and the numbers as observations."""
        sql = """
        SELECT * FROM answers WHERE episode = :id ORDER BY answered_at, about_date, id
        """
        rows = self.store.rows(sql, {"id": self.case.episode.id})
        corrected = {row["corrects"] for row in rows}
        for _, together in groupby(rows, key=lambda row: (row["answered_at"], row["about_date"])):
            given = list(together)
            response = self._entry(
                "QuestionnaireResponse", given[0]["id"], self._response(given, corrected)
            )
            yield response
            for row in given:
                if row["question"] in OBSERVED:
                    observed = self._observed(row, response["fullUrl"], row["id"] in corrected)
                    yield self._entry("Observation", row["id"], observed)

    def _response(self, given: Sequence[Json], corrected: set[int | None]) -> Json:
        replaced = all(row["id"] in corrected for row in given)
        return {
            "questionnaire": ANSWERS,
            "status": "entered-in-error" if replaced else "completed",
            "subject": self._subject,
            "authored": given[0]["answered_at"],
            "source": self._subject,
            "item": [
                {
                    "linkId": row["question"],
                    "text": title(row["question"]),
                    "answer": [answer_of(row["question"], row["value"])],
                }
                for row in given
            ],
        }

    def _observed(self, row: Json, response: str, corrected: bool) -> Json:
        status = "final" if row["corrects"] is None else "corrected"
        return {
            "status": "entered-in-error" if corrected else status,
            "category": [_category("survey")],
            "code": code_of(row["question"]),
            "subject": self._subject,
            "effectiveDateTime": row["about_date"],
            "issued": row["answered_at"],
            "performer": [self._subject],
            **value_of(row["question"], int(row["value"])),
            "derivedFrom": [{"reference": response, "type": "QuestionnaireResponse"}],
        }

    def _sheet(self, on: date, total: int) -> Json:
        """The total of a sheet, by the points that stand."""
        return {
            "status": "final",
            "category": [_category("survey")],
            "code": local(SHEET),
            "subject": self._subject,
            "effectiveDateTime": _day(on),
            "valueInteger": total,
        }

    def _plan(self) -> Json:
        episode, protocol = self.case.episode, self.case.protocol
        paused = self.case.paused_until() is not None
        status = "completed" if episode.discharged else "on-hold" if paused else "active"
        moves = plans.moves(self.store, episode.id)
        return {
            "status": status,
            "intent": "plan",
            "title": protocol.title,
            "subject": self._subject,
            "addresses": [{"reference": self.condition, "type": "Condition"}],
            "period": {"start": _day(episode.enrolled_on)},
            "created": _day(episode.enrolled_on),
            "activity": [
                {"detail": self._step(move, after)}
                for move, after in zip(moves, (*moves[1:], None), strict=True)
            ],
            "note": [{"text": f"Protocol {protocol.name}, version {protocol.version}"}],
        }

    def _step(self, move: Move, after: Move | None) -> Json:
        protocol, at = self.case.protocol, move.position
        line = dose_line(protocol.level(at), protocol.dose(at))
        until = {} if after is None else {"end": _day(after.on)}
        return {
            "status": "in-progress" if after is None else "completed",
            "description": f"Level {at.level}, dose {at.dose}: {line} (moved by: {move.by})",
            "scheduledPeriod": {"start": _day(move.on), **until},
        }

    def _advice(self, decision: decisions.Decision) -> Json:
        advice = decision.advice
        reasons = [advice.because, *advice.also]
        return {
            "status": "final",
            "code": local("advice"),
            "subject": self._subject,
            "effectiveDateTime": _day(advice.on),
            "issued": _at(decision.decided_at),
            "valueCodeableConcept": local(action_code(advice.action), str(advice.action)),
            "component": [
                {
                    "code": local("reason" if number == 0 else "further-reason"),
                    "valueCodeableConcept": local(finding.reason, str(finding.reason)),
                }
                for number, finding in enumerate(reasons)
            ],
            "note": [
                {
                    "text": f"Protocol {decision.protocol}, version {decision.protocol_version};"
                    f" level {advice.position.level}, dose {advice.position.dose};"
                    f" compared: {json.dumps(dict(advice.because.evidence))}"
                }
            ],
        }

    def _messages(self) -> Iterator[Json]:
        """What the patient wrote, and what reached them."""
        whose = {"id": self.case.patient.id}
        inbox = "SELECT id, text, received_at AS at FROM inbox WHERE person = :id ORDER BY id"
        outbox = """
        SELECT id, text, accepted_at AS at FROM outbox
        WHERE person = :id AND accepted_at IS NOT NULL ORDER BY id
        """
        for way, sql in (("received", inbox), ("sent", outbox)):
            for row in self.store.rows(sql, whose):
                party = "sender" if way == "received" else "recipient"
                who: Any = self._subject if way == "received" else [self._subject]
                told = {
                    "status": "completed",
                    "subject": self._subject,
                    way: row["at"],
                    party: who,
                    "payload": [{"contentString": row["text"]}],
                }
                if row["text"].strip():
                    yield self._entry("Communication", f"{way} {row['id']}", told)

    def _escalations(self) -> Iterator[Json]:
        sql = "SELECT * FROM escalations WHERE patient = :id ORDER BY id"
        for row in self.store.rows(sql, {"id": self.case.patient.id}):
            yield self._entry("Task", row["id"], self._task(row))

    def _task(self, row: Json) -> Json:
        taken, closed = row["acknowledged_at"], row["closed_at"]
        status = "completed" if closed else "accepted" if taken else "requested"
        end = {"end": closed} if closed else {}
        task: Json = {
            "status": status,
            "intent": "order",
            "priority": PRIORITIES[row["tier"]],
            "code": local(row["sign"], row["sign"].replace("-", " ")),
            "description": row["words"] or row["sign"],
            "for": self._subject,
            "authoredOn": row["raised_at"],
            "lastModified": closed or taken or row["raised_at"],
            "executionPeriod": {"start": row["raised_at"], **end},
        }
        holder = row["acknowledged_by"]
        if holder is not None:
            task["owner"] = {"display": people.person(self.store, holder).name}
        outcome = " ".join(filter(None, (row["outcome"], row["note"])))
        if outcome:
            task["note"] = [{"text": outcome}]
        return task

    def provenance(self, targets: Sequence[str]) -> Json:
        """Where all of it comes from."""
        resource = {
            "target": [{"reference": target} for target in targets],
            "recorded": _at(self.case.now),
            "activity": local("export"),
            "agent": [
                {
                    "type": local("assembler"),
                    "who": {"display": f"nextmorning at {self.case.clinic.name}"},
                }
            ],
        }
        return self._entry("Provenance", f"{self.case.patient.id} {_at(self.case.now)}", resource)


def _category(code: str) -> Json:
    return {"coding": [{"system": OBSERVATION_CATEGORY, "code": code}]}


def _status(system: str, code: str) -> Json:
    return {"coding": [{"system": f"{TERMINOLOGY}/{system}", "code": code}]}


def _at(instant: datetime) -> str:
    return instants.text(instant)


def _day(on: object) -> str:
    return str(on)
