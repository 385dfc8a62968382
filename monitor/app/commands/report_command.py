"""`report`: sums up a month, a season or some days."""

import time
from pathlib import Path

import click

from monitor.app.console.options import config_option, json_option, print_json


@click.command()
@click.option("--month", metavar="MONTH", default="", help="A month: 2026-10. Else the last whole month.")
@click.option("--season", metavar="YEAR", default="", help="A year: 2026.")
@click.option("--from", "since", metavar="DAY", default="", help="The first day: 2026-10-05, Oct 5.")
@click.option("--to", "until", metavar="DAY", default="", help="The last day, which counts whole; else today.")
@click.option(
    "--csv", "csv_file", metavar="FILE", type=click.Path(path_type=Path), help="Also write it for a spreadsheet."
)
@config_option
@json_option
def command(
    month: str, season: str, since: str, until: str, csv_file: Path | None, config_file: Path | None, as_json: bool
) -> int:
    """Sum up a month or a season: what came in, what became of it, who got it, and which days nobody looked.

    \b
    Examples:
      heaptender report
      heaptender report --month 2026-10 --csv october.csv
      heaptender report --season 2026
      heaptender report --from "Oct 5" --to "Oct 18"
    """  # fmt: skip
    from monitor.app.console.harmless import harmless  # noqa: PLC0415 (all of these, so that --help stays quick)
    from monitor.app.console.measures import Measures  # noqa: PLC0415
    from monitor.app.console.whole_files import whole_file  # noqa: PLC0415
    from monitor.app.reporting import (  # noqa: PLC0415
        asked_span,
        heading_of,
        report_csv,
        report_json,
        report_lines,
        report_of,
        report_sections,
    )
    from monitor.app.yard.in_force import load_or_in_force  # noqa: PLC0415
    from monitor.app.yard.yard_view import yard_view  # noqa: PLC0415
    from monitor.model.work_entry import is_us  # noqa: PLC0415

    configuration = load_or_in_force(config_file)
    settings, us = configuration.settings, is_us(configuration.settings)
    with yard_view(configuration) as view:
        now = max(time.time_ns() // 1_000_000, view.last or 0)
        span = asked_span(month, season, since, until, now, settings.site.time_zone)
        report = report_of(view.engine, view.store, configuration, span, now)
    if csv_file is not None:
        with whole_file(csv_file) as raw:
            raw.write(report_csv(report, us=us))
        click.echo(f"{csv_file} has the report for a spreadsheet.", err=True)
    if as_json:
        print_json(report_json(report))
        return 0
    measures = Measures(us, configuration.containers)
    for line in report_lines(heading_of(report, settings), report_sections(report, settings, measures)):
        click.echo(harmless(line))
    return 0
