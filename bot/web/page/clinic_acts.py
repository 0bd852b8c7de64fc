"""What a lead clinician changes of the clinic at the page: who is of it, the rota, days off,
what the bot says.

To remove somebody is a command of the chat, and asked about as there."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, time, timedelta

from bot.clinic import Shift
from bot.clinicians.invite import invite_staff
from bot.clinicians.refusal import NotDoneError
from bot.clinicians.request import Request
from bot.clinicians.roles import Right, demand
from bot.operations.custom_wording import keep_wording
from bot.store import people, shifts
from bot.store.people import CLINICAL, INVITATION_DAYS, Role
from bot.web.page.shown import Shown
from dialogs.catalogues import key, languages, shipped_messages
from dialogs.errors import WordingError
from dialogs.lines import page_line
from dialogs.own_wording import problems

Fields = Mapping[str, str]

# Longest time off that is taken at once [days]. Convention: beyond it a year was mistyped.
DAYS_OFF_MAX = 366

WEEK = range(7)


class FieldError(ValueError):
    """A field is not what was expected: the line of the page that says so."""


def change_clinic(request: Request, act: str, fields: Fields) -> Shown:
    """Do what a form asks for and leave a line of audit; a refusal says what was expected, and
    gives back what was filled in."""
    language = request.person.language
    try:
        demand(request.person, Right.STAFF)
        with request.store.savepoint():
            return CLINIC_ACTS[act](request, fields)
    except FieldError as error:
        why = page_line(str(error), language, most=DAYS_OFF_MAX)
    except NotDoneError as error:
        why = error.in_language(language)
    return Shown("", page_line("nothing-changed", language), (), (why,), fields)


def _invite(request: Request, fields: Fields) -> Shown:
    role, language = fields.get("role", ""), fields.get("language", "")
    if role not in (*CLINICAL, Role.OWNER) or language not in languages():
        raise FieldError("choose-one")
    by = request.person.id
    name = fields.get("name", "")
    code = invite_staff(request.store, Role(role), name, language, request.now, by)
    return _done(request, "staff-invited", who=name, code=code, days=INVITATION_DAYS)


def _add_shift(request: Request, fields: Fields) -> Shown:
    days = frozenset(day for day in WEEK if fields.get(f"day-{day}"))
    if not days:
        raise FieldError("a-weekday")
    opens, closes = _time(fields.get("opens", "")), _time(fields.get("closes", ""))
    shift = Shift(_clinician(request, fields), opens, closes, days)
    shifts.add(request.store, shift, request.clinic.rota, request.now)
    request.audit("shift added", clinician=shift.clinician, days=sorted(days))
    return _done(request, "shift-added", who=shift.clinician)


def _end_shift(request: Request, fields: Fields) -> Shown:
    number = fields.get("number", "")
    if not number.isdecimal() or not shifts.end(request.store, int(number), request.now):
        raise FieldError("gone")
    request.audit("shift ended", number=int(number))
    return _done(request, "shift-ended")


def _add_days_off(request: Request, fields: Fields) -> Shown:
    clinician = _clinician(request, fields)
    first = _day(fields.get("on", ""))
    last = _day(fields.get("until", "")) if fields.get("until") else first
    if not 0 <= (last - first).days < DAYS_OFF_MAX:
        raise FieldError("a-last-day")
    for number in range((last - first).days + 1):
        shifts.add_day_off(request.store, clinician, first + timedelta(days=number))
    request.audit("days off added", clinician=clinician, on=first, until=last)
    return _done(request, "off-added", who=clinician)


def _end_day_off(request: Request, fields: Fields) -> Shown:
    clinician, on = fields.get("clinician", ""), _day(fields.get("on", ""))
    if not shifts.end_day_off(request.store, clinician, on):
        raise FieldError("gone")
    request.audit("day off ended", clinician=clinician, on=on)
    return _done(request, "off-ended", who=clinician)


def _word(request: Request, fields: Fields) -> Shown:
    """One message in the clinic's own words, or in ours again where the field is empty."""
    folder, language = request.clinic.wording_folder, fields.get("of", "")
    name, text = fields.get("message", ""), fields.get("text", "")
    if folder is None or language not in languages() or name not in shipped_messages(language):
        raise FieldError("gone")
    if text == shipped_messages(language)[name]:
        text = ""
    try:
        if text:
            own = {**request.clinic.wording_in(language), name: text}
            for _, problem in problems(language, own, request.clinic.protocols.values()):
                raise WordingError(problem)
        keep_wording(folder, language, name, text)
    except WordingError as error:
        said = page_line("nothing-changed", request.person.language)
        return Shown("", said, (), (f"{key(name)}: {error}",), fields)
    request.audit("wording changed", language=language, message=name, own=bool(text))
    return _done(request, "worded" if text else "worded-as-shipped", message=key(name))


CLINIC_ACTS: Mapping[str, Callable[[Request, Fields], Shown]] = {
    "invite-staff": _invite,
    "shift-add": _add_shift,
    "shift-end": _end_shift,
    "off-add": _add_days_off,
    "off-end": _end_day_off,
    "word": _word,
}
"""By the name of the form."""


def _done(request: Request, name: str, **values: str | int) -> Shown:
    return Shown("", page_line(name, request.person.language, **values))


def _clinician(request: Request, fields: Fields) -> str:
    names = [one.name for one in people.by_role(request.store, *CLINICAL)]
    if fields.get("clinician", "") not in names:
        raise FieldError("choose-one")
    return fields["clinician"]


def _time(text: str) -> time:
    try:
        return time.fromisoformat(text)
    except ValueError:
        raise FieldError("a-time") from None


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise FieldError("a-day") from None
