"""The only place that asks the time. `SystemClock` for service, `SteppedClock` for tests and
rehearsal. Everything else is handed `now`."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta


class SystemClock:
    """The machine's clock, in UTC."""

    def now(self) -> datetime:
        """The present instant."""
        return datetime.now(UTC)


class SteppedClock:
    """A clock that moves only when told to. It never goes back."""

    def __init__(self, start: datetime) -> None:
        self._now = start.astimezone(UTC)

    def now(self) -> datetime:
        """The instant it stands at."""
        return self._now

    def move_to(self, instant: datetime) -> None:
        """Go to an instant; one in the past is ignored."""
        self._now = max(self._now, instant.astimezone(UTC))

    def move_by(self, span: timedelta) -> None:
        """Go forward by a span."""
        self.move_to(self._now + span)
