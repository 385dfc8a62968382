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
from monitor.app.entries.entries import Entry, allow
from monitor.app.entries.entry_log import entry_log, number_of
from monitor.app.entries.foretelling import foretell
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


def take_rounds(
    configuration: Configuration, file: str, given: Mapping[str, Any], *, as_json: bool, only_say: bool = False
) -> int:
    """Take in a round's sheet, or print the empty one if no file is named; return 1 if a line waits, else 0.

    Args:
        configuration: The yard's configuration.
        file: The CSV file, "" for none.
        given: The command's options by name.
        as_json: Whether JSON is printed instead of sentences.
        only_say: Whether nothing is taken in, and the answer says what would be.

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
    if only_say:
        outcome = put_sheet(maker, lines, partial(_foretold, configuration, now))
    else:
        with asking(configuration) as session:
            outcome = put_sheet(maker, lines, partial(_put, session, now))
    outcome.waiting = sorted([*outcome.waiting, *unclear], key=lambda one: one.line.number)
    if not outcome.taken and not outcome.waiting:
        raise MisuseError(f"Nothing was read on {file}: no line has a value, a squeeze or a smell.")
    if only_say:
        _tell_ahead(configuration, outcome, now, as_json=as_json)
    else:
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


def _foretold(configuration: Configuration, now: int, entry: SheetEntry) -> Answer:
    event = Entry(entry.kind, entry.payload, entry.lines[0].at, entry.words)
    try:
        return Answer(question=foretell(configuration, event, now, again=entry.again).question)
    except MisuseError as fault:
        return Answer(refusal=str(fault))


def _tell_ahead(configuration: Configuration, outcome: SheetOutcome, now: int, *, as_json: bool) -> None:
    settings = configuration.settings
    if as_json:
        taken = [
            {"at": None, "number": None, "lines": [line.number for line in entry.lines], "kind": entry.kind.value,
             "payload": entry.payload}
            for entry, _ in outcome.taken
        ]  # fmt: skip
        print_json({"taken": taken, "waiting": _waiting_json(outcome)})
        return
    for entry, _ in outcome.taken:
        meant = hand_meaning(settings, entry.payload, now) if entry.values else ""
        said = f"Not written down: {entry.words}, {local_time(entry.lines[0].at, settings)}."
        click.echo(harmless(" ".join(filter(None, (said, meant)))))
    for one in outcome.waiting:
        would = "You would be asked" if one.asked else "It would be refused"
        click.echo(harmless(f"{would} about {_named(configuration, one)}: {one.why}"))


def _waiting_json(outcome: SheetOutcome) -> list[dict[str, Any]]:
    return [{"line": one.line.number, "why": one.why, "question": one.asked} for one in outcome.waiting]


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
        print_json({"taken": taken, "waiting": _waiting_json(outcome)})
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
