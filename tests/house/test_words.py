"""The words of the house: nothing that does not belong here.

Strings that must stand nowhere are put together here from pieces, so that this file, too, is
searched.
"""

from __future__ import annotations

import re

import pytest
import smsutil
from house.source_tree import committed_files, name_of

from dialogs.catalogues import shipped_messages

# A host of a registry, a place on one machine, or a word about how this was made. The project
# is installed from wherever its user installs from, and explains itself.
OUT_OF_PLACE = {
    "a registry's host": r"py" + r"pi\.org|python" + r"hosted|npm" + r"js\.org|deb\.deb" + r"ian\.",
    "another registry's host": r"docker" + r"\.io|ghcr" + r"\.io|quay" + r"\.io",
    "a path of one machine": r"/opt" + r"/(pypi|wheels)|/root" + r"/|\.pye" + r"nv|file:/" + r"//",
    "a work folder": r"(?<![\w.])/wo" + r"rk(/|\b)",
    "a paper kept elsewhere": r"\bshar" + r"ed/|\b(design|clinical|engineering|style)\.m" + r"d",
    "an issue's number": r"(?i)\bissue #?" + r"\d|\bissues? #" + r"\d",
}
BINARY = {".png", ".ttf", ".woff2", ".ico", ".sqlite"}


@pytest.mark.parametrize("kind", OUT_OF_PLACE)
def test_nothing_out_of_place_is_written_anywhere(kind: str) -> None:
    """No file that git keeps holds a host, a path or a word that does not belong to it."""
    pattern = re.compile(OUT_OF_PLACE[kind])
    texts = [path for path in committed_files() if path.suffix not in BINARY]

    found = [
        f"{name_of(path)}:{number} {line.strip()[:80]}"
        for path in texts
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if pattern.search(line)
    ]

    assert found == []


@pytest.mark.parametrize(
    ("kind", "line"),
    [
        pytest.param("a registry's host", "--index-url https://py" + "pi.org/simple", id="index"),
        pytest.param("another registry's host", "FROM docker" + ".io/debian", id="image"),
        pytest.param("a path of one machine", "--find-links /opt" + "/wheels", id="wheels"),
        pytest.param("a work folder", "cd /wo" + "rk/main", id="work folder"),
        pytest.param("a paper kept elsewhere", "see design.m" + "d", id="paper"),
        pytest.param("an issue's number", "fixes issue #" + "12", id="issue"),
    ],
)
def test_what_is_out_of_place_is_found(kind: str, line: str) -> None:
    """Each pattern finds what it is there to find."""
    assert re.search(OUT_OF_PLACE[kind], line)


def test_every_english_template_fits_the_short_alphabet_of_sms() -> None:
    """One character outside GSM-7 would more than halve what a message holds."""
    foreign = {
        name: sorted({c for c in text if not smsutil.is_valid_gsm(c)})
        for name, text in shipped_messages("en").items()
    }

    assert {name: found for name, found in foreign.items() if found} == {}
    assert foreign != {}
