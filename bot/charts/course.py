"""The course of one patient, as pictures show it, and the same in words. Computes no advice.

Read next: `course_picture`, which draws it; `course_data`, which puts it together.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date
from functools import partial
from itertools import groupby

from dialogs.lines import chart_day, chart_line, word_for
from dialogs.verdict import place_words
from rules.protocol import Position
from rules.reasons import Action
from rules.variation import usual_band

NEWS = (Action.DO_LESS, Action.STEP_BACK, Action.STOP)
"""Advice that is shown: what lowered the load."""


@dataclass(frozen=True)
class CourseDay:
    """One local date. None: not answered, not known, or no session.

    `usual`, `variation`: usual first-step pain and how it varies from day to day [points];
    `usual_stiffness` [minutes]; of days with an answer alone. `place`: where the plan stood;
    `done`: where the session was done, `whole` with all of its sets.
    """

    on: date
    first_step_pain: int | None = None
    stiffness: int | None = None
    pain_during: int | None = None
    usual: float | None = None
    variation: float | None = None
    usual_stiffness: float | None = None
    place: Position | None = None
    done: Position | None = None
    whole: bool = True
    advised: frozenset[Action] = frozenset()

    @property
    def band(self) -> tuple[float, float] | None:
        """What is usual from day to day [points]; None where it is not known."""
        if self.usual is None or self.variation is None:
            return None
        return usual_band(self.usual, self.variation)


@dataclass(frozen=True)
class Course:
    """Consecutive local dates, oldest first, at least one. `pain_limit`: [points, included].

    `doses`: of each level of the ladder, lowest first [count]. `raised`: what was raised to a
    clinician, by date and number.
    """

    days: tuple[CourseDay, ...]
    pain_limit: int
    doses: tuple[int, ...] = (1,)
    raised: tuple[tuple[date, int], ...] = ()

    def is_over(self, pain: int | None) -> bool:
        """Whether a pain is over the limit."""
        return pain is not None and pain > self.pain_limit

    def is_above(self, day: CourseDay) -> bool:
        """Whether a morning's pain is above what is usual from day to day, yet within the limit."""
        pain = day.first_step_pain
        if pain is None or day.band is None or self.is_over(pain):
            return False
        return pain > day.band[1]


def course_words(course: Course, language: str = "en") -> str:
    """The picture in words, for whoever cannot see it."""
    return " ".join(_told(course, language))


def _told(course: Course, language: str) -> Iterator[str]:
    say = partial(chart_line, language=language)
    days = course.days
    first, last = chart_day(days[0].on, language), chart_day(days[-1].on, language)
    yield say("told", first=first, last=last)
    pains = [int(d.first_step_pain) for d in days if d.first_step_pain is not None]
    if pains:
        yield say("told-pain", lowest=min(pains), highest=max(pains), count=len(pains))
    over = {d.on for d in days if course.is_over(d.first_step_pain)}
    if over:
        yield say("told-over", limit=course.pain_limit, days=_spans(course, over, language))
    above = {d.on for d in days if course.is_above(d)}
    if above:
        yield say("told-above", days=_spans(course, above, language))
    during = [int(d.pain_during) for d in days if d.pain_during is not None]
    if during:
        yield say("told-sessions", lowest=min(during), highest=max(during), count=len(during))
    places = [d.place for d in days if d.place is not None]
    if places:
        ends = [place_words(place, language) for place in (places[0], places[-1])]
        yield say("told-places", first=ends[0], last=ends[1])
    for action in NEWS:
        on = {d.on for d in days if action in d.advised}
        if on:
            words = word_for("action", action, language).capitalize()
            yield say("told-advice", action=words, days=_spans(course, on, language))
    if course.raised:
        told = (
            say("told-one", number=number, on=chart_day(on, language))
            for on, number in course.raised
        )
        yield say("told-raised", listed=", ".join(told))


def _spans(course: Course, dates: Collection[date], language: str) -> str:
    """Dates that follow each other are told as one span."""
    runs = [list(run) for found, run in groupby(course.days, lambda d: d.on in dates) if found]
    return ", ".join(_span(run[0].on, run[-1].on, language) for run in runs)


def _span(first: date, last: date, language: str) -> str:
    ends = [chart_day(one, language) for one in (first, last)]
    return ends[0] if first == last else chart_line("span", language, first=ends[0], last=ends[1])
