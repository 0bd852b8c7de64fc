"""Makes the text of a screen: its template, filled; every word of ours is from the catalogue of the
reader's language, and everything is escaped."""

from __future__ import annotations

from datetime import date, datetime
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined

from bot.clinic import Clinic
from bot.web.page.screens import Look, Shown
from bot.web.page.shown import Shown as Reply
from bot.web.page.week_drawing import week_drawing
from dialogs.lines import moment_short, page_line, short_day, word_for


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("bot.web", "templates/page"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals["week_drawing"] = week_drawing
    return environment


def rendered(
    shown: Shown,
    look: Look | None,
    *,
    token: str = "",
    reply: Reply | None = None,
    clinic: Clinic | None = None,
) -> str:
    """The whole document. `look`: None for somebody who is not let in, whose `clinic` it is."""
    if look is not None:
        clinic = look.clinic
    assert clinic is not None
    language = clinic.language if look is None else look.language

    def said(name: str, **values: str | int | float | date | None) -> str:
        return page_line(name, language, **values)

    def at(value: datetime) -> str:
        return moment_short(value.astimezone(clinic.zone_info), language)

    def day(value: date) -> str:
        return short_day(value, language)

    def called(kind: str, code: str) -> str:
        return word_for(kind, code, language)

    return _environment().get_template(shown.template).render(
        t=said, at=at, day=day, called=called, language=language, clinic_name=clinic.name,
        look=look, token=token, reply=reply, **shown.values,
    )  # fmt: skip
