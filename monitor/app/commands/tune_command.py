"""`tune`: tries thresholds on a recording, compares them with people's labels, and says which serve best."""

from collections.abc import Mapping
from contextlib import AbstractContextManager, nullcontext
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import click

from monitor.app.console.options import config_option, configuration_path, json_option, load_configuration, print_json
from monitor.app.console.progress_bar import progress_bar
from monitor.app.console.sheet_options import sheet_forms, sheet_options
from monitor.model.errors import MisuseError, MonitorError
from monitor.model.times import parse_duration

if TYPE_CHECKING:
    from monitor.app.cluster import Cluster
    from monitor.app.tuning_report.tuning_answer import Report
    from monitor.app.tuning_run.tuning_record import Material

MOST_SETS = 100_000


@click.command()
@click.argument("files", nargs=-1, type=click.Path(path_type=Path))
@click.option(
    "--place",
    metavar="PLACE",
    help="The pile or bin to tune; needless if there is only one, or only one is labelled or stands in --vary.",
)
@click.option(
    "--vary",
    "texts",
    multiple=True,
    metavar="KEY=LOW..HIGH:STEP",
    help="A threshold and its range; may be given again.",
)
@click.option("--labels", multiple=True, type=click.Path(path_type=Path), help="Labels in CSV; else those of `label`.")
@click.option("--work", multiple=True, type=click.Path(path_type=Path), help="A work log in CSV; may be given again.")
@click.option(
    "--sets",
    "wanted",
    type=click.IntRange(1, MOST_SETS),
    default=500,
    show_default=True,
    help="How many settings to try at most.",
)
@click.option(
    "--early",
    default="24h",
    show_default=True,
    metavar="SPAN",
    help="How long before a trouble a message still counts as a warning.",
)
@click.option(
    "--late", default="6h", show_default=True, metavar="SPAN", help="How long after its start a message still helps."
)
@click.option(
    "--worth",
    type=click.IntRange(0, 10_000),
    default=10,
    show_default=True,
    help="Needless messages that are as bad as one missed trouble.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help="The report with its pictures: a file ending in .html or .svg, or a folder.",
)
@click.option("--write", is_flag=True, help="Put the suggested values (or those of --take) into the configuration.")
@click.option("--take", type=click.IntRange(1), metavar="N", help="With --write: the values of row N.")
@click.option("--yes", is_flag=True, help="With --write: do not ask.")
@click.option("--seed", type=int, default=1, show_default=True, help="Seed of the random draws of settings and spread.")
@click.option(
    "--workers",
    type=click.IntRange(1, 512),
    help="Number of processes; else one per core. The answer is the same.",
)
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Have the workers of a Dask scheduler do the work. The answer is the same.",
)
@sheet_options
@config_option
@json_option
def command(files: tuple[Path, ...], config_file: Path | None, as_json: bool, **given: Any) -> int:
    """Try other thresholds on a recording, and say which would have served best.

    FILES are recordings in CSV (readings, work, labels) or one record made by `export events`; without any, the yard's own
    record is taken. With five or more troubles labelled (`heaptender label`), settings are chosen on some weeks and
    checked on the others; with fewer, the messages are only counted. Nothing is changed without --write.

    \b
    Examples:
      heaptender tune --vary bins.b1.overheating="80..90 degF:0.5" --vary bins.b1.overheating_dwell=5..60m:5 --out b1.html
      heaptender tune summer.csv.gz labels.csv --place b1
      heaptender tune --place b1 --write
    """
    from monitor.app.cluster import cores  # noqa: PLC0415
    from monitor.app.tuning_report.tuning_answer import Report  # noqa: PLC0415 (loads numpy and the engine)
    from monitor.app.tuning_run.tuning_job import Asked, tune, usual_ranges  # noqa: PLC0415
    from monitor.app.tuning_run.tuning_record import gather  # noqa: PLC0415
    from monitor.app.tuning_run.tuning_write import refuse_unasked  # noqa: PLC0415
    from monitor.configuration import place_named, read_range  # noqa: PLC0415
    from monitor.tuning import Window, ground_of  # noqa: PLC0415

    if given["take"] and not given["write"]:
        raise MisuseError("--take goes with --write.")
    if given["write"]:
        refuse_unasked(given["yes"])
    out = _target(given["out"])
    asked = Asked(
        wanted=given["wanted"],
        seed=given["seed"],
        worth=given["worth"],
        window=Window(early_ms=_span(given["early"], "--early"), late_ms=_span(given["late"], "--late")),
        workers=given["workers"] or cores(),
    )
    if given["cluster"] and given["workers"]:
        raise MisuseError("--workers is for this computer alone; a cluster has as many as were started for it.")
    place = given["place"] or next(filter(None, map(place_named, given["texts"])), None)
    forms = sheet_forms(given)
    with _cluster(given["cluster"]) as cluster:
        material = gather(files, given["work"], given["labels"], place, lambda: load_configuration(config_file), forms)
        _tell_problems(material, given["write"])
        ranges = [read_range(text, material.whole, material.place) for text in given["texts"]]
        if not ranges:
            ground = ground_of(material.stretches, material.place, material.start, material.end)
            ranges = usual_ranges(material, ground)
        with progress_bar("Trying") as show:
            done = tune(material, ranges, replace(asked, cluster=cluster), show)
    report = Report(done, material.settings, asked.worth, ZoneInfo(material.settings.site.time_zone))
    if as_json:
        print_json(report.plain())
    else:
        for line in report.lines():
            click.echo(line)
    if out is not None:
        click.echo(f"The report is in {report.write(out, _cuts(config_file))}.", err=True)
    for sentence in material.mislabelled:
        click.echo(f"Mind what stands above: {sentence}", err=True)
    return _write(report, config_file, given["take"], yes=given["yes"]) if given["write"] else 0


