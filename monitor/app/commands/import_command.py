"""`import`: takes recordings in. They enter the record and the evaluator, and start no alarm or notice."""

from itertools import islice
from pathlib import Path

import click

from monitor.app.asking import ask
from monitor.app.options import config_option, json_option, load_configuration, print_json
from monitor.app.progress import progress_bar
from monitor.app.refusals import near, refusal
from monitor.configuration import Configuration
from monitor.model.errors import MisuseError
from monitor.model.events import EventKind
from monitor.recordings import Kind, Problems, ReadingRow, read_readings, read_work, sniff, work_payload

HELPING = 20_000
_SHOWN = 10


@click.command(name="import")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--work", multiple=True, type=click.Path(path_type=Path), help="A work log in CSV; may be given again.")
@config_option
@json_option
def command(files: tuple[Path, ...], work: tuple[Path, ...], config_file: Path | None, as_json: bool) -> None:
    """Take recordings of readings and work into the record; nobody is alarmed by them.

    \b
    Example:
      heaptender import last-summer.csv.gz --work last-summer-work.csv
    """
    configuration = load_configuration(config_file)
    rows: list[ReadingRow] = []
    entries = []
    sentences: list[str] = []
    for path in (*files, *work):
        sniffed = Problems()
        kind = sniff(path, sniffed)
        if kind is Kind.READINGS and path not in work:
            found, problems = read_readings(path)
            rows += found
        elif kind is Kind.WORK:
            logged, problems = read_work(path)
            entries += [work_payload(one) for one in logged]
        else:
            raise MisuseError(f"{path} is no recording of readings or work; it would be a CSV file with a header.")
        sentences += problems.sentences()
    _refuse_unknown(configuration, rows)
    if entries:
        wrong = refusal(EventKind.IMPORTED, {"work": entries}, configuration.settings)
        if wrong:
            raise MisuseError(f"The work log: {wrong}.")
        ask(configuration, EventKind.IMPORTED, {"work": entries})
    _take(configuration, rows)
    for sentence in sentences[:_SHOWN]:
        click.echo(sentence, err=True)
    if len(sentences) > _SHOWN:
        click.echo(f"... and {len(sentences) - _SHOWN} more rows that could not be read.", err=True)
    if as_json:
        print_json({"readings": len(rows), "work": len(entries), "wrong": len(sentences)})
    else:
        click.echo(f"Taken in: {len(rows)} readings and {len(entries)} pieces of work; {len(sentences)} rows were wrong. "
                   "What was there already was not taken twice.")  # fmt: skip


def _take(configuration: Configuration, rows: list[ReadingRow]) -> None:
    total = len(rows)
    with progress_bar("Taking readings in") as show:
        ordered = iter(sorted((row.time, row.probe, row.micro, row.unit) for row in rows))
        done = 0
        while helping := list(islice(ordered, HELPING)):
            ask(configuration, EventKind.IMPORTED, {"rows": [list(row) for row in helping]})
            done += len(helping)
            show(done, total)


def _refuse_unknown(configuration: Configuration, rows: list[ReadingRow]) -> None:
    probes = configuration.settings.probes
    for probe in sorted({row.probe for row in rows}):
        wrong = refusal(EventKind.IMPORTED, {"rows": [[0, probe, 0, ""]]}, configuration.settings)
        if wrong:
            raise MisuseError(
                f'The recording names a probe "{probe}" that is not in {configuration.source}; {near(probe, probes)} '
                "Nothing was taken in."
            )
