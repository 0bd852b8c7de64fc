"""Makes the text of what is said, and counts what it costs as SMS.

Strict: a template that asks for a value which was not given is an error, never a hole in a
sentence. It never decides what to say; that is `patient`, `advising`, `clinician`.
Read next: `catalogues`, then `wording/en`.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache, partial

from babel import Locale
from babel.dates import format_date, format_datetime
from babel.numbers import format_decimal
from jinja2 import (
    DictLoader,
    Environment,
    StrictUndefined,
    TemplateError,
    meta,
    nodes,
)

from dialogs.catalogues import shipped_messages, tables
from dialogs.errors import WordingError
from dialogs.turn import Said, Situation
from dialogs.words import shipped_words

# Stands for a new line in a template ("{{ br }}"). Line ends of the file itself are spaces.
LINE_BREAK = "\v"

# GSM 03.38 default alphabet and its extension table. Source: 3GPP TS 23.038, tables in 6.2.1.
GSM_LETTERS = frozenset(
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?"
    "¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
GSM_ESCAPED = frozenset("\f^{}\\[~]|€")

# Units that fit: one message alone, and each part of a longer one.
# Source: 3GPP TS 23.038 and 23.040, eight-bit reference header.
GSM_ALONE, GSM_PART = 160, 153
UCS2_ALONE, UCS2_PART = 70, 67

# What a phone writes by itself, in the letters of the cheap alphabet. Accents are dropped besides.
_PLAIN_MARKS = {
    "\u2018": "'", "\u2019": "'", "\u201c": '"', "\u201d": '"', "\u00ab": '"', "\u00bb": '"',
    "\u2010": "-", "\u2011": "-", "\u2012": "-", "\u2013": "-", "\u2014": "-", "\u2212": "-",
    "\u2026": "...", "\u00a0": " ", "\u202f": " ", "\u2264": "<=", "\u2265": ">=", "\t": " ",
    "\u00ba": "o", "\u00aa": "a",
}  # fmt: skip

# What a protocol says, which a language's `lines.toml` has in its own words.
SPOKEN = frozenset({"level", "exercise", "tempo"})


@dataclass(frozen=True)
class Segments:
    """What a text costs as SMS: `encoding` "GSM-7" or "UCS-2", parts [count], units [count]."""

    encoding: str
    count: int
    units: int


def render(said: Said, situation: Situation, *, overrides: Mapping[str, str] | None = None) -> str:
    """The text of what is said, as plain text.

    overrides: message name to template text; the clinic's own wording in the
    language of the situation. None takes the situation's. Accents stand; for SMS see `gsm`.
    Raises `WordingError` where a template is missing, broken, or lacks a value.
    """
    overrides = situation.wording if overrides is None else overrides
    frozen = tuple(sorted(overrides.items()))
    environment = _environment(situation.language, frozen)
    values: dict[str, object] = {
        "name": situation.patient_name,
        "clinic": situation.clinic,
        "clinician": situation.clinician_name or _said(situation.language, "clinician"),
        "clinic_phone": situation.clinic_phone,
        "emergency_number": situation.emergency_number,
        "crisis_line": situation.crisis_line,
        "both_sides": situation.side == "both",
        "today": situation.today,
        **said.values,
    }
    values = {
        name: _lines_kept(spoken(value, situation.language) if name in SPOKEN else value)
        for name, value in values.items()
    }
    try:
        text = environment.get_template(said.template).render(values)
    except (TemplateError, TypeError, ValueError, ArithmeticError) as error:
        raise WordingError(f"{said.template}: {type(error).__name__}: {error}") from error
    lines = (" ".join(line.split()) for line in text.split(LINE_BREAK))
    return "\n".join(line for line in lines if line)


def gsm(text: str) -> str:
    """The text in the letters of the cheap SMS alphabet, as far as they go: for SMS channels only.

    An accent that the alphabet lacks is dropped ("p\u00e1same" is "pasame"; \u00f1, \u00e9 and
    \u00bf stand), curly quotes and dashes become straight. What has no plain form, such as a name
    in another script, stays as it is, and makes the message wide rather than unreadable.
    """
    return "".join(_gsm_letter(letter) for letter in unicodedata.normalize("NFC", text))


def _gsm_letter(letter: str) -> str:
    if letter in GSM_LETTERS or letter in GSM_ESCAPED:
        return letter
    if letter in _PLAIN_MARKS:
        return _PLAIN_MARKS[letter]
    base = unicodedata.normalize("NFD", letter)[0]
    return base if base in GSM_LETTERS else letter


def segments(text: str) -> Segments:
    """How many SMS parts a text takes, as it stands. An empty text takes one.

    Never splits an escaped character or a surrogate pair over two parts.
    """
    if all(letter in GSM_LETTERS or letter in GSM_ESCAPED for letter in text):
        sizes = [2 if letter in GSM_ESCAPED else 1 for letter in text]
        return Segments("GSM-7", _parts(sizes, GSM_ALONE, GSM_PART), sum(sizes))
    sizes = [2 if ord(letter) > 0xFFFF else 1 for letter in text]
    return Segments("UCS-2", _parts(sizes, UCS2_ALONE, UCS2_PART), sum(sizes))


def _parts(sizes: list[int], alone: int, part: int) -> int:
    if sum(sizes) <= alone:
        return 1
    count, used = 1, 0
    for size in sizes:
        if used + size > part:
            count, used = count + 1, 0
        used += size
    return count


@lru_cache(maxsize=16)
def _environment(language: str, overrides: tuple[tuple[str, str], ...]) -> Environment:
    # Plain text for a phone: there is no markup to escape.
    environment = Environment(
        loader=DictLoader({**shipped_messages(language), **dict(overrides)}),
        undefined=StrictUndefined,
        autoescape=False,
    )
    environment.globals["br"] = LINE_BREAK
    environment.filters.update(
        number=partial(number, language=language),
        day=partial(day, language=language),
        weekday=partial(weekday, language=language),
        instant=partial(instant, language=language),
        plural=partial(plural, language=language),
        spoken=partial(spoken, language=language),
        whole=whole,
        first_up=first_up,
        by_day=by_day,
    )
    return environment


@lru_cache(maxsize=8)
def template_names(language: str) -> tuple[str, ...]:
    """The names of all messages of a language, in order."""
    return tuple(sorted(shipped_messages(language)))


def parsed(
    name: str, language: str, text: str | None = None
) -> tuple[nodes.Template, frozenset[str]]:
    """A message's template as a tree, and the values it uses itself.

    text: None takes the shipped one. Raises `WordingError` where it is missing or broken.
    """
    if text is None:
        text = shipped_messages(language).get(name)
    if text is None:
        raise WordingError(f"{name}: there is no message of this name")
    try:
        tree = _environment(language, ()).parse(text)
        return tree, frozenset(meta.find_undeclared_variables(tree))
    except TemplateError as error:
        raise WordingError(f"{name}: {type(error).__name__}: {error}") from error


def number(value: object, language: str = "en") -> str:
    """A number as people write it: 3 for 3.0, 2.5 for 2.5 ("2,5" in Spanish), 2.3 for 2.3333."""
    if isinstance(value, float):
        return format_decimal(value, "0.#", locale=language)
    return str(value)


def plural(count: float, language: str = "en", **forms: str) -> str:
    """The form of a word that goes with a count, by the language's plural rules.

    forms: by CLDR category, `other` always: ("one": "day", "other": "days").
    """
    return forms.get(Locale(language).plural_form(count), forms["other"])


def day(value: date | str, language: str = "en") -> str:
    """A date as people say it: "Monday 4 May". Takes a date or its ISO text."""
    return format_date(_on(value), _said(language, "day"), locale=language)


def day_word(value: date | str, today: date, *, ahead: bool = False, language: str = "en") -> str:
    """ "today", "yesterday" or the weekday; the full date beyond six days.

    ahead: the day lies in the future: "tomorrow", and six days forward by their weekday.
    """
    on = _on(value)
    days = (on - today).days if ahead else (today - on).days
    if days in (0, 1):
        return _said(language, ("today", "tomorrow" if ahead else "yesterday")[days])
    return weekday(on, language) if 0 < days < 7 else day(on, language)


def weekday(value: date | str, language: str = "en") -> str:
    """A date's weekday: "Monday"."""
    return format_date(_on(value), "EEEE", locale=language)


