"""`stock`: shows what material the yard has, and what spoils first."""

import time
from pathlib import Path

import click

from monitor.app.console.options import config_option, json_option, print_json


@click.command()
@config_option
@json_option
def command(config_file: Path | None, as_json: bool) -> int:
    """Show what material the yard has: what came in, less what was used, the oldest used first.

    \b
    Examples:
      heaptender log delivery "stable litter" "400 kg" --from "the stable" --risk wormer
      heaptender log counted leaves "12 bags"
      heaptender stock
    """  # fmt: skip
    from monitor.app.console.harmless import harmless  # noqa: PLC0415 (so that --help stays quick)
    from monitor.app.console.measures import Measures  # noqa: PLC0415
    from monitor.app.stock import feedstocks_by_name, opened_material, stock_json, stock_lines  # noqa: PLC0415
    from monitor.app.yard.in_force import load_or_in_force  # noqa: PLC0415
    from monitor.model.work_entry import is_us  # noqa: PLC0415

    configuration = load_or_in_force(config_file)
    with opened_material(configuration) as opened:
        if as_json:
            print_json(stock_json(opened.record, feedstocks_by_name()))
            return 0
        measures = Measures(is_us(configuration.settings), configuration.containers)
        now = time.time_ns() // 1_000_000
        for line in stock_lines(opened.record, feedstocks_by_name(), measures, now):
            click.echo(harmless(line))
    return 0
