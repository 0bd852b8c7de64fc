"""The short lines that a clinician reads, in their language: lists, histories, codes in words.

Read from `wording/<language>/lines.toml`. Decides nothing, and says nothing to a patient.
Read next: `wording`, for whole messages.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from babel.dates import format_date, format_datetime

from dialogs.catalogues import tables
from dialogs.errors import WordingError
from dialogs.rendering import instant, number, plural
from dialogs.turn import Value

DAY = "EEE dd MMM"
MOMENT = "EEE dd MMM HH:mm:ss"


def line(name: str, language: str, **values: Value) -> str:
    """One line. A date is shown with its weekday, an instant with its time in its own zone, a
    fraction as people of the language write it.

    With a `count` the form is that of the language's plural rules, where the file has forms.
    Raises `WordingError` where there is no such line, or a value of it is not given.
    """
    return _filled(tables(language, "lines")["lines"], name, language, values)


def is_of_number(words: str, language: str) -> bool:
    """Whether these words are our own line for a pain, and not the patient's."""
    return re.fullmatch(line("pain", language, worst=r"\d+"), words) is not None


def page_line(name: str, language: str, **values: Value) -> str:
    """One line of the clinic page, likewise, from `page.toml`."""
    return _filled(tables(language, "page")["page"], name, language, values)


def chart_line(name: str, language: str, **values: Value) -> str:
    """One line of a clinician's picture, likewise, from `charts.toml`."""
    return _filled(tables(language, "charts")["charts"], name, language, values)


def chat_words(act: str, language: str, values: Mapping[str, str]) -> str:
    """What could be typed in chat for what a form of the page asks; empty where there is no such
    act, or something of it is missing."""
    try:
        return str(tables(language, "page")["chat"].get(act, "")).format(**values)
    except KeyError:
        return ""


def _filled(lines: Mapping[str, Any], name: str, language: str, values: Mapping[str, Value]) -> str:
    kept = lines.get(name)
    if isinstance(kept, dict):
        kept = plural(float(str(values["count"])), language, **kept)
    if kept is None:
        raise WordingError(f"there is no line {name!r} in the language {language!r}")
    shown = {key: _shown(value, language) for key, value in values.items()}
    try:
        return str(kept).format(**shown)
    except KeyError as error:
        raise WordingError(f"the line {name!r} needs the value {error}") from error


def words_for(kind: str, language: str) -> dict[str, str]:
    """What the codes of a table ("tier", "sign", "reason") are called."""
    return dict(tables(language, "lines").get(kind, {}))


def word_for(kind: str, code: str, language: str) -> str:
    """What a code of the store is called, by its table.
    A code that the table lacks is said as it is, with spaces for its hyphens."""
    return words_for(kind, language).get(code, code.replace("-", " "))


def moment(value: datetime, language: str) -> str:
    """An instant to the second, in its own zone: for a history."""
    return format_datetime(value, MOMENT, value.tzinfo, locale=language)


def moment_short(value: datetime, language: str) -> str:
    """An instant to the minute, in its own zone, with its weekday."""
    return instant(value, language)


def chart_day(value: date, language: str, *, with_year: bool = False) -> str:
    """A date as it stands in a picture: "2 Mar"."""
    return format_date(value, "d MMM y" if with_year else "d MMM", locale=language)


def short_day(value: date, language: str) -> str:
    """A date with its weekday, short: "Mon 02 Mar"."""
    return format_date(value, DAY, locale=language)


def _shown(value: Value, language: str) -> str:
    if isinstance(value, datetime):
        return instant(value, language)
    if isinstance(value, date):
        return short_day(value, language)
    return number(value, language)
