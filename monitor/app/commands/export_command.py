"""`export`: writes recordings out, also while the daemon runs."""

import gzip
import io
import os
import sys
from base64 import b64encode
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO, TypeVar

import click

from monitor.app.options import config_option, load_configuration
from monitor.app.progress import Shown, progress_bar
from monitor.configuration import Configuration
from monitor.journal import FOREVER, Store, open_reader
from monitor.model.effects import Effect, EffectKind
from monitor.model.errors import MisuseError
from monitor.model.events import EventKind
from monitor.model.flags import Flag
from monitor.model.readings import hand_series
from monitor.model.times import DAY_MS, parse_time
from monitor.model.units import Quantity
from monitor.model.work import Work
from monitor.recordings import (
    Checkpoint,
    ReadingRow,
    checkpoint_line,
    event_line,
    mark_line,
    write_effects,
    write_readings,
    write_work,
)

_Item = TypeVar("_Item")

KINDS = ("readings", "work", "events", "effects", "notices")


@click.command()
@click.argument("kind", type=click.Choice(KINDS))
@click.option("--place", metavar="P", help="Only this pile or bin.")
@click.option("--from", "start", metavar="TIME", help="From this time on (RFC 3339).")
@click.option("--to", "end", metavar="TIME", help="Up to this time (RFC 3339).")
@click.option("--out", type=click.Path(path_type=Path), help="Into this file (gzip if it ends in .gz), else to stdout.")
@config_option
def command(
    kind: str, place: str | None, start: str | None, end: str | None, out: Path | None, config_file: Path | None
) -> None:
    """Write recordings out: readings and work as CSV; events, effects and notices as JSON lines.

    \b
    Examples:
      heaptender export readings --place p1 --from 2026-07-01T00:00:00Z --out bay1.csv.gz
      heaptender export events --out all.jsonl      (heaptender replay all.jsonl gives the same effects again)
    """
    configuration = load_configuration(config_file)
    first = -FOREVER if start is None else _time(start, "--from")
    last = FOREVER if end is None else _time(end, "--to")
    if place is not None and place not in {*configuration.settings.piles, *configuration.settings.bins, "ambient"}:
        raise MisuseError(f'there is no pile or bin "{place}" in {configuration.source}')
    with (
        open_reader(configuration.data) as store,
        _target(out) as text,
        store.view(),
        progress_bar("Exporting") as show,
    ):
        _write(kind, _Watched(store, show), configuration, text, place, first, last)


def _time(text: str, option: str) -> int:
    try:
        return parse_time(text)
    except ValueError as fault:
        raise MisuseError(f"{option}: {fault}.") from fault


class _Watched:
    """The journal, and how far an export of it is; whatever takes long shows so."""

    def __init__(self, store: Store, show: Shown) -> None:
        self.store = store
        self._show = show
        self._end = store.mark().latest() or 0

    def over(self, items: Iterable[_Item], instant: Callable[[_Item], int]) -> Iterator[_Item]:
        """Yield the items and show now and then up to which instant they came."""
        begin: int | None = None
        for number, item in enumerate(items):
            if number % 2_000 == 0:
                now = instant(item)
                begin = now if begin is None else begin
                self._show(max(0, now - begin), max(1, self._end - begin))
            yield item


def _write(
    kind: str, watched: _Watched, configuration: Configuration, out: TextIO, place: str | None, first: int, last: int
) -> None:  # fmt: skip
    store = watched.store
    if kind == "readings":
        rows = _readings(store, configuration, place, first, last)
        write_readings(watched.over(rows, lambda row: row.time), out)
    elif kind == "work":
        write_work(_work(watched, place, first, last), out)
    elif kind == "events":
        _events(watched, out, first, last)
    else:
        effects = watched.over(store.effects(first - 1, last, place), lambda effect: effect.at)
        write_effects((effect for effect in effects if _wanted(effect, kind)), out)


def _wanted(effect: Effect, kind: str) -> bool:
    return kind == "effects" or effect.draft.kind is EffectKind.NOTICE


def _readings(
    store: Store, configuration: Configuration, place: str | None, first: int, last: int
) -> Iterator[ReadingRow]:  # fmt: skip
    probes = configuration.settings.probes
    names = store.probes()
    if place is not None:
        mine = {name for name, probe in probes.items() if probe.place == place} | {hand_series(place)}
        names = [name for name in names if name in mine]
    day: int | None = None
    at: dict[_Key, int] = {}
    flags: dict[_Key, Flag] = {}
    for reading in store.readings(names, first, last):
        if reading.time // DAY_MS != day:
            # By the day, so that a record of years needs no more memory than one of a week.
            day = reading.time // DAY_MS
            at, flags = _arrived(store, names, day * DAY_MS, (day + 1) * DAY_MS - 1)
        key = (reading.probe, reading.time)
        known = probes.get(reading.probe)
        yield ReadingRow(
            time=reading.time,
            probe=reading.probe,
            quantity=known.quantity if known is not None else Quantity.TEMPERATURE,
            micro=reading.micro,
            unit=reading.unit,
            received=at.get(key),
            quality=flags.get(key, Flag.PASS),
        )


_Key = tuple[str, int]


def _arrived(store: Store, names: list[str], first: int, last: int) -> tuple[dict[_Key, int], dict[_Key, Flag]]:
    at: dict[_Key, int] = {}
    flags: dict[_Key, Flag] = {}
    for name in names:
        for series in store.columns(name, first, last):
            at.update(zip(((name, int(time)) for time in series.time), series.at.tolist(), strict=True))
        flags.update({(name, kept.time): kept.flag for kept in store.flags(name, first, last)})
    return at, flags


def _work(watched: _Watched, place: str | None, first: int, last: int) -> Iterator[Work]:
    from monitor.engine.logged import work_from  # noqa: PLC0415 (only this kind needs it)

    for event in watched.over(watched.store.events(), lambda event: event.at):
        entries = [event.payload] if event.kind is EventKind.WORK else []
        if event.kind is EventKind.IMPORTED:
            entries = list(event.payload.get("work", ()))
        for payload in entries:
            work = work_from(payload, event.at)
            if first <= work.time <= last and place in (None, work.place, work.to):
                yield work


def _events(watched: _Watched, out: TextIO, first: int, last: int) -> None:
    store, begin = watched.store, first - 1
    checkpoint = store.checkpoint()
    if checkpoint is not None:
        head = next((link.head.hex() for link in reversed(store.chain()) if link.pruned), "")
        line = checkpoint_line(Checkpoint(at=checkpoint.at, head=head, state=b64encode(checkpoint.state).decode()))
        out.write(line + "\n")
        begin = max(begin, checkpoint.at)
    for event in watched.over(store.events(begin, last), lambda event: event.at):
        out.write(event_line(event) + "\n")
    mark = store.mark().latest()
    if mark is not None:
        out.write(mark_line(min(mark, last)) + "\n")


@contextmanager
def _target(out: Path | None) -> Iterator[TextIO]:
    if out is None:
        yield sys.stdout
        return
    part = out.with_name(out.name + ".part")
    try:
        with part.open("wb") as raw:
            packed = gzip.GzipFile(fileobj=raw, mode="wb", mtime=0, filename="") if out.suffix == ".gz" else None
            text = io.TextIOWrapper(packed if packed is not None else raw, encoding="utf-8", newline="")
            yield text
            text.flush()
            text.detach()
            if packed is not None:
                packed.close()
            raw.flush()
            os.fsync(raw.fileno())
        part.replace(out)
    finally:
        part.unlink(missing_ok=True)
