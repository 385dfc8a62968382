"""Reads many yards for one table: each yard's row from its record, or rows from tables that were written earlier.

Rules: a yard is read by itself, here or on any worker that sees the same folder, so one that cannot be read is one row less
and stops nothing. Tables that were written earlier must be of the days that are asked for.
"""

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from monitor.app.console.options import load_configuration
from monitor.app.reporting.asked_span import asked_span
from monitor.app.reporting.gathering_report import report_of
from monitor.app.reporting.yards_table import read_rows
from monitor.app.yard.yard_view import yard_view
from monitor.configuration import Configuration
from monitor.model.errors import MisuseError, MonitorError
from monitor.model.work_entry import is_us
from monitor.recordings import is_parquet
from monitor.reports import Report, Unread, YardRow, Yards, all_yards, yard_row

FILE = "heaptender.toml"


@dataclass(frozen=True, slots=True)
class Days:
    """The days that a person asked for, as typed; each yard counts them by its own time zone."""

    month: str
    season: str
    since: str
    until: str


def report_of_yard(configuration: Configuration, days: Days) -> Report:
    """Return the report of a yard.

    Args:
        configuration: The yard's configuration.
        days: The days.

    Raises:
        MisuseError: The days are none.
        UnavailableError: There is no record, or it cannot be read.
    """
    with yard_view(configuration) as view:
        now = max(time.time_ns() // 1_000_000, view.last or 0)
        zone = configuration.settings.site.time_zone
        span = asked_span(days.month, days.season, days.since, days.until, now, zone)
        return report_of(view.engine, view.store, configuration, span, now)


def named(configuration: Configuration) -> str:
    """Return the name of a yard in a table: its own, or that of its folder."""
    folder = configuration.source.resolve().parent if configuration.source is not None else configuration.data
    return configuration.settings.site.name or folder.name


def rows_at(path: Path, days: Days) -> list[YardRow | Unread]:
    """Return the rows behind a path; module level, so that any worker finds it.

    Args:
        path: A yard's folder or its configuration, or a table of rows.
        days: The days.
    """
    try:
        if is_parquet(path):
            return [_of_these(row, path, days) for row in read_rows(path)]
        configuration = load_configuration(path / FILE if path.is_dir() else path)
        report = report_of_yard(configuration, days)
        return [yard_row(report, named(configuration), us=is_us(configuration.settings))]
    except MonitorError as fault:
        return [Unread(str(path), " ".join(str(fault).split()))]


def _of_these(row: YardRow, path: Path, days: Days) -> YardRow | Unread:
    now = time.time_ns() // 1_000_000
    span = asked_span(days.month, days.season, days.since, days.until, now, row.time_zone)
    if (row.first, row.last) == (span.first, span.last):
        return row
    return Unread(f"{row.yard} in {path}", f"It is of {row.first} to {row.last}, not of {span.first} to {span.last}.")


def read_yards(
    paths: Sequence[Path],
    days: Days,
    spread: Callable[..., Iterator[Any]],
    progress: Callable[[int, int], None] | None = None,
) -> Yards:
    """Read many yards.

    Args:
        paths: Folders, configurations, and tables of rows.
        days: The days.
        spread: Does the work, as `map` does.
        progress: Receives (paths done, paths in all).

    Returns:
        The yards in the order of the paths, and all of them together.

    Raises:
        MisuseError: The days are none, or no yard could be read.
    """
    asked_span(days.month, days.season, days.since, days.until, time.time_ns() // 1_000_000, "UTC")
    found: list[YardRow | Unread] = []
    whole = [path.absolute() for path in paths]
    for number, rows in enumerate(spread(rows_at, whole, [days] * len(whole)), 1):
        found += rows
        if progress is not None:
            progress(number, len(whole))
    try:
        return all_yards(found)
    except ValueError:
        first = next((f" {one.yard}: {one.why}" for one in found if isinstance(one, Unread)), "")
        raise MisuseError(f"None of these yards can be read.{first}") from None
