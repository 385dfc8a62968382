"""`export`: writes recordings out, also while the daemon runs."""

import gzip
import io
import sys
import time
from base64 import b64encode
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import BinaryIO, NamedTuple, TextIO, TypeVar

import click

from monitor.app.console.options import config_option, json_option, print_json
from monitor.app.console.progress_bar import Shown, progress_bar
from monitor.app.console.refusals import ended, near
from monitor.app.console.time_words import parse_when
from monitor.app.console.whole_files import whole_file
from monitor.app.files.export_check import damage_behind
from monitor.app.files.former_places import places_ever
from monitor.app.yard.in_force import load_or_in_force
from monitor.configuration import Configuration
from monitor.journal import FOREVER, Store, journal_path, open_reader
from monitor.model.effects import Effect, EffectKind
from monitor.model.errors import MisuseError
from monitor.model.settings import AMBIENT, YARD
from monitor.recordings import (
    PARQUET,
    About,
    Checkpoint,
    Seal,
    checkpoint_line,
    event_line,
    lacks_parquet,
    mark_line,
    seal_line,
    write_effects,
    write_readings,
    write_readings_parquet,
    write_work,
    write_work_parquet,
)

_Item = TypeVar("_Item")

KINDS = ("readings", "work", "events", "effects", "notices")


@click.command()
@click.argument("kind", type=click.Choice(KINDS))
@click.option("--place", metavar="P", help="Only this pile or bin.")
@click.option("--from", "start", metavar="TIME", help="From this time on: 2026-07-01, yesterday 18:00, or RFC 3339.")
@click.option("--to", "end", metavar="TIME", help="Up to this time.")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help="Into this file (gzip if it ends in .gz, Parquet if in .parquet), else to stdout.",
)
@config_option
@json_option
def command(
    kind: str,
    place: str | None,
    start: str | None,
    end: str | None,
    out: Path | None,
    config_file: Path | None,
    as_json: bool,
) -> int:
    """Write recordings out: readings and work as CSV or Parquet; events, effects and notices as JSON lines.

    Work is written as corrected, with its time of entry. With --json, the command reports as JSON what it wrote into --out. If
    the record is damaged, it writes everything that can be read, names the damaged days, and ends with 1.

    \b
    Examples:
      heaptender export readings --place p1 --from 2026-07-01 --out bay1.csv.gz
      heaptender export readings --out yard.parquet   (for questions over many yards)
      heaptender export events --out all.jsonl      (heaptender replay all.jsonl gives the same effects again)
    """
    configuration = load_or_in_force(config_file)
    now, zone = time.time_ns() // 1_000_000, configuration.settings.site.time_zone
    first = -FOREVER if start is None else parse_when(start, now, zone, "--from")
    last = FOREVER if end is None else parse_when(end, now, zone, "--to")
    if place is not None and kind == "events":
        raise MisuseError("The record of events is of the whole yard: leave --place out, or export effects.")
    if as_json and out is None and kind in ("readings", "work"):
        raise MisuseError(f"{kind} are written as CSV; with --json, name a file with --out FILE.")
    if out is not None and out.suffix == PARQUET:
        _refuse_parquet(kind)
    _check(configuration, place)
    with open_reader(configuration.data) as store, _target(out) as target, store.view():
        with progress_bar("Checking the record") as show:
            faults = damage_behind(store, kind, first, last, show)
        with progress_bar("Exporting") as show:
            watched = _Watched(store, show)
            _write(kind, watched, configuration, target, place, first, last)
    if as_json and out is not None:
        print_json({"kind": kind, "out": str(out), "rows": watched.count, "faults": faults})
    for sentence in faults:
        click.echo(f"Not what was written: {sentence}.", err=True)
    if faults:
        click.echo("The record is damaged; `heaptender restore BACKUP` puts a copy back.", err=True)
    return 1 if faults else 0


def _refuse_parquet(kind: str) -> None:
    """Refuse what has no form in Parquet, or Parquet where its library is missing."""
    if kind not in ("readings", "work"):
        raise MisuseError(
            f"{kind} are JSON lines; only readings and work can be Parquet. Name a file such as {kind}.jsonl."
        )
    if said := lacks_parquet():
        raise MisuseError(said)


