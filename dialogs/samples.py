"""Sample values for every template, so that each can be shown and checked without a patient.

A value has alternatives where a template says something else for it; each pair of alternatives is
shown together. It makes no promise on the longest text; prompts are measured in `own_wording`.
Read next: `own_wording`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date, datetime, time
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
from rules.reasons import Action, Reason

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

# By name: what is shown first, then what else it may be. Dates are near TODAY.
VALUES: Mapping[str, tuple[object, ...]] = {
    "action": ("hold", "stop", "step back", "rest day", "advance"),
    "again": (1, 2),
    "allowed": ("", "0, 4, 7, 10"),
    "amount": (12,),
    "asks": (
        "first-step-pain stiffness",
        "first-step-pain",
        "sets-done pain-during pain-after",
        "visa-a",
    ),
    "at": ("09:05",),
    "before": (3.0, None),
    "both_sides": (False, True),
    "break_days": (14,),
    "brief": (False, True),
    "briefest": (False, True),
    "by": ("Dr Moss",),
    "change": (0.0, -1.0, 1.0),
    "clinic": ("Hill Clinic", ""),
    "clinic_phone": ("+44 20 7946 0141", ""),
    "code": ("ABCD-2345",),
    "comfort_max": (3,),
    "count": (3, 1),
    "command": tuple(sorted(BEGUN)),
    "crisis_line": ("020 7946 0199, day and night", ""),
    "days": (7,),
    "days_ago": (0, 1, 2),
    "days_at_level": (5, 1),
    "days_min": (21,),
    "days_silent": (3,),
    "days_since_raise": (4, 0, 1),
    "days_since_session": (2, 0, 1, 20),
    "dose_before": (1,),
    "easy_effort_max": (5,),
    "effort": (7,),
    "example": ("3 10",),
    "exhausted": (False, True),
    "first_session": (False, True),
    "first_step_pain": (3, None),
    "group": ("morning", "session", "follow-up", "visa-a"),
    "guess": ("America/New_York", ""),
    "guess_time": ("03:05",),
    "heavy": (False, True),
    "heel_raises": (9, None),
    "heel_raises_min": (15,),
    "held": (False, True),
    "highest": (10,),
    "item": (7,),
    "items": ("1 2 3 4 5 6 7 8", "7", "7 8"),
    "kind": (
        "scale",
        "minutes",
        "yes-no",
        "sets",
        "count",
        "side",
        "time",
        "place",
        "topic",
        "points",
    ),
    "prompt_kind": ("morning", "morning-reminder", "evening", "weekly"),
    "level_began_on": ("2026-02-23",),
    "levels": (9,),
    "limit": (4, 0),
    "limit_before": (3,),
    "lines": ("Ana",),
    "load": (0.0, 5.0),
    "longest_before": (40,),
    "unprompted": ("7",),
    "lowest": (0,),
    "margin": (2,),
    "mean": (2.5, None),
    "minutes": (60, 0),
    "missing": ("two_day_pain", "next_day_pain", "pain"),
    "morning_time": ("07:30",),
    "moved": (False, True),
    "most": (5,),
    "name": ("Ana", ""),
    "names": ("Ana Lund, Ana Maria",),
    "new_level": (False, True),
    "next_day_pain": (5, ABSENT),
    "alarms": (True, False),
    "what": ("erase", "copy"),
    "looked_at": (False, True, ABSENT),
    "stops": (True, False),
    "stopped": (False, True),
    "follows": ("go-on", "rest", "sent-on", "stopped", "wait", "paused", "nothing"),
    "questions": (True, False),
    "lift": (False, True),
    "state": ("back", "heard", "here"),
    "left": ("", "text", "chat"),
    "nobody": (False, True),
    "note": ("higher", "rounded"),
    "noted": (False, True),
    "open": (2,),
    "patients": (60,),
    "answers": (140,),
    "stops_loading": (False, True),
    "number": (12,),
    "number_before": (1,),
    "numbers": ("-", ""),
    "on": (TODAY,),
    "others": (0, 1),
    "out_of": (0, 3),
    "outcome": ("seen", "spoke to them", "not worrying", "sent on", "other"),
    "pain_after": (5, ABSENT),
    "pain_during": (5, ABSENT),
    "pain_mean": (4.5, ABSENT),
    "pain_mean_before": (2.0, ABSENT),
    "pain_same_day": (10,),
    "patient": ("Ana Lund",),
    "patient_phone": ("+44 20 7946 0123", ""),
    "minutes_first": (30,),
    "minutes_now": (10.0, None),
    "pain_first": (4,),
    "pain_now": (1.5, None),
    "on_sms": (False, True),
    "paused_on": (TODAY, None),
    "paused_until": (date(2026, 3, 15), None),
    "percent_min": (80,),
    "points_min": (14,),
    "question": tuple(question.value for question in Question if question.row.label),
    "raised_on": ("2026-02-28",),
    "rise": (6, 0, -3),
    "seconds": (False, True),
    "reason": tuple(WhyNot),
    "right": ("take a matter",),
    "role": ("owner", "clinician"),
    "who": ("a clinician", "whoever has it, or a lead clinician,"),
    "said_on": ("2026-03-04",),
    "session_on": ("2026-03-02", ABSENT),
    "session_today": (True, False),
    "sessions": (6, 1, 0),
    "sessions_done": (4,),
    "sessions_here": (4, 0),
    "sessions_prescribed": (6,),
    "set_off": ("", "stairs, a long walk"),
    "sets": (3, 1),
    "settled_at_most": (3.0,),
    "short": (0, 1, 2, 3, 4, 5, 6),
    "sign_question": ("?",),
    "since": (NOW,),
    "sms_number": ("+44 20 7946 0142", ""),
    "spacing_days": (2, 1),
    "spike_percent": (10,),
    "source": ("Silbernagel and others 2007",),
    "step_backs": (2,),
    "stepped_back_on": ("2026-03-01",),
    "stiffness_mean": (30.0, ABSENT),
    "stiffness_mean_before": (10.0, ABSENT),
    "tier": ("same day", "emergency", "next working day"),
    "time": ("14:05",),
    "title": ("-",),
    "told": ("-", ""),
    "total": (52,),
    "total_on": (None, date(2026, 2, 4)),
    "two_day_pain": (4, ABSENT),
    "until": (date(2026, 3, 15),),
    "used": (1600,),
    "usual": (2.0,),
    "value": (4, 0),
    "visa_a_rise": (4,),
    "wanted": ("Ana",),
    "weeks": (12,),
    "why": ("-",),
    "within": (15,),
    "words": ("-",),
    "window_days": (14,),
    "wrote": ("-",),
    "yes_no": (False, True),
    "zone": ("Lisbon",),
}

# Where a template means something else by a name.
OWN_VALUES: Mapping[str, Mapping[str, tuple[object, ...]]] = {
    "clinician/more-words": {"at": (NOW,)},
    "clinician/words": {"more": (0, 3)},
    "clinician/words-line": {"at": (NOW,)},
    "clinician/confirm": {
        "what": ("level", "hops", "discharge", "close", "lift", "limit"),
        "number": (3,),
        "dose": (2,),
        "limit": (4,),
        "until": (date(2026, 3, 15), None),
    },
    "clinician/plan-changed": {"told": ("-", "", None)},
    "clinician/closed": {"until": (date(2026, 3, 15), None)},
    "clinician/closed-by": {"until": (date(2026, 3, 15), None)},
    "clinician/why-not": {
        "found": (6,),
        "minutes": (15,),
        "number": (3,),
        "numbers": ("12, 13",),
    },
    "discharged": {"level": (3,)},
    "progress": {"level": (3,), "after_sport": (2, 0), "sore": (4, 0)},
    "why/paused": {"paused_on": (TODAY,)},
    "plan-week": {"days": ("Wed, Fri, Sun", "")},
    "late-noted": {"today": (True, False)},
    "channel-changed": {"kind": ("text", "chat")},
    "clinician/stopped": {"kind": ("text", "chat")},
    "clinician/colleague-stopped": {"kind": ("text", "chat")},
    "channel-unknown": {"kind": ("text", "chat")},
    "clinician/sheet-wrong": {"item": (7, 0), "allowed": ("0, 4, 7, 10",), "count": (7,)},
    "zone-changed": {"until": (date(2026, 3, 15), None)},
}

# Values that are whole texts of their own; another message stands for them.
TEXTS = ("advice", "plan", "summary", "text", "tip")

# What an advice says to do, by its reason, where it is not "hold".
ACTIONS: Mapping[Action, tuple[Reason, ...]] = {
    Action.STOP: (Reason.WARNING_SIGN, Reason.PAUSED),
    Action.STEP_BACK: (
        Reason.PAIN_DURING_OVER_LIMIT,
        Reason.PAIN_AFTER_OVER_LIMIT,
        Reason.NEXT_DAY_OVER_LIMIT,
        Reason.NOT_SETTLED_BY_TWO_DAYS,
        Reason.WEEK_WORSE_THAN_LAST,
    ),
    Action.REST_DAY: (
        Reason.CLINICIAN_SAYS_REST,
        Reason.NEXT_DAY_ABOVE_USUAL,
        Reason.MORNING_OVER_LIMIT,
        Reason.STILL_RECOVERING,
        Reason.SETTLING_AFTER_STEP_BACK,
    ),
    Action.ADVANCE: (Reason.READY,),
}

# A session to show, by what a shipped protocol calls it.
SESSION_TEXTS = {
    "level": "heel raise on one leg",
    "exercise": "Rise on the toes of the sore leg, then lower. Use a wall for balance.",
    "tempo": "2 seconds up, 2 seconds down",
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
    found = [action for action, reasons in ACTIONS.items() if reason in reasons]
    return {"action": (found[0].value if found else Action.HOLD.value,)}


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
