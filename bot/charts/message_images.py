"""Makes the pictures that go with a message: an exercise, or a patient's own weeks.

Kept as SVG; made a PNG when it is sent, which takes long and holds up no transaction (`as_png`).
Where the drawing library or a typeface is missing there is no picture, and the words stand alone:
they say all that the picture shows. Reads and keeps; sends nothing.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from zlib import crc32

from bot.patient_record.record import PatientRecord
from bot.patient_record.say import words_of
from bot.ports import CHAT_CHANNELS, Outgoing
from bot.store import people, pictures
from dialogs.pictures import exercise_svg, picture_of
from dialogs.turn import Said
from dialogs.weeks_picture import TYPEFACES, Day, weeks_svg

# How much larger than on the page a picture is made, for sharp phones. Convention.
ZOOM = 2

# Two drawings that differ only by their letters: alike where the machine has no typeface.
_FRAME = '<svg xmlns="http://www.w3.org/2000/svg" width="30" height="20" font-family="{}">{}</svg>'
_WITH_LETTERS = _FRAME.format(TYPEFACES, '<text x="2" y="16">30</text>')
_WITHOUT_LETTERS = _FRAME.format(TYPEFACES, "")


def can_see_pictures(case: PatientRecord) -> bool:
    """Whether the patient is reached first on a channel that shows pictures."""
    contacts = people.contacts(case.store, case.patient.id)
    return bool(contacts) and contacts[0].channel in CHAT_CHANNELS


def exercise_picture(case: PatientRecord) -> tuple[int, Said] | None:
    """The drawing of the patient's present exercise, with its words; None where there is none."""
    prescription = case.prescription()
    name = "" if prescription is None else picture_of(prescription.level)
    if not name or not can_see_pictures(case):
        return None
    if not has_letters():
        return None
    drawing = exercise_svg(name).encode()
    # A drawing that was made anew is another picture.
    kept = pictures.keep(case.store, f"{name} {crc32(drawing)}", drawing, case.now)
    return kept, Said(f"picture/{name}")


def weeks_picture(case: PatientRecord) -> tuple[int, Said] | None:
    """The patient's last four weeks, with words; None where there is nothing to show."""
    days = mornings(case)
    if not days or not can_see_pictures(case) or not has_letters():
        return None
    situation = case.situation()
    labels = {
        name: words_of(case.clinic, Said(f"picture/axis-{name}"), situation)
        for name in ("pain", "minutes", "usual")
    }
    drawing = weeks_svg(days, case.today, labels, situation.language).encode()
    kept = pictures.keep(case.store, "weeks", drawing, case.now, person=case.patient.id)
    return kept, Said("picture/weeks")


def mornings(case: PatientRecord) -> tuple[Day, ...]:
    """The patient's answered mornings, as they are drawn."""
    return tuple(
        Day(morning.on, _whole(morning.first_step_pain), _whole(morning.stiffness))
        for morning in case.history.mornings
    )


def as_png(outgoing: Outgoing) -> Outgoing:
    """The message with its picture as a PNG, as channels take it; without where none is drawn."""
    kept = outgoing.picture
    if kept is None or not kept.startswith(b"<svg"):
        return outgoing
    return replace(outgoing, picture=png_of(kept.decode()))


def png_of(svg: str) -> bytes | None:
    """A drawing as PNG; None where the optional library is not installed."""
    try:
        import resvg_py
    except ImportError:
        return None
    return bytes(resvg_py.svg_to_bytes(svg_string=svg, zoom=ZOOM))


@lru_cache(maxsize=1)
def has_letters() -> bool:
    """Whether this machine can draw letters: a chart without its numbers would mislead."""
    with_letters = png_of(_WITH_LETTERS)
    return with_letters is not None and with_letters != png_of(_WITHOUT_LETTERS)


def _whole(value: int | None) -> int | None:
    return None if value is None else int(value)
