"""Line drawings of the exercises, as SVG, drawn by code: a person from the side, step by step.

No letters, so that no language and no typeface is needed; the words that go with each drawing are
the template `picture/<name>`. Our own drawings, in black and grey on white. Decides nothing.
Read next: `weeks_picture`, the patient's own weeks.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import cos, radians, sin

from rules.protocol import Level

# Size of a drawing [pixels]. 390 is a narrow phone.
WIDTH, HEIGHT = 390, 260

FLOOR = 216.0  # where the floor is drawn [pixels from the top]
STEP_HEIGHT = 26.0

# A person's lengths [pixels]: our own proportions, the foot a little large so that it is seen.
HEEL_TO_BALL, BALL_TO_TOE, ANKLE_UP = 34.0, 13.0, 13.0
SHANK, THIGH, TRUNK, HEAD = 40.0, 38.0, 50.0, 12.0

UP, FLAT, DOWN = 42.0, 0.0, -22.0  # angle of the foot: heel high, level, below the edge [degrees]

BLACK, GREY, PALE = "#111111", "#8a8a8a", "#e4e4e4"


@dataclass(frozen=True)
class Pose:
    """One step of an exercise. `feet`: the angle of the foot; `lifted`: the other leg is off the
    ground; `arrow`: "up", "down" or "" beside the heel; `clock`: stay so; `air`: both feet are off
    the ground [pixels]."""

    feet: float = FLAT
    lifted: bool = False
    arrow: str = ""
    clock: bool = False
    air: float = 0.0


@dataclass(frozen=True)
class Drawing:
    """An exercise in steps; `step`: on the edge of one; `wall`: a hand on a wall."""

    poses: tuple[Pose, ...]
    step: bool = False
    wall: bool = False


DRAWINGS: Mapping[str, Drawing] = {
    "two-leg-raise": Drawing((Pose(), Pose(UP, arrow="up"), Pose(arrow="down"))),
    "one-leg-raise": Drawing(
        (Pose(lifted=True), Pose(UP, lifted=True, arrow="up"), Pose(lifted=True, arrow="down")),
        wall=True,
    ),
    "two-leg-hold": Drawing((Pose(), Pose(UP, arrow="up"), Pose(UP, clock=True))),
    "one-leg-hold": Drawing(
        (
            Pose(lifted=True),
            Pose(UP, lifted=True, arrow="up"),
            Pose(UP, lifted=True, clock=True),
        ),
        wall=True,
    ),
    "two-up-one-down": Drawing(
        (
            Pose(),
            Pose(UP, arrow="up"),
            Pose(UP, lifted=True),
            Pose(lifted=True, arrow="down"),
        )
    ),
    "two-leg-step": Drawing((Pose(), Pose(UP, arrow="up"), Pose(DOWN, arrow="down")), step=True),
    "one-leg-step": Drawing(
        (
            Pose(lifted=True),
            Pose(UP, lifted=True, arrow="up"),
            Pose(DOWN, lifted=True, arrow="down"),
        ),
        step=True,
    ),
    "two-leg-hop": Drawing((Pose(), Pose(UP, air=16, arrow="up"), Pose(arrow="down"))),
    "one-leg-hop": Drawing(
        (
            Pose(lifted=True),
            Pose(UP, lifted=True, air=16, arrow="up"),
            Pose(lifted=True, arrow="down"),
        )
    ),
}

# Which drawing belongs to which shipped level. A clinic's own level has none, and is told in words.
LEVELS: Mapping[str, str] = {
    "hold on two legs": "two-leg-hold",
    "hold on one leg": "one-leg-hold",
    "heel raise on two legs": "two-leg-raise",
    "two up, one down": "two-up-one-down",
    "heel raise on one leg": "one-leg-raise",
    "heel raise on two legs, on a step": "two-leg-step",
    "heel raise on one leg, on a step": "one-leg-step",
    "hops on two legs": "two-leg-hop",
    "hops on one leg": "one-leg-hop",
}

# Strokes of the numbers of the steps, in a box of 6 by 10.
_DIGITS = (
    "M1 2 L3 0 V10",
    "M0 2 Q3 -2 6 2 Q6 5 0 10 H6",
    "M0 1 Q6 -2 5 3 Q4 5 2 5 Q7 5 6 8 Q4 12 0 9",
    "M5 10 V0 L0 7 H7",
)


def picture_of(level: Level) -> str:
    """The name of the drawing of a level's exercise; empty where there is none."""
    return LEVELS.get(level.name, "")


def exercise_svg(name: str) -> str:
    """The drawing of an exercise. Raises KeyError for a name that is not in `DRAWINGS`."""
    drawing = DRAWINGS[name]
    width = WIDTH / len(drawing.poses)
    panels = "".join(
        _panel(drawing, pose, number, width) for number, pose in enumerate(drawing.poses)
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" '
        f'width="{WIDTH}" height="{HEIGHT}" fill="none" stroke-linecap="round" '
        f'stroke-linejoin="round"><rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>'
        f"{panels}</svg>"
    )


