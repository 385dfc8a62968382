"""`import`: takes recordings into the record and the engine; they start no alarm or notice."""

import time
from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from monitor.app.console.options import config_option, json_option, load_configuration, only_say_option, print_json
from monitor.app.console.progress_bar import progress_bar
from monitor.app.console.sheet_options import sheet_forms, sheet_options
from monitor.app.files.importing import Brought, Imported, asked, new_work, read_files, take_in
from monitor.configuration import Configuration
from monitor.model.errors import MisuseError


@click.command(name="import")
@click.argument("files", nargs=-1, type=click.Path(path_type=Path))
@click.option("--work", multiple=True, type=click.Path(path_type=Path), help="A work log in CSV; may be given again.")
@click.option("--again", is_flag=True, help="Take the work in as it is, without asking.")
@only_say_option
@sheet_options
@config_option
@json_option
def command(
    files: tuple[Path, ...],
    work: tuple[Path, ...],
    config_file: Path | None,
    as_json: bool,
    again: bool,
    only_say: bool,
    **given: Any,
) -> int:
    """Take recordings of readings and work into the record; they raise no alarm.

    Rows that the record has already are skipped. A probe that is not configured stops the whole import; wrong rows are left
    out and reported. If work looks like a slip, the command asks, naming the line, takes nothing in, and exits with 1; --again
    takes it as it is. It also exits with 1 if not a single row could be read.

    \b
    Examples:
      heaptender import last-summer.csv.gz --work last-summer-work.csv
      heaptender import dial.csv --dates day-first --column value=Temp --fill quantity=temperature --fill unit=F
    """
    if not files and not work:
        raise MisuseError("Name at least one file, such as `heaptender import readings.csv`.")
    configuration = load_configuration(config_file)
    forms, now = sheet_forms(given), time.time_ns() // 1_000_000
    with progress_bar("Reading") as show:
        brought = read_files(configuration, files, work, now, lambda rows: show(rows, 0), forms)
    questions = [] if again else asked(configuration, brought, now, forms)
    if questions and not only_say:
        return _ask(questions, as_json=as_json)
    if only_say:
        return _say_ahead(configuration, brought, questions, as_json=as_json)
    with progress_bar("Taking readings in") as show:
        imported = take_in(configuration, brought, show)
    for sentence in brought.sentences:
        click.echo(sentence, err=True)
    if brought.wrong > len(brought.sentences):
        click.echo(f"... and {brought.wrong - len(brought.sentences)} more rows that were wrong.", err=True)
    if as_json:
        print_json({"readings": len(brought.rows), **asdict(imported), "wrong": brought.wrong})
    else:
        click.echo(_words(brought, imported))
    return 1 if brought.wrong and not brought.rows and not brought.work else 0


def _ask(questions: list[str], *, as_json: bool) -> int:
    """Print the questions about the work; nothing is taken in."""
    if as_json:
        print_json({"questions": questions})
    for question in questions:
        click.echo(question, err=True)
    count = f"{len(questions)} {'question' if len(questions) == 1 else 'questions'}"
    click.echo(f"Nothing was taken in: {count}. If all of it is right, import it again with --again.", err=True)
    return 1


def _say_ahead(configuration: Configuration, brought: Brought, questions: list[str], *, as_json: bool) -> int:
    """Print what the files would bring and what would be asked; return 1 if anything would be, else 0."""
    new = new_work(configuration, brought.work)
    if as_json:
        counts = {"readings": len(brought.rows), "work": len(brought.work), "work_new": len(new)}
        print_json({**counts, "wrong": brought.wrong, "questions": questions})
        return 1 if questions else 0
    there = len(brought.work) - len(new)
    known = f" {there} of the work is in the record already." if there else ""
    wrong = f" Wrong and left out: {brought.wrong} {'row' if brought.wrong == 1 else 'rows'}." if brought.wrong else ""
    click.echo(f"Nothing was taken in. The files have {_count(len(brought.rows), len(brought.work))}.{known}{wrong}")
    for sentence in brought.sentences:
        click.echo(sentence)
    for question in questions:
        click.echo(f"You would be asked: {question}")
    return 1 if questions else 0


def _words(brought: Brought, imported: Imported) -> str:
    parts = [f"Taken in: {_count(imported.new, imported.work)}."]
    if imported.repeated or imported.work_repeated:
        parts.append(f"There already: {_count(imported.repeated, imported.work_repeated)}.")
    if imported.conflicts:
        parts.append(f"Set beside another value of the same instant: {_readings(imported.conflicts)}.")
    if brought.wrong:
        parts.append(f"Wrong and left out: {brought.wrong} {'row' if brought.wrong == 1 else 'rows'}.")
    return " ".join(parts)


def _count(readings: int, work: int) -> str:
    return f"{_readings(readings)} and {work} {'piece' if work == 1 else 'pieces'} of work"


def _readings(count: int) -> str:
    return f"{count} {'reading' if count == 1 else 'readings'}"
