"""What `serve` writes of itself, to standard error."""

from __future__ import annotations

import logging
from enum import StrEnum

# These tell of each tick and of each request, 86,000 lines a day: only what is wrong is kept.
TALKATIVE = ("apscheduler", "httpx", "httpcore")

FIELDS = "%(asctime)s %(levelname)s %(name)s %(message)s"


class LogFormat(StrEnum):
    """For people, or for a program that collects logs."""

    TEXT = "text"
    JSON = "json"


def write_log(form: LogFormat) -> None:
    """From now on, each line in this form, from INFO upwards."""
    handler = logging.StreamHandler()
    handler.setFormatter(logging.Formatter(FIELDS))
    if form is LogFormat.JSON:
        from pythonjsonlogger.json import JsonFormatter

        handler.setFormatter(JsonFormatter(FIELDS, rename_fields={"asctime": "at"}))
    logging.basicConfig(level=logging.INFO, handlers=[handler], force=True)
    for name in TALKATIVE:
        logging.getLogger(name).setLevel(logging.WARNING)
