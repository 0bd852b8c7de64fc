"""Draws first-step pain of four weeks as small as a word: a bar a morning, the limit as a line. A
bar over the limit is filled, one within it is open, and a morning without an answer is a gap."""

from __future__ import annotations

from datetime import date, timedelta

from markupsafe import Markup

from rules.history import History

# Days shown, width of a day, height of a point, and of the room below nought [days, pixels].
DAYS, WIDE, POINT, FOOT = 28, 5, 3, 2


def week_drawing(history: History, limit: int, today: date, words: str) -> Markup:
    """The drawing. `words`: what it shows, for whoever does not see it."""
    height = 10 * POINT + FOOT
    first = today - timedelta(days=DAYS - 1)
    pains = {one.on: one.first_step_pain for one in history.mornings if one.on >= first}
    parts = []
    for number in range(DAYS):
        pain = pains.get(first + timedelta(days=number))
        if pain is None:
            continue
        tall = max(1, int(pain) * POINT)
        over = " over" if pain > limit else ""
        parts.append(
            f'<rect class="bar{over}" x="{number * WIDE + 0.5}" y="{height - FOOT - tall}"'
            f' width="{WIDE - 1}" height="{tall}"/>'
        )
    line = height - FOOT - limit * POINT
    parts.append(f'<line class="limit" x1="0" x2="{DAYS * WIDE}" y1="{line}" y2="{line}"/>')
    # The bars are numbers of ours; only the words are anybody's.
    return Markup(
        '<svg class="weeks" role="img" width="{0}" height="{1}" viewBox="0 0 {0} {1}"'
        ' aria-label="{2}">{3}</svg>'
    ).format(DAYS * WIDE, height, words, Markup("".join(parts)))
