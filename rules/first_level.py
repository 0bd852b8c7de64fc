"""Where a ladder may begin, from what a patient says they can do. Proposes; a clinician decides.

Read next: `ladder`. How the answers are asked for: `dialogs.questions`.
"""

from __future__ import annotations

from datetime import date

from rules.history import Ability, History, MovedBy
from rules.ladder import is_barred
from rules.protocol import Position, Protocol
from rules.reasons import Evidence
from rules.usual import pain_limit


def asks_ability(protocol: Protocol) -> bool:
    """Whether this ladder can begin anywhere but at its first level."""
    return any(level.begins_from_raises is not None for level in protocol.levels)


def first_place(history: History, protocol: Protocol, ability: Ability) -> Position:
    """The lowest dose of the highest level that fits; the first level where none does.

    A level fits who does `begins_from_raises` heel raises in a row on the sore side [count, at
    least], 0 being met by ten on both feet. What was not answered counts as not possible. Whose
    usual first-step pain is over the limit begins at the first level, over `comfort_max` with what
    ten on both feet allow. Source: silbernagel-2020 for ten; convention for the rest.
    """
    raises = int(ability.in_a_row or 0) if ability.on_one else 0
    if history.usual_pain > protocol.settings.comfort_max:
        raises = 0
    if not ability.on_both or history.usual_pain > pain_limit(history, protocol):
        raises = -1
    fitting = [
        number
        for number, level in enumerate(protocol.levels, start=1)
        if level.begins_from_raises is not None and level.begins_from_raises <= raises
    ]
    places = [Position(number, 1) for number in [1, *fitting]]
    return max(place for place in places if not is_barred(history, protocol, place))


def first_level(history: History, protocol: Protocol, today: date) -> tuple[date, Evidence] | None:
    """A higher level than the patient stands at fits what they said when they enrolled.

    Once the answers are whole, or on a later day. None once a clinician has set a level.
    """
    ability = history.ability
    if ability is None or any(move.by is MovedBy.CLINICIAN for move in history.moves):
        return None
    place = first_place(history, protocol, ability)
    if place <= history.position or not (ability.is_whole or ability.on < today):
        return None
    evidence: Evidence = {
        "on_one": None if ability.on_one is None else int(ability.on_one),
        "in_a_row": None if ability.in_a_row is None else int(ability.in_a_row),
        "usual": int(history.usual_pain),
        "begins_at": place.level,
    }
    return ability.on, evidence
