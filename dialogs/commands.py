"""The commands that a chat shows in its menu, in each language. Decides nothing about what they do;
that is `patient`."""

from __future__ import annotations

from datetime import UTC, datetime

from dialogs.catalogues import languages
from dialogs.rendering import render
from dialogs.turn import Said, Situation

# Languages with a menu, the first one for everybody else as well.
MENU_LANGUAGES = tuple(sorted(languages(), key=lambda code: (code != "en", code)))

# Stands between a word and its meaning in the template.
BETWEEN = " - "


def menu_in(language: str) -> tuple[tuple[str, str], ...]:
    """The menu as (word, meaning): the word is one that `patient` understands."""
    # A menu belongs to nobody, so no one's situation goes into it.
    situation = Situation(now=datetime(2000, 1, 1, tzinfo=UTC), language=language)
    lines = render(Said("menu"), situation).split("\n")
    parts = [line.partition(BETWEEN) for line in lines]
    return tuple((word, meaning) for word, _, meaning in parts)
