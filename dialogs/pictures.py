"""Line drawings of the exercises, `drawings/<name>.svg`: a person from the side, step by step.

No letters, so that no language and no typeface is needed; the words that go with each are the
message `picture/<name>`. Our own drawings. Read next: `weeks_picture`, the patient's own weeks.
"""

from __future__ import annotations

from collections.abc import Mapping
from importlib.resources import files

from rules.protocol import Level

# Which drawing belongs to which shipped level. A clinic's own level has none, and is told in words.
LEVELS: Mapping[str, str] = {
    "heel-raise hold on two legs": "two-leg-hold",
    "heel-raise hold on one leg": "one-leg-hold",
    "heel raise on two legs": "two-leg-raise",
    "two up, one down": "two-up-one-down",
    "heel raise on one leg": "one-leg-raise",
    "heel raise on two legs, on a step": "two-leg-step",
    "heel raise on one leg, on a step": "one-leg-step",
    "hops on two legs": "two-leg-hop",
    "hops on one leg": "one-leg-hop",
}


def picture_of(level: Level) -> str:
    """The name of the drawing of a level's exercise; empty where there is none."""
    return LEVELS.get(level.name, "")


def mind_of(level: Level) -> str:
    """Which two things to mind belong to a level, as in `mind/<name>`; empty where there are none.

    With heavy weights they are the same at each stage.
    """
    return picture_of(level) or ("heavy" if level.heavy else "")


def exercise_svg(name: str) -> str:
    """The drawing of an exercise."""
    return (files("dialogs") / "drawings" / f"{name}.svg").read_text(encoding="utf-8")