def instant(value: datetime, language: str = "en") -> str:
    """A day and its time, short, for a clinician: "Wed 04 Mar 08:00". In the value's own zone."""
    return format_datetime(value, _said(language, "instant"), value.tzinfo, locale=language)


def spoken(text: object, language: str = "en") -> object:
    """A text of a shipped protocol in a language; any other, such as a clinic's own, as it is."""
    said = tables(language, "lines").get("session", {})
    return said.get(text, text) if isinstance(text, str) else text


def _said(language: str, name: str) -> str:
    return shipped_words(language).said[name]


def first_up(text: str) -> str:
    """A text that may start a sentence: its first letter in upper case."""
    return text[:1].upper() + text[1:]


def by_day(variants: list[str], on: date) -> str:
    """One of several wordings, another every day, so that what comes daily does not sound stale."""
    return variants[on.toordinal() % len(variants)]


def whole(value: float) -> str:
    """A number of minutes as people say it, without a fraction."""
    return str(round(value))


def _on(value: object) -> date:
    """A date from itself or its ISO text; anything else is a `TypeError`, never a guess."""
    if isinstance(value, str):
        return date.fromisoformat(value)
    if isinstance(value, date):
        return value
    raise TypeError(f"expected a date, found {type(value).__name__}")


def _lines_kept(value: object) -> object:
    """A value with its own line ends, which would else become spaces."""
    return value.replace("\n", LINE_BREAK) if isinstance(value, str) else value
