"""`log rounds FILE`: takes a whole sheet of a round in at once; a line that is refused or asked about keeps no other back."""

import time
from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Any

import click

from monitor.app.console.harmless import harmless
from monitor.app.console.options import print_json
from monitor.app.console.time_words import parse_when
from monitor.app.entries.entries import allow
from monitor.app.entries.entry_log import entry_log, number_of
from monitor.app.entries.hand_entries import hand_meaning, taken_back
from monitor.app.entries.round_file import empty_sheet, read_sheet, sheet_id
from monitor.app.loop.asking import Asking, asking
from monitor.app.yard.effect_words import local_time
from monitor.configuration import Configuration
from monitor.journal import open_reader
from monitor.model.errors import MisuseError
from monitor.model.hand_words import ANOTHER_STANDS
from monitor.model.round_sheet import Answer, SheetEntry, SheetMaker, SheetOutcome, Waiting, put_sheet
from monitor.model.times import show_time

_OPTIONS = ("at", "by", "with", "again")


def take_rounds(configuration: Configuration, file: str, given: Mapping[str, Any], *, as_json: bool) -> int:
    """Take in a round's sheet, or print the empty one if no file is named; return 1 if a line waits, else 0.

    Args:
        configuration: The yard's configuration.
        file: The CSV file, "" for none.
        given: The command's options by name.
        as_json: Whether JSON is printed instead of sentences.

    Raises:
        MisuseError: The file is no sheet, or an option does not go with it.
        UnavailableError: The file cannot be read, or the disk fails; lines taken so far stay, and a second try skips them.
    """
    allow("rounds", given, _OPTIONS)
    settings, now = configuration.settings, time.time_ns() // 1_000_000
    if not file:
        click.echo(empty_sheet(settings), nl=False)
        return 0

    def when(text: str) -> int:
        at = parse_when(text, now, settings.site.time_zone, "time")
        if at > now:
            raise MisuseError(f'"{text}" lies in the future; only what was read can be written down.')
        return at

    usual = (when(given["at"]) if given["at"] else None, given["by"] or "")
    lines, unclear = read_sheet(Path(file), settings, when, usual, again=bool(given["again"]))
    first = min((line.at for line in lines), default=now)
    maker = SheetMaker(
        settings=settings,
        told={"with": given["with"] or ""},
        withdrawn=lambda place, spots: taken_back(configuration, place, spots, first),
        entry_id=sheet_id,
    )
    with asking(configuration) as session:
        outcome = put_sheet(maker, lines, partial(_put, session, now))
    outcome.waiting = sorted([*outcome.waiting, *unclear], key=lambda one: one.line.number)
    if not outcome.taken and not outcome.waiting:
        raise MisuseError(f"Nothing was read on {file}: no line has a value, a squeeze or a smell.")
    _tell(configuration, file, outcome, now, as_json=as_json)
    return 1 if outcome.waiting else 0


def _put(session: Asking, begun: int, entry: SheetEntry) -> Answer:
    try:
        taken = session.ask(entry.kind, entry.payload, again=entry.again)
    except MisuseError as fault:
        return Answer(refusal=str(fault))
    if taken.question:
        return Answer(question=taken.question)
    known = "It was written down already." if taken.at is None or taken.at < begun else ""
    return Answer(taken.at, remark=ANOTHER_STANDS if taken.conflicts and not taken.new else known)


def _tell(configuration: Configuration, file: str, outcome: SheetOutcome, now: int, *, as_json: bool) -> None:
    settings = configuration.settings
    with open_reader(configuration.data) as store:
        entries = entry_log(store, [*settings.piles, *settings.bins])
    numbers = [None if answer.at is None else number_of(entries, answer.at) for _, answer in outcome.taken]
    if as_json:
        taken = [
            {
                "at": None if answer.at is None else show_time(answer.at),
                "number": number,
                "lines": [line.number for line in entry.lines],
                "kind": entry.kind.value,
                "payload": entry.payload,
            }
            for (entry, answer), number in zip(outcome.taken, numbers, strict=True)
        ]
        waiting = [{"line": one.line.number, "why": one.why, "question": one.asked} for one in outcome.waiting]
        print_json({"taken": taken, "waiting": waiting})
        return
    for (entry, answer), number in zip(outcome.taken, numbers, strict=True):
        meant = hand_meaning(settings, entry.payload, now) if entry.values else ""
        head = f"Written down as {number}" if number is not None else "Written down"
        said = f"{head}: {entry.words}, {local_time(entry.lines[0].at, settings)}."
        click.echo(harmless(" ".join(filter(None, (said, answer.remark, meant)))))
    for one in outcome.waiting:
        click.echo(harmless(f"Not written down: {_named(configuration, one)}: {one.why}"), err=True)
    if outcome.waiting:
        asked = sum(one.asked for one in outcome.waiting)
        yes = f" If what was asked is right, `heaptender log rounds {file} --again` takes it." if asked else ""
        lines = len({one.line.number for one in outcome.waiting})
        count = "1 line waits" if lines == 1 else f"{lines} lines wait"
        click.echo(f"{count}. Put it right in the file and send the file again: what is in stays once.{yes}", err=True)


def _named(configuration: Configuration, one: Waiting) -> str:
    place = configuration.settings.place_name(one.line.place) or one.line.place
    return f"line {one.line.number}, {place}{f' at {one.line.spot}' if one.line.spot else ''}"
