"""Sample values (`samples.toml`) for every message, to show and check it without a patient.

A value has alternatives where a template says something else for it; each pair of alternatives is
shown together. It makes no promise on the longest text; prompts are measured in `own_wording`.
Read next: `own_wording`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date, datetime, time
from importlib.resources import files
from itertools import combinations
from typing import Any
from zoneinfo import ZoneInfo

from jinja2 import nodes

from dialogs.clinician import BEGUN
from dialogs.clinician_commands import WhyNot
from dialogs.errors import WordingError
from dialogs.questions import Question
from dialogs.rendering import parsed, render, spoken, template_names
from dialogs.turn import Said, Situation, Value
from dialogs.words import shipped_words
from rules.advice import ORDER
from rules.reasons import FORMER, Action

# A Wednesday.
TODAY = date(2026, 3, 4)
NOW = datetime.combine(TODAY, time(8, 0), ZoneInfo("Europe/London"))

# Stands for a value that is not given at all.
ABSENT = object()

SITUATION = Situation(
    now=NOW,
    patient_name="Ana",
    clinic="Hill Clinic",
    clinician_name="Dr Moss",
    clinic_phone="+44 20 7946 0141",
    emergency_number="112",
    crisis_line="020 7946 0199, day and night",
)

# What stands in the file for what TOML has no word for.
_MARKS: Mapping[object, object] = {"<none>": None, "<absent>": ABSENT, "<now>": NOW}


def _values(table: Mapping[str, list[object]]) -> dict[str, tuple[object, ...]]:
    return {
        name: tuple(_MARKS.get(value, value) for value in values) for name, values in table.items()
    }


_FILE = tomllib.loads((files("dialogs") / "samples.toml").read_text(encoding="utf-8"))

VALUES: Mapping[str, tuple[object, ...]] = {
    **_values(_FILE["values"]),
    "command": tuple(sorted(BEGUN)),
    "question": tuple(question.value for question in Question if question.row.label),
    "reason": tuple(WhyNot),
}
OWN_VALUES = {name: _values(table) for name, table in _FILE["message"].items()}
SESSION_TEXTS: Mapping[str, str] = _FILE["session"]

# Values that are whole texts of their own; another message stands for them.
TEXTS = ("advice", "plan", "summary", "text", "tip")

# What an advice says to do, by its reason; those that no row gives any more said to rest.
ACTIONS: Mapping[str, Action] = {
    **{reason.value: Action.REST_DAY for reason in FORMER},
    **{rule.reason.value: rule.action for rule in ORDER},
}


def sample_texts(
    name: str, language: str, wording: Mapping[str, str] | None = None
) -> tuple[str, ...]:
    """A template's texts with sample values, the plainest first, each once.

    wording: the clinic's own templates in this language. Only the values that the shipped template
    uses are given. Raises `WordingError` where one cannot be made.
    """
    situation = _situation(language, wording or {})
    values = sample_values(name, language)
    return tuple(dict.fromkeys(render(Said(name, one), situation) for one in values))


def sample_values(name: str, language: str) -> tuple[Mapping[str, Value], ...]:
    """What a template may be given: the plainest first, then every pair of alternatives.

    Left out are values that never lack together: the shipped template cannot be said with them.
    Raises `WordingError` where a value of the shipped template has no sample.
    """
    every = []
    for chosen in _chosen(_alternatives(name, language)):
        values = {n: value for n, value in chosen.items() if value is not ABSENT}
        whole = len(values) == len(chosen)
        if whole or _said_as_shipped(name, values, language):
            every.append(values)
    return tuple(every)


def _said_as_shipped(name: str, values: Mapping[str, Value], language: str) -> bool:
    """Whether the shipped template can be said with these values: some never lack together."""
    try:
        return bool(render(Said(name, values), _situation(language, {})))
    except WordingError:
        return False


def _situation(language: str, wording: Mapping[str, str]) -> Situation:
    return replace(SITUATION, language=language, wording=wording)


def _alternatives(name: str, language: str) -> dict[str, tuple[object, ...]]:
    """What each value that the shipped template uses may be."""
    own = OWN_VALUES.get(name, {})
    said = shipped_words(language).said
    session: dict[str, tuple[object, ...]] = {n: (text, "") for n, text in SESSION_TEXTS.items()}
    known = {
        **VALUES,
        **session,
        **dict.fromkeys(TEXTS, (render(Said("noted"), _situation(language, {})),)),
        "day": (said["yesterday"],),
        "dose_line": (f"{spoken('two up, one down', language)}, 3 x 10",),
        "next_day": (said["tomorrow"],),
        "clinician": (SITUATION.clinician_name,),
        "emergency_number": (SITUATION.emergency_number,),
        **_action(name),
        **own,
    }
    used = used_values(name, language)
    missing = sorted(used - known.keys() - {"today"})
    if missing:
        raise WordingError(f"{name}: there is no sample value for {', '.join(missing)}")
    return {n: known[n] for n in sorted(used) if n in known}


def _action(name: str) -> dict[str, tuple[object, ...]]:
    """What the advice of a reason says to do; nothing for other templates."""
    folder, _, reason = name.partition("/")
    if folder != "advice" or not reason or reason == "do":
        return {}
    return {"action": (ACTIONS[reason].value,)}


def _chosen(alternatives: Mapping[str, tuple[object, ...]]) -> Iterator[dict[str, Any]]:
    """The first of each, then every pair of alternatives with the first of all others."""
    first = {name: values[0] for name, values in alternatives.items()}
    yield first
    others = [(name, value) for name, values in alternatives.items() for value in values[1:]]
    for name, value in others:
        yield {**first, name: value}
    for (name, value), (other, its) in combinations(others, 2):
        if name != other:
            yield {**first, name: value, other: its}


def used_values(name: str, language: str) -> frozenset[str]:
    """The values that a shipped template uses, with those of the templates it includes."""
    found = parsed(name, language)[1]
    for inner in included(name, language):
        found |= parsed(inner, language)[1]
    return found - {"br"}


def included(name: str, language: str) -> frozenset[str]:
    """The templates that a shipped template may include, and those that they include."""
    found: set[str] = set()
    left = [name]
    while left:
        for include in parsed(left.pop(), language)[0].find_all(nodes.Include):
            new = set(_meant(include.template, language)) - found
            found |= new
            left += new
    return frozenset(found)


def _meant(what: nodes.Expr, language: str) -> list[str]:
    """The messages that an include may mean: one, any of a list, or all of a kind."""
    if isinstance(what, nodes.Const):
        return [str(what.value)]
    if isinstance(what, nodes.List):
        return [name for one in what.items for name in _meant(one, language)]
    ends = (what.nodes[0], what.nodes[-1]) if isinstance(what, nodes.Concat) else ()
    first, last = (str(end.value) if isinstance(end, nodes.Const) else "" for end in ends)
    return [n for n in template_names(language) if n.startswith(first) and n.endswith(last)]
