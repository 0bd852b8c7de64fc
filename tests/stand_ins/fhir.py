"""A FHIR R4 server in memory, for bundles to be posted to: `fhir_server/load.mjs`, run by Node."""

from __future__ import annotations

import json
import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

SERVER = Path(__file__).parent / "fhir_server"


@dataclass(frozen=True)
class Served:
    """What came of it. `wrong`: what R4 does not allow. `statuses`: the server's, for each entry of
    each bundle. `held`: what the server holds at the end, by kind."""

    wrong: list[str]
    statuses: list[list[str]]
    held: dict[str, list[dict[str, Any]]]


def served(
    before: list[dict[str, Any]], bundles: list[dict[str, Any]], archive: dict[str, Any]
) -> Served:
    """Post bundles to a server that holds resources already. archive: a bundle that is checked and
    not posted."""
    if not (SERVER / "node_modules").is_dir():
        pytest.fail("no FHIR server is installed: sh deploy/test does it (npm ci)")
    given = json.dumps({"before": before, "bundles": bundles, "archive": archive})
    ran = subprocess.run(
        ["node", "load.mjs"], cwd=SERVER, input=given, capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, ran.stderr[-2000:]
    return Served(**json.loads(ran.stdout))
