"""The arithmetic of one step on a protocol's ladder: the next one up, the ones down.

Whether a step is taken is decided elsewhere. Never more than one dose or one level up.
Read next: `advice`.
"""

from __future__ import annotations

from rules.errors import HistoryError
from rules.history import History
from rules.protocol import Position, Protocol, Tendon


def next_position(protocol: Protocol, position: Position) -> Position | None:
    """The next dose of the level; after its highest dose, the lowest dose of the next level.

    None at the top of the ladder.
    """
    if position.dose < len(protocol.level(position).doses):
        return Position(position.level, position.dose + 1)
    if position.level < len(protocol.levels):
        return Position(position.level + 1, 1)
    return None


def one_level_lower(protocol: Protocol, position: Position) -> Position:
    """One level down, at its highest dose; at the first level, that level's lowest dose.

    Source: own-simulation, table of climbing: from the lowest dose the way back takes ten weeks
    more. Raises HistoryError where the position is not on the ladder.
    """
    check_position(protocol, position)
    if position.level == 1:
        return Position(1, 1)
    return Position(position.level - 1, len(protocol.levels[position.level - 2].doses))


def one_dose_lower(protocol: Protocol, position: Position) -> Position:
    """One dose down; from a level's lowest dose, the highest dose of the level below.

    Raises HistoryError where the position is not on the ladder.
    """
    check_position(protocol, position)
    if position.dose > 1:
        return Position(position.level, position.dose - 1)
    return one_level_lower(protocol, position)


def is_barred(history: History, protocol: Protocol, position: Position) -> bool:
    """Whether this patient may not be loaded at a position.

    Hops stand behind the gate, which a clinician opens; deficit raises are for mid-portion tendons
    only. Source: jonsson-2008, to floor level and no lower; pringels-2025.
    """
    level = protocol.level(position)
    if level.hops and not history.hops_allowed:
        return True
    return level.deficit and history.tendon is Tendon.INSERTIONAL


def allowed_position(history: History, protocol: Protocol, position: Position) -> Position:
    """The position itself, or where it is barred the lowest dose of the nearest open level below.

    It matters where a clinician closes the gate on a patient who hops already. Raises HistoryError
    if every level below is barred as well.
    """
    if not is_barred(history, protocol, position):
        return position
    for number in range(position.level - 1, 0, -1):
        below = Position(number, 1)
        if not is_barred(history, protocol, below):
            return below
    raise HistoryError(
        f"a level of {protocol.name} at or below level {position.level} that is open to this"
        f" patient was expected; found none"
    )


def check_position(protocol: Protocol, position: Position) -> None:
    """Raise HistoryError where a position is not on the protocol's ladder."""
    on_ladder = 1 <= position.level <= len(protocol.levels)
    if not on_ladder or not 1 <= position.dose <= len(protocol.level(position).doses):
        raise HistoryError(
            f"a position on the ladder of {protocol.name} was expected;"
            f" found level {position.level}, dose {position.dose}"
        )
