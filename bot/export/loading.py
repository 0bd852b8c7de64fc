"""Makes a bundle of resources: one that a server takes, or one for an archive.

A server that is handed a transaction twice holds everything once, and a later one brings it up to
date. What never changes is created where it is not there yet; the rest is written over what an
earlier bundle brought. The patient is created only, so that nothing a clinic's own system knows
of them is written over. Source: FHIR R4, "RESTful API", transaction, conditional create and update.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from enum import StrEnum
from typing import Any
from urllib.parse import quote

from bot.export.coding import RECORDS, Json


class BundleType(StrEnum):
    """A transaction for a FHIR server, or a collection for an archive."""

    TRANSACTION = "transaction"
    COLLECTION = "collection"


# How a server finds what an earlier bundle brought: R4 gives a code system and a questionnaire
# their own URL, a provenance no identifier at all, and a response only one.
BY_URL = frozenset({"CodeSystem", "Questionnaire"})
BY_TAG = frozenset({"Provenance"})
ONE_IDENTIFIER = frozenset({"QuestionnaireResponse"})
NEVER_CHANGED = frozenset({"Patient", "Communication", "Provenance"})


def bundled(kind: BundleType, entries: Sequence[Json], at: str) -> Json:
    """A bundle of entries, each a `fullUrl` and a `resource`; `at`: when [ISO 8601]."""
    made = {BundleType.TRANSACTION: _to_load, BundleType.COLLECTION: _to_keep}[kind]
    entry = [made(one["fullUrl"], _identified(**one)) for one in entries]
    return {"resourceType": "Bundle", "type": kind.value, "timestamp": at, "entry": entry}


def _identified(fullUrl: str, resource: Json) -> Json:  # noqa: N803  FHIR's own name
    kind, own = resource["resourceType"], {"system": RECORDS, "value": _bare(fullUrl)}
    if kind in BY_TAG:
        return {**resource, "meta": {"tag": [{"system": RECORDS, "code": _bare(fullUrl)}]}}
    if kind in BY_URL:
        return resource
    if kind in ONE_IDENTIFIER:
        return {**resource, "identifier": own}
    return {**resource, "identifier": [*resource.get("identifier", ()), own]}


def _bare(url: str) -> str:
    """The UUID alone: servers put a reference in place of a `urn:uuid:` wherever they find one."""
    return url.removeprefix("urn:uuid:")


def _to_keep(url: str, resource: Json) -> Json:
    own = {"resourceType": resource["resourceType"], "id": _bare(url)}
    return {"fullUrl": url, "resource": own | resource}


def _to_load(url: str, resource: Json) -> Json:
    kind, known = resource["resourceType"], _query(url, resource)
    request = (
        {"method": "POST", "url": kind, "ifNoneExist": known}
        if kind in NEVER_CHANGED
        else {"method": "PUT", "url": f"{kind}?{known}"}
    )
    return {"fullUrl": url, "resource": resource, "request": request}


def _query(url: str, resource: Json) -> str:
    """The search that finds a resource of an earlier bundle: by the clinic's own identifier where
    its system is known, so that the record joins the patient that the server has already."""
    kind = resource["resourceType"]
    if kind in BY_URL:
        return f"url={resource['url']}"
    if kind in BY_TAG:
        return f"_tag={RECORDS}|{_bare(url)}"
    found = next(_with_system(resource["identifier"]), None) if kind == "Patient" else None
    system, value = found or (RECORDS, _bare(url))
    return f"identifier={quote(system, safe=':/')}|{quote(value, safe=':/')}"


def _with_system(identifiers: Any) -> Iterator[tuple[str, str]]:
    return ((one["system"], one["value"]) for one in identifiers if "system" in one)
