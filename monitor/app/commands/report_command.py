"""`report`: sums up a month, a season or some days, of one yard or of many."""

from pathlib import Path
from typing import Any

import click

from monitor.app.console.options import config_option, json_option, print_json


@click.command()
@click.argument("yards", nargs=-1, type=click.Path(path_type=Path))
@click.option("--month", metavar="MONTH", default="", help="A month: 2026-10. Else the last whole month.")
@click.option("--season", metavar="YEAR", default="", help="A year: 2026.")
@click.option("--from", "since", metavar="DAY", default="", help="The first day: 2026-10-05, Oct 5.")
@click.option("--to", "until", metavar="DAY", default="", help="The last day, which counts whole; else today.")
@click.option(
    "--csv", "csv_file", metavar="FILE", type=click.Path(path_type=Path), help="Also write it for a spreadsheet."
)
@click.option(
    "--parquet",
    "parquet_file",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Also write a row for each yard, to be put together with those of others.",
)
@click.option("--workers", type=click.IntRange(1, 512), help="With YARDS: number of processes; else one per core.")
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help="With YARDS: have the workers of a Dask scheduler read them from their folders.",
)
@config_option
@json_option
def command(yards: tuple[Path, ...], config_file: Path | None, as_json: bool, **given: Any) -> int:
    """Sum up a month or a season: what came in, what became of it, who got it, and which days nobody looked.

    With YARDS it is one table with a row for each: folders with a heaptender.toml, configurations, or files of rows that
    --parquet wrote. What a yard does not know is in no sum, and said. Exits with 1 if a yard cannot be read.

    \b
    Examples:
      heaptender report
      heaptender report --month 2026-10 --csv october.csv
      heaptender report --season 2026
      heaptender report --from "Oct 5" --to "Oct 18"
      heaptender report --season 2026 /srv/yards/*
    """  # fmt: skip
    from monitor.app.reporting import Days  # noqa: PLC0415 (all of these, so that --help stays quick)
    from monitor.model.errors import MisuseError  # noqa: PLC0415

    days = Days(given["month"], given["season"], given["since"], given["until"])
    if yards:
        if config_file is not None:
            raise MisuseError("--config names one yard and YARDS many; name it among them, or leave the others out.")
        return _many(yards, days, given, as_json=as_json)
    if given["workers"] or given["cluster"]:
        raise MisuseError("--workers and --cluster are for many yards; name their folders.")
    return _one(config_file, days, given, as_json=as_json)


def _one(config_file: Path | None, days: Any, given: dict[str, Any], *, as_json: bool) -> int:
    from monitor.app.console.measures import Measures  # noqa: PLC0415 (as above)
    from monitor.app.reporting import (  # noqa: PLC0415
        heading_of,
        named,
        report_csv,
        report_json,
        report_of_yard,
        report_sections,
        write_rows,
    )
    from monitor.app.yard.in_force import load_or_in_force  # noqa: PLC0415
    from monitor.model.work_entry import is_us  # noqa: PLC0415
    from monitor.reports import yard_row  # noqa: PLC0415

    configuration = load_or_in_force(config_file)
    settings, us = configuration.settings, is_us(configuration.settings)
    report = report_of_yard(configuration, days)
    _write(given["csv_file"], lambda raw: raw.write(report_csv(report, us=us)), "the report for a spreadsheet")
    row = yard_row(report, named(configuration), us=us)
    _write(given["parquet_file"], lambda raw: write_rows([row], raw), "the yard's row")
    if as_json:
        print_json(report_json(report))
    else:
        measures = Measures(us, configuration.containers)
        _print(heading_of(report, settings), report_sections(report, settings, measures))
    return 0


def _many(yards: tuple[Path, ...], days: Any, given: dict[str, Any], *, as_json: bool) -> int:
    from monitor.app.cluster import cores, spread_over  # noqa: PLC0415 (as above)
    from monitor.app.console.progress_bar import progress_bar  # noqa: PLC0415
    from monitor.app.reporting import (  # noqa: PLC0415
        read_yards,
        rows_csv,
        write_rows,
        yards_heading,
        yards_json,
        yards_sections,
    )

    count = min(given["workers"] or cores(), len(yards))
    with spread_over(given["cluster"], count) as spread, progress_bar("Reading the yards") as show:
        found = read_yards(yards, days, spread, show)
    _write(given["csv_file"], lambda raw: raw.write(rows_csv(found.rows)), "the rows for a spreadsheet")
    _write(given["parquet_file"], lambda raw: write_rows(found.rows, raw), "the yards' rows")
    if as_json:
        print_json(yards_json(found))
    else:
        _print(yards_heading(found), yards_sections(found))
    return 1 if found.unread else 0


def _print(heading: str, sections: Any) -> None:
    from monitor.app.console.harmless import harmless  # noqa: PLC0415 (as above)
    from monitor.app.reporting import report_lines  # noqa: PLC0415

    for line in report_lines(heading, sections):
        click.echo(harmless(line))


def _write(path: Path | None, write: Any, what: str) -> None:
    from monitor.app.console.whole_files import whole_file  # noqa: PLC0415 (as above)

    if path is None:
        return
    with whole_file(path) as raw:
        write(raw)
    click.echo(f"{path} has {what}.", err=True)
