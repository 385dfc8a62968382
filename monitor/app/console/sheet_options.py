"""Options that say how a spreadsheet is written, for every command that reads CSV."""

from collections.abc import Callable, Iterable, Mapping
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

import click

from monitor.app.console.refusals import ended, near
from monitor.model.errors import MisuseError
from monitor.recordings import COLUMNS, DateOrder, Kind, SheetForms

F = TypeVar("F", bound=Callable[..., Any])
_OURS = tuple(dict.fromkeys(name for columns in COLUMNS.values() for name in columns))


def sheet_options(command: F) -> F:
    """Add the options to a command; `sheet_forms` reads their values."""
    options = (
        click.option("--time-zone", metavar="ZONE", help="Zone of times in CSV without one, such as Europe/Berlin."),
        click.option(
            "--dates",
            type=click.Choice([order.value for order in DateOrder]),  # given the members, click would take their names
            help="Order of dates such as 6/1/2026, if the CSV leaves it open.",
        ),
        click.option(
            "--column",
            multiple=True,
            metavar="[FILE:]OURS=THEIRS",
            help='Name of a column in the CSV: value="Temp 1"; for one kind of file only: work:time=Date.',
        ),
        click.option(
            "--fill",
            multiple=True,
            metavar="[FILE:]OURS=VALUE",
            help="Value of a column that the CSV lacks: unit=F; for one kind of file only: readings:probe=a.",
        ),
    )
    for option in reversed(options):
        command = option(command)
    return command


def sheet_forms(given: Mapping[str, Any]) -> SheetForms:
    """Return how the CSV files are written, from a command's options by click's names.

    Raises:
        MisuseError: A time zone or a column is unknown, or a column is named twice.
    """
    zone = given["time_zone"] or ""
    if zone:
        try:
            ZoneInfo(zone)
        except (ValueError, KeyError, OSError) as fault:
            raise MisuseError(f'--time-zone: there is no zone "{zone}"; write one such as Europe/Berlin.') from fault
    columns, fills = _pairs("--column", given["column"]), _pairs("--fill", given["fill"])
    nothing: dict[str, str] = {}
    return SheetForms(
        time_zone=zone,
        order=DateOrder(given["dates"]) if given["dates"] else None,
        columns=columns.pop("", nothing),
        fills=fills.pop("", nothing),
        of_kind={
            kind: SheetForms(columns=columns.get(kind, nothing), fills=fills.get(kind, nothing))
            for kind in (*columns, *fills)
        },
    )


def _pairs(option: str, texts: Iterable[str]) -> dict[str, dict[str, str]]:
    """Return the pairs of an option by the kind of files that they apply to; "" stands for all kinds."""
    found: dict[str, dict[str, str]] = {}
    for text in texts:
        named, equals, theirs = text.partition("=")
        kind, colon, ours = named.strip().lower().rpartition(":")
        kind, ours = kind.strip(), ours.strip()
        if not equals or not theirs.strip():
            raise MisuseError(f'{option}: "{text}" names no pair; write {option} value="Temp 1".')
        if colon and kind not in COLUMNS:
            raise MisuseError(ended(f'{option}: "{kind}" is no kind of files; {near(kind, [*COLUMNS])}'))
        known = COLUMNS[Kind(kind)] if kind else _OURS
        if ours not in known:
            files = f"files of {kind}" if kind else "recordings"
            raise MisuseError(ended(f'{option}: {files} have no column "{ours}"; {near(ours, known)}'))
        said = found.setdefault(kind, {})
        if said.get(ours, theirs.strip()) != theirs.strip():
            one_file = f"{option} {_kind_of(ours)}:{ours}={theirs.strip()}"
            raise MisuseError(
                f'{option}: column "{ours}" is named twice ({said[ours]}, {theirs.strip()}); where two files differ, say '
                f"which is meant, such as {one_file}."
            )
        said[ours] = theirs.strip()
    return found


def _kind_of(ours: str) -> Kind:
    """Return the first kind of files that has a column."""
    return next(kind for kind, columns in COLUMNS.items() if ours in columns)
