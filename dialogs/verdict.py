"""Says the verdict of the last 14 days to a clinician, with its figures: is it better, is the load
right. Chat, picture, page, report and digest say the same. Decides nothing.

Read next: `rules.fortnight`, which finds it.
"""

from __future__ import annotations

from dialogs.lines import chart_line
from dialogs.rendering import number
from rules.fortnight import Fortnight
from rules.protocol import Position
from rules.usual import Mean

# The lines that hold the verdict itself; the others hold its figures.
HEAD_LINES = 3


def verdict_lines(found: Fortnight, language: str) -> tuple[str, ...]:
    """Symptoms against the 14 days before, against enrolment, then the load; then the figures."""
    told = chart_line(
        "verdict",
        language,
        change=_said("change", found.change, language),
        since=_said("since", found.since_enrolment, language),
        load=_said("load", found.load, language),
        place=place_words(found.place, language),
        place_before=place_words(found.place_before, language),
        sessions=found.sessions,
        sessions_before=found.sessions_before,
        pain=_figure(found.this.pain, language),
        pain_before=_figure(found.before.pain, language),
        pain_first=_figure(found.at_enrolment.pain, language),
        limit=found.limit,
        over=found.over_limit,
        answers=found.this.pain.count,
        minutes=_figure(found.this.stiffness, language, whole=True),
        minutes_before=_figure(found.before.stiffness, language, whole=True),
        minutes_first=_figure(found.at_enrolment.stiffness, language, whole=True),
    )
    lines = told.splitlines()
    if found.place is None:
        del lines[HEAD_LINES]  # where sessions were done
    return tuple(lines)


def verdict_sentence(found: Fortnight, language: str) -> str:
    """The same in one paragraph."""
    return f"{'. '.join(verdict_lines(found, language))}."


def verdict_words(found: Fortnight, language: str) -> str:
    """The same in a few words, without figures: "worse, load up"."""
    load = _said("short-load", found.load, language)
    change = _said("short", found.change, language)
    return f"{change}, {load}"


def place_words(place: Position | None, language: str) -> str:
    """A place on the ladder, or that there is none."""
    if place is None:
        return chart_line("none", language)
    return chart_line("place", language, level=place.level, dose=place.dose)


def _said(kind: str, code: str | None, language: str) -> str:
    return chart_line(f"{kind}-{(code or 'unknown').replace(' ', '-')}", language)


def _figure(mean: Mean, language: str, *, whole: bool = False) -> str:
    """A mean to a tenth or to the whole, or that nothing was answered."""
    if not mean.count:
        return chart_line("none", language)
    return number(round(mean.value, 0 if whole else 1), language)