def _panel(drawing: Drawing, pose: Pose, number: int, width: float) -> str:
    """One step: ground, person, arrow, number."""
    left = number * width
    ball = left + width * (0.58 if len(drawing.poses) > 3 else 0.53)
    ground = FLOOR - (STEP_HEIGHT if drawing.step else 0)
    parts = [_ground(drawing, left, width, ball)]
    if drawing.wall:
        wall = left + width - 10
        parts.append(_line(((wall, 40), (wall, FLOOR)), GREY, 4))
    parts.append(_person(drawing, pose, ball, ground - pose.air, left + width - 12))
    if pose.air:
        parts += [
            _line(((ball + d, ground - 2), (ball + d, ground - 8)), GREY, 3) for d in (-24, -8, 8)
        ]
    if pose.arrow:
        parts.append(_arrow(ball + 30, ground - 74, pose.arrow))
    if pose.clock:
        parts.append(_clock(ball + 32, ground - 58))
    parts.append(
        f'<path transform="translate({left + 12:.1f} 14) scale(1.7)" d="{_DIGITS[number]}" '
        f'stroke="{BLACK}" stroke-width="1.5"/>'
    )
    if number:
        parts.append(_line(((left, 20), (left, HEIGHT - 20)), PALE, 2))
    return "".join(parts)


def _ground(drawing: Drawing, left: float, width: float, ball: float) -> str:
    floor = _line(((left + 6, FLOOR + 3), (left + width - 6, FLOOR + 3)), BLACK, 3)
    if not drawing.step:
        return floor
    edge = ball - 12
    return floor + (
        f'<rect x="{edge:.1f}" y="{FLOOR - STEP_HEIGHT + 3:.1f}" '
        f'width="{left + width - 8 - edge:.1f}" height="{STEP_HEIGHT:.1f}" '
        f'fill="{PALE}" stroke="{BLACK}" stroke-width="3"/>'
    )


def _person(drawing: Drawing, pose: Pose, ball: float, ground: float, wall: float) -> str:
    """A person who faces right, standing on the ball of the foot at `ball`."""
    ankle = _ankle(ball, ground, pose.feet)
    hip = (ankle[0] + 2, ankle[1] - SHANK - THIGH)
    knee = (ankle[0] + 3, ankle[1] - SHANK)
    neck = (hip[0] + 2, hip[1] - TRUNK)
    shoulder = (neck[0], neck[1] + 8)
    parts = []
    if pose.lifted:
        parts.append(_lifted_leg(hip))
    else:
        parts.append(_leg((hip, (knee[0] - 9, knee[1]), (ankle[0] - 9, ankle[1])), GREY))
        parts.append(_foot(ball - 9, ground, pose.feet, GREY))
    parts.append(_leg((hip, knee, ankle), BLACK))
    parts.append(_foot(ball, ground, pose.feet, BLACK))
    parts.append(_line((hip, neck), BLACK, 9))
    if drawing.wall:
        hand = (wall, shoulder[1] + 14)
        parts.append(_line((shoulder, (shoulder[0] + 14, shoulder[1] + 20), hand), BLACK, 5))
    else:
        hand = (shoulder[0] + 10, shoulder[1] + 42)
        parts.append(_line((shoulder, (shoulder[0] - 4, shoulder[1] + 22), hand), BLACK, 5))
    parts.append(
        f'<circle cx="{neck[0] + 3:.1f}" cy="{neck[1] - HEAD - 4:.1f}" r="{HEAD}" '
        f'fill="#ffffff" stroke="{BLACK}" stroke-width="4"/>'
    )
    return "".join(parts)


def _ankle(ball: float, ground: float, angle: float) -> tuple[float, float]:
    return _turned((-HEEL_TO_BALL + 8, -ANKLE_UP), ball, ground, angle)


def _turned(
    point: tuple[float, float], ball: float, ground: float, angle: float
) -> tuple[float, float]:
    """A point of the foot, the foot turned about its ball; `angle` over 0 lifts the heel."""
    turn = radians(angle)
    x, y = point
    return ball + x * cos(turn) - y * sin(turn), ground + x * sin(turn) + y * cos(turn)


def _foot(ball: float, ground: float, angle: float, colour: str) -> str:
    corners = ((-HEEL_TO_BALL - 4, 0), (0, 0), (-2, -8), (-HEEL_TO_BALL + 12, -ANKLE_UP - 3),
               (-HEEL_TO_BALL - 3, -10))  # fmt: skip
    points = [_turned(corner, ball, ground, angle) for corner in corners]
    tip, top = (ball + BALL_TO_TOE, ground - 1), (ball + BALL_TO_TOE - 3, ground - 6)
    outline = [points[0], points[1], tip, top, *points[2:]]
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in outline)
    return f'<polygon points="{path}" fill="{colour}" stroke="{colour}" stroke-width="3"/>'


def _lifted_leg(hip: tuple[float, float]) -> str:
    knee = (hip[0] + 12, hip[1] + THIGH - 4)
    ankle = (knee[0] - 30, knee[1] + SHANK - 20)
    toe = (ankle[0] - 12, ankle[1] + 16)
    return _leg((hip, knee, ankle), GREY) + _line((ankle, toe), GREY, 8)


def _leg(points: tuple[tuple[float, float], ...], colour: str) -> str:
    return _line(points, colour, 9)


def _line(points: tuple[tuple[float, float], ...], colour: str, width: float) -> str:
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return f'<polyline points="{path}" stroke="{colour}" stroke-width="{width}"/>'


def _arrow(x: float, y: float, way: str) -> str:
    """An arrow of 40 pixels beside the heel."""
    top, end = (y, y + 40) if way == "up" else (y + 40, y)
    head = 9 if way == "up" else -9
    return _line(((x, top), (x, end)), BLACK, 4) + _line(
        ((x - 8, top + head), (x, top), (x + 8, top + head)), BLACK, 4
    )


def _clock(x: float, y: float) -> str:
    return (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="14" stroke="{BLACK}" stroke-width="3.5"/>'
        + _line(((x, y - 9), (x, y), (x + 7, y + 4)), BLACK, 3)
    )
