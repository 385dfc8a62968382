"""Options that say how a spreadsheet is written; every command that reads CSV has them."""

from collections.abc import Callable, Iterable, Mapping
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

import click

from monitor.app.console.refusals import ended, near
from monitor.model.errors import MisuseError
from monitor.recordings import COLUMNS, DateOrder, SheetForms

F = TypeVar("F", bound=Callable[..., Any])
_OURS = tuple(dict.fromkeys(name for columns in COLUMNS.values() for name in columns))
_TAKEN = ("time_zone", "dates", "column", "fill")


def sheet_options(command: F) -> F:
    """Give a command the options; `sheet_forms` reads what was given."""
    options = (
        click.option("--time-zone", metavar="ZONE", help="Zone of times in CSV that name none, such as Europe/Berlin."),
        click.option(
            "--dates",
            type=click.Choice([order.value for order in DateOrder]),  # of the members click takes the names
            help="Order of dates such as 6/1/2026, where CSV leaves it open.",
        ),
        click.option(
            "--column", multiple=True, metavar="OURS=THEIRS", help='A column by its own name: value="Temp 1".'
        ),
        click.option(
            "--fill", multiple=True, metavar="OURS=VALUE", help="What a column that CSV lacks would hold: unit=F."
        ),
    )
    for option in reversed(options):
        command = option(command)
    return command


def sheet_forms(given: Mapping[str, Any]) -> SheetForms:
    """Return what was said of CSV files; the options are named as click names them.

    Raises:
        MisuseError: A zone or a column is none.
    """
    zone = given["time_zone"] or ""
    if zone:
        try:
            ZoneInfo(zone)
        except (ValueError, KeyError, OSError) as fault:
            raise MisuseError(f'--time-zone: there is no zone "{zone}"; write one such as Europe/Berlin.') from fault
    return SheetForms(
        time_zone=zone,
        order=DateOrder(given["dates"]) if given["dates"] else None,
        columns=_pairs("--column", given["column"]),
        fills=_pairs("--fill", given["fill"]),
    )


def without_forms(given: Mapping[str, Any]) -> dict[str, Any]:
    """Return what was given besides."""
    return {name: value for name, value in given.items() if name not in _TAKEN}


def _pairs(option: str, texts: Iterable[str]) -> dict[str, str]:
    found = {}
    for text in texts:
        ours, equals, theirs = text.partition("=")
        ours = ours.strip().lower()
        if not equals or not theirs.strip():
            raise MisuseError(f'{option}: "{text}" names no pair; write {option} value="Temp 1".')
        if ours not in _OURS:
            raise MisuseError(ended(f'{option}: recordings have no column "{ours}"; {near(ours, _OURS)}'))
        found[ours] = theirs.strip()
    return found
