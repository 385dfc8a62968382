"""`log list`: shows the entries, each with its number."""

import time
from typing import Any

import click

from monitor.app.console.harmless import harmless
from monitor.app.console.options import print_json
from monitor.app.console.refusals import ended, near
from monitor.app.console.time_words import parse_when
from monitor.app.entries.entries import allow
from monitor.app.entries.entry_lines import LINES, list_lines, list_rows
from monitor.app.entries.entry_log import entry_log
from monitor.app.entries.naming import place_meant
from monitor.configuration import Configuration
from monitor.journal import open_reader
from monitor.model.errors import MisuseError
from monitor.model.settings import YARD


def show_list(
    configuration: Configuration, where: str, rest: tuple[str, ...], given: dict[str, Any], *, as_json: bool
) -> int:
    """Show the entries of a place, or of all, in the order in which things were done.

    Args:
        configuration: The yard's configuration.
        where: Id or name of the place, `yard`, or "".
        rest: Further words typed, which are refused.
        given: The command's options by name.
        as_json: Whether to print JSON.

    Returns:
        The exit code, 0.

    Raises:
        MisuseError: There is no such place, or an option means nothing here.
    """
    settings = configuration.settings
    allow("list", given, ("since",))
    if rest:
        raise MisuseError(f'"{rest[0]}" does not go with "list"; name one place, and since when with --since.')
    place = place_meant(settings, where)
    places = [*settings.piles, *settings.bins, YARD]
    if place and place not in places:
        raise MisuseError(ended(f'there is no pile or bin "{place}"; {near(place, places)}'))
    now = time.time_ns() // 1_000_000
    since = None
    if given["since"] is not None:
        since = parse_when(given["since"], now, settings.site.time_zone, "--since")
    with open_reader(configuration.data) as store, store.view():
        found = [one for one in entry_log(store, [*settings.piles, *settings.bins]) if not place or one.is_of(place)]
        found.sort(key=lambda one: (one.time, one.number))
        wanted = found[-LINES:] if since is None else [one for one in found if one.time >= since]
        if as_json:
            for row in list_rows(store, settings, wanted):
                print_json(row)
            return 0
        lines = list_lines(store, settings, wanted, now)
    if since is None and len(wanted) < len(found):
        click.echo(f"({len(found) - len(wanted)} earlier are left out; --since shows them.)")
    click.echo("\n".join(map(harmless, lines)) if lines else "Nothing is written down.")
    return 0