def _write(report: "Report", config_file: Path | None, take: int | None, *, yes: bool) -> int:
    from monitor.app.tuning_run.tuning_write import write_values  # noqa: PLC0415

    values = report.chosen(take)
    if values is None:
        click.echo("There is nothing to write. --take N writes row N all the same.", err=True)
        return 1
    path = configuration_path(config_file)
    texts = {one.path: one.text(value) for one, value in zip(report.done.ranges, values, strict=True)}
    return 0 if write_values(path, texts, yes=yes) else 1


def _cluster(address: str | None) -> "AbstractContextManager[Cluster | None]":
    from monitor.app.cluster import at_cluster  # noqa: PLC0415

    return at_cluster(address) if address else nullcontext()


def _tell_problems(material: "Material", writing: bool) -> None:
    """Print what could not be read, and refuse to write values that rest on half of the labels."""
    for sentence in (*material.problems, *material.mislabelled):
        click.echo(sentence, err=True)
    if material.mislabelled and writing:
        raise MisuseError("Labels that could not be taken would change the answer; put them right before --write.")


def _span(text: str, option: str) -> int:
    try:
        return parse_duration(text)
    except ValueError as fault:
        raise MisuseError(f"{option}: {fault}.") from fault


def _cuts(config_file: Path | None) -> Mapping[str, bytes]:
    """Return the cuts of the typeface that the yard's page has made, for the report; {} if there are none."""
    from monitor.typeface import KeptCuts  # noqa: PLC0415

    try:
        return KeptCuts(load_configuration(config_file).data / "typeface").found()
    except MonitorError:  # a record in files needs no yard
        return {}


def _target(out: Path | None) -> Path | None:
    """Refuse a bad target at once, not after minutes of work."""
    if out is None:
        return None
    if not out.is_dir() and out.suffix.lower() not in {".html", ".svg"} and out.suffix:
        raise MisuseError(f"--out {out}: a report is a file ending in .html or .svg, or a folder.")
    if out.exists() and not out.is_dir() and not out.is_file():
        raise MisuseError(f"--out {out}: that is neither a file nor a folder.")
    return out
