"""Makes the one self-contained page of a report: no script, no font, nothing fetched.

Everything is escaped by the template but the drawings, which are ours and escape their own words.
"""

from __future__ import annotations

from functools import partial

from jinja2 import Environment, PackageLoader, StrictUndefined

from bot.report.gather import Report
from dialogs.lines import chart_line


def page_of(report: Report) -> str:
    """The report as HTML."""
    return filled("report.html", report=report, say=partial(chart_line, language=report.language))


def filled(template: str, **values: object) -> str:
    """One of our pages, as HTML."""
    environment = Environment(
        loader=PackageLoader("bot.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template(template).render(**values)