def _check(configuration: Configuration, place: str | None) -> None:
    """Refuse a place that the yard neither has nor ever had."""
    places = [*configuration.settings.piles, *configuration.settings.bins, AMBIENT, YARD]
    if place is None or place in places:
        return
    ever: set[str] = set()
    if journal_path(configuration.data).exists():
        with open_reader(configuration.data) as store:
            ever = places_ever(store)
    if place not in ever:
        known = [*places, *sorted(ever.difference(places))]
        raise MisuseError(ended(f'there is no pile or bin "{place}", and there never was; {near(place, known)}'))


class _Watched:
    """The journal, with the progress of an export; long exports show it."""

    def __init__(self, store: Store, show: Shown) -> None:
        self.store = store
        self.count = 0
        self._show = show
        self._end = store.mark().latest() or 0

    def over(self, items: Iterable[_Item], instant: Callable[[_Item], int]) -> Iterator[_Item]:
        """Yield the items, count them, and show now and then which instant they have reached."""
        begin: int | None = None
        for number, item in enumerate(items):
            if number % 2_000 == 0:
                now = instant(item)
                begin = now if begin is None else begin
                self._show(max(0, now - begin), max(1, self._end - begin))
            self.count = number + 1
            yield item


def _write(
    kind: str, watched: _Watched, configuration: Configuration, out: "_Target", place: str | None, first: int, last: int
) -> None:  # fmt: skip
    store, about = watched.store, About(configuration.settings.site.name, configuration.settings.site.time_zone)
    if kind == "readings":
        from monitor.app.files.reading_rows import any_by_hand, reading_rows  # noqa: PLC0415 (each kind loads only its own)

        rows = watched.over(reading_rows(store, configuration, place, first, last), lambda row: row.time)
        if out.raw is not None:
            write_readings_parquet(rows, out.raw, about)
        else:
            write_readings(rows, out.text, by_hand=any_by_hand(store, place))
    elif kind == "work":
        from monitor.app.entries.work_log import work_log  # noqa: PLC0415

        standing = (replace(one.work, entered=one.entered) for one in work_log(store) if one.work is not None)
        wanted = (work for work in standing if first <= work.time <= last and place in (None, work.place, work.to))
        entries = watched.over(wanted, lambda work: work.time)
        if out.raw is not None:
            write_work_parquet(entries, out.raw, about)
        else:
            write_work(entries, out.text)
    elif kind == "events":
        _events(watched, out.text, first, last)
    else:
        effects = (effect for effect in store.effects(first - 1, last, place) if _wanted(effect, kind))
        write_effects(watched.over(effects, lambda effect: effect.at), out.text)


def _wanted(effect: Effect, kind: str) -> bool:
    return kind == "effects" or effect.draft.kind is EffectKind.NOTICE


def _events(watched: _Watched, out: TextIO, first: int, last: int) -> None:
    store, begin = watched.store, first - 1
    checkpoint = store.checkpoint()
    # A checkpoint that the exported events do not follow would replay to a state that never existed.
    if checkpoint is not None and first <= checkpoint.at <= last:
        head = next((link.head.hex() for link in reversed(store.chain()) if link.pruned), "")
        line = checkpoint_line(Checkpoint(at=checkpoint.at, head=head, state=b64encode(checkpoint.state).decode()))
        out.write(line + "\n")
        begin = max(begin, checkpoint.at)
    seals = store.seals()
    for event in watched.over(store.events(begin, last), lambda event: event.at):
        out.write(event_line(event) + "\n")
        if event.at in seals:
            out.write(seal_line(Seal(event.at, b64encode(seals[event.at]).decode())) + "\n")
    mark = store.mark().latest()
    if mark is not None:
        out.write(mark_line(min(mark, last)) + "\n")


class _Target(NamedTuple):
    """Takes what is written: text, or the bytes of Parquet, where `raw` is set."""

    text: TextIO
    raw: BinaryIO | None = None


@contextmanager
def _target(out: Path | None) -> Iterator[_Target]:
    if out is None:
        yield _Target(sys.stdout)
        return
    with whole_file(out) as raw:
        if out.suffix == PARQUET:
            yield _Target(io.StringIO(), raw)
            return
        packed = gzip.GzipFile(fileobj=raw, mode="wb", mtime=0, filename="") if out.suffix == ".gz" else None
        text = io.TextIOWrapper(packed if packed is not None else raw, encoding="utf-8", newline="")
        yield _Target(text)
        text.flush()
        text.detach()
        if packed is not None:
            packed.close()
