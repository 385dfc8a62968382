"""`unpack`: puts a packed yard in place on this computer."""

import time
from pathlib import Path
from zoneinfo import ZoneInfo

import click

from monitor.app.console.options import json_option, load_configuration, print_json
from monitor.model.errors import MonitorError
from monitor.model.times import show_time


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.argument("folder", type=click.Path(path_type=Path), default=Path())
@json_option
def command(file: Path, folder: Path, as_json: bool) -> int:
    """Put a yard that `heaptender pack` packed in place: the configuration in FOLDER (else here), all else where it belongs.

    Everything in it is checked first, and nothing that is there already is changed.

    \b
    Example:
      heaptender unpack tern-hollow.yard yard
    """
    from monitor.app.upkeep.yard_archive import Unpacked, unpack  # noqa: PLC0415 (so that --help stays quick)

    done: Unpacked = unpack(file, folder)
    until = done.record.until if done.record is not None else None
    trouble = _trouble(done.configuration)
    if as_json:
        print_json(
            {
                "site": done.site,
                "packed": done.made,
                "configuration": str(done.configuration),
                "data": str(done.data),
                "until": None if until is None else show_time(until),
                "elsewhere": [{"lies": str(lies), "belongs": belongs} for lies, belongs in done.elsewhere],
                "trouble": trouble,
            }
        )
        return 1 if trouble else 0
    click.echo(f"{done.site} is in {done.configuration.parent.absolute()}; {_record_words(until, done.configuration)}")
    for lies, belongs in done.elsewhere:
        click.echo(f"{lies} belongs to {belongs}: put it there, or change the configuration.")
    if trouble:
        click.echo(f"The configuration cannot be used here yet: {trouble}")
        return 1
    click.echo(f"Start it: heaptender run --config {done.configuration} (and the daemon on the old computer no more).")
    return 0


def _record_words(until: int | None, configuration: Path) -> str:
    if until is None:
        return "its record is empty."
    from monitor.notices import say_time  # noqa: PLC0415 (so that --help stays quick)

    try:
        zone = ZoneInfo(load_configuration(configuration).settings.site.time_zone)
    except MonitorError:
        zone = ZoneInfo("UTC")
    return f"its record was checked, and ends {say_time(until, time.time_ns() // 1_000_000, zone)}."


def _trouble(configuration: Path) -> str:
    """Return why the configuration cannot be used here, or ""."""
    try:
        load_configuration(configuration)
    except MonitorError as fault:
        return str(fault)
    return ""
