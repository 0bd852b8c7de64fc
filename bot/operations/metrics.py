"""Numbers about the bot for whoever watches it: what waits, since when, what went out.

Counts only: no name, address, text or secret is in them. Read next: `bot.web.service`, where they
are asked for.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from prometheus_client import CollectorRegistry, generate_latest
from prometheus_client.core import GaugeMetricFamily, Metric
from prometheus_client.registry import Collector

from bot.store import instants, outbox
from bot.store.database import Store

# A prompt that waits longer than this after its time is late [minutes]. Convention.
LATE_MINUTES = 5

# How far back what went out is counted [hours].
DAY_HOURS = 24


def metrics_text(store: Store, now: datetime) -> bytes:
    """All numbers at an instant, in the text format of Prometheus."""
    registry = CollectorRegistry()
    registry.register(_Numbers(store, now))
    return generate_latest(registry)


class _Numbers(Collector):
    """Reads the store once, when asked."""

    def __init__(self, store: Store, now: datetime) -> None:
        self._store, self._now = store, now

    def describe(self) -> Iterator[Metric]:
        return iter(())  # otherwise registering would read the store once more

    def collect(self) -> Iterator[Metric]:
        yield from self._prompts()
        yield from self._escalations()
        yield from self._outbox()
        answers = self._count("SELECT coalesce(max(id), 0) AS n FROM answers")
        yield _gauge("answers", "Answers recorded since the store was made.", answers)
        unhandled = self._count("SELECT count(*) AS n FROM inbox WHERE handled_at IS NULL")
        yield _gauge("inbox_waiting", "Messages kept and not handled yet.", unhandled)

    def _prompts(self) -> Iterator[Metric]:
        due = """
        SELECT count(*) AS n FROM prompts
        WHERE due_at <= :now AND written_at IS NULL AND dropped_at IS NULL
        """
        waiting = """
        SELECT count(*) AS n FROM outbox WHERE prompt IS NOT NULL
          AND accepted_at IS NULL AND failed_at IS NULL AND written_at <= :late
        """
        late_due = """
        SELECT count(*) AS n FROM prompts
        WHERE due_at <= :late AND written_at IS NULL AND dropped_at IS NULL
        """
        sent = "SELECT count(*) AS n FROM prompts WHERE written_at > :day"
        late = self._count(waiting) + self._count(late_due)
        yield _gauge("prompts_due", "Prompts due and not put in line yet.", self._count(due))
        yield _gauge("prompts_late", f"Prompts still unsent {LATE_MINUTES} min on.", late)
        yield _gauge("prompts_sent_day", "Prompts put in line in 24 hours.", self._count(sent))

    def _escalations(self) -> Iterator[Metric]:
        sql = """
        SELECT tier, count(*) AS n, min(raised_at) AS oldest FROM escalations
        WHERE acknowledged_at IS NULL GROUP BY tier ORDER BY tier
        """
        rows = self._store.rows(sql)
        counts = GaugeMetricFamily(
            "nextmorning_escalations_open", "Escalations nobody has taken.", labels=["tier"]
        )
        for row in rows:
            counts.add_metric([row["tier"]], row["n"])
        yield counts
        oldest = min((row["oldest"] for row in rows), default=None)
        yield _gauge("escalation_oldest_seconds", "Age of the oldest of them.", self._age(oldest))

    def _outbox(self) -> Iterator[Metric]:
        depth = GaugeMetricFamily(
            "nextmorning_outbox_waiting", "Messages that wait to go out.", labels=["channel"]
        )
        oldest = GaugeMetricFamily(
            "nextmorning_outbox_oldest_seconds", "Age of the oldest.", labels=["channel"]
        )
        for row in outbox.depth(self._store, self._now):
            depth.add_metric([row["channel"]], row["waiting"])
            oldest.add_metric([row["channel"]], self._age(row["oldest"]))
        yield depth
        yield oldest

    def _count(self, sql: str) -> int:
        values = {
            "now": instants.text(self._now),
            "late": instants.text(self._now - timedelta(minutes=LATE_MINUTES)),
            "day": instants.text(self._now - timedelta(hours=DAY_HOURS)),
        }
        used = {name: value for name, value in values.items() if f":{name}" in sql}
        return int(self._store.one(sql, used, "count")["n"])

    def _age(self, since: str | None) -> float:
        began = instants.read_maybe(since)
        return 0.0 if began is None else max(0.0, (self._now - began).total_seconds())


def _gauge(name: str, meaning: str, value: float) -> GaugeMetricFamily:
    return GaugeMetricFamily(f"nextmorning_{name}", meaning, value=value)
