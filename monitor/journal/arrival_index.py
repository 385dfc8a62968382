"""Spans: each names a stretch of engine time and the range of own times of the rows that arrived in it.

An event's rows are found by their `at`, and no index on `at` is kept (it would cost more than the reading). Instead a
table of one line per few thousand rows says where to look. Rules: spans follow one another in `at`, never cross a UTC
day, hold at most `SPAN_ROWS` rows unless one event alone has more, and never mix live with late data, so that one old
reading does not make a whole stretch hard to find.
"""

import sqlite3
from dataclasses import dataclass

from monitor.journal.event_bytes import day_of
from monitor.model.times import HOUR_MS

SPAN_ROWS = 4_096
SPAN_MS = 6 * HOUR_MS
LATE_MS = HOUR_MS
"""Rows further than this from their arrival stand in spans of their own."""


@dataclass(slots=True)
class Span:
    """Rows of the events with first_at <= at <= last_at have time_min <= time <= time_max."""

    first_at: int
    last_at: int
    time_min: int
    time_max: int
    rows: int

    def late(self) -> bool:
        """Return whether some of its rows arrived long after their own time."""
        return self.time_min < self.first_at - LATE_MS


class SpanKeeper:
    """Extends the newest span or begins the next, inside the writer's transactions."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self._span: Span | None = None
        self.reload()

    def reload(self) -> None:
        """Read the newest span again, after a rollback."""
        row = self._connection.execute("SELECT * FROM span ORDER BY first_at DESC LIMIT 1").fetchone()
        self._span = Span(*row) if row else None

    def note(self, at: int, time_min: int, time_max: int, rows: int) -> None:
        """Enter the rows of the event `at`.

        Args:
            at: Instant of the event, UTC ms; later than that of every event before.
            time_min: Earliest own time of its rows, UTC ms.
            time_max: Latest own time of its rows, UTC ms.
            rows: How many rows the event brought, at least one.
        """
        span, fresh = self._span, Span(at, at, time_min, time_max, rows)
        if span is not None and self._joins(span, fresh):
            span.last_at = at
            span.time_min = min(span.time_min, time_min)
            span.time_max = max(span.time_max, time_max)
            span.rows += rows
        else:
            span = self._span = fresh
        self._connection.execute(
            "INSERT OR REPLACE INTO span VALUES (?, ?, ?, ?, ?)",
            (span.first_at, span.last_at, span.time_min, span.time_max, span.rows),
        )

    @staticmethod
    def _joins(span: Span, fresh: Span) -> bool:
        return (
            span.rows + fresh.rows <= SPAN_ROWS
            and fresh.last_at - span.first_at <= SPAN_MS
            and day_of(fresh.first_at) == day_of(span.first_at)
            and fresh.late() == span.late()
        )
