"""Makes a record of years: 100 probes with a reading a minute each, as an hour's message of each node brings them.

Blocks, spans, hashes and snapshots are made by the journal's own functions, as the writer would have made them. To save
hours, the engine sees only the last reading of each probe in each hour, and those of the last weeks alone; all others are
entered behind its back.
"""

import json
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from monitor.configuration import canonical_settings, load_text
from monitor.engine import Engine
from monitor.journal import Writer, open_writer
from monitor.journal.blocks import BLOCK_ROWS, Columns
from monitor.journal.engine_port import feed_in_order
from monitor.journal.event_bytes import event_bytes
from monitor.journal.packing import replace_block
from monitor.journal.turn import Turn
from monitor.model.events import Event, EventKind
from monitor.model.readings import Reading
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.proof.rules import rule_ids

START = 1_650_000_000_000 // DAY_MS * DAY_MS
MINUTE = 60_000
EACH = 5
AN_HOUR = 60
LAG_MS = 1_500
PATTERN = 100_003
"""Minutes after which the values come again, at another hour of the day and for each probe at another place."""

SEEN_DAYS = 60

_YOUNG_MS = 20 * DAY_MS
"""The last pile's heap is so old in the end, and was turned five times; the other heaps lie from the beginning."""


class Values:
    """The temperatures of all probes, millionths of a degree, in steps of a sixteenth."""

    def __init__(self, probes: list[str]) -> None:
        rng = np.random.default_rng(1)
        self._pattern = (rng.integers(-1, 2, PATTERN).cumsum() % 48 - 24) * 62_500
        self._base = [60_000_000 if probe.startswith("p") else 21_000_000 for probe in probes]

    def of(self, probe: int, first: int, count: int) -> "NDArray[np.int64]":
        """Return a probe's values of some minutes, from the minute `first` on."""
        at = (np.arange(first, first + count) + probe * 7_919) % PATTERN
        found: NDArray[np.int64] = self._base[probe] + self._pattern[at] // (1 if self._base[probe] > 30_000_000 else 2)
        return found


def make_history(folder: Path, text: str, readings: int) -> None:
    """Write a record of about so many readings, in whole days, into the yard's data folder."""
    settings = load_text(text, folder / "heaptender.toml", {}, rules=rule_ids()).settings
    probes = list(settings.probes)
    values, days = Values(probes), max(1, readings // len(probes) // AN_HOUR // 24)
    with open_writer(folder / "data", Engine, Engine.restore) as writer:
        with writer.turn(START - 1000) as turn:
            turn.event(EventKind.STARTED, {"down_since": None})
            turn.event(EventKind.SETTINGS, {"settings": json.loads(canonical_settings(settings))})
        hours, packed = _Hours(writer, probes, values), 0
        for day in range(days):
            with writer.turn(START + day * DAY_MS) as turn:
                if day == 0:
                    for pile in list(settings.piles)[:-1]:
                        turn.event(EventKind.WORK, {"time": START, "place": pile, "kind": "built"})
                _young_heap(turn, list(settings.piles)[-1], day, days)
                for hour in range(day * 24, day * 24 + 24):
                    hours.enter(turn, hour, seen=days - day <= SEEN_DAYS)
            done = (day + 1) * 24 * AN_HOUR
            while done - packed >= BLOCK_ROWS or (day == days - 1 and packed < done):
                count = min(BLOCK_ROWS, done - packed)
                _pack(writer, probes, values, packed, count)
                packed += count


def make_day(writer: Writer) -> int:
    """Let another day's readings come in, through the writer's front door, and return their number."""
    probes = list(json.loads(writer.engine.snapshot())["settings"]["probes"])
    start = writer.engine.last
    for hour in range(24):
        at = start + (hour + 1) * HOUR_MS
        with writer.turn(at) as turn:
            turn.readings([
                Reading(at - minute * MINUTE - 1, probe, 21_000_000 + (minute + number) % 16 * 62_500, "Cel")
                for minute in range(AN_HOUR) for number, probe in enumerate(probes)
            ])  # fmt: skip
    return 24 * AN_HOUR * len(probes)


def _young_heap(turn: Turn, pile: str, day: int, days: int) -> None:
    age = day - (days - _YOUNG_MS // DAY_MS)
    at = START + day * DAY_MS
    if age == 0:
        turn.event(EventKind.WORK, {"time": at, "place": pile, "kind": "built"})
    elif age in (4, 7, 10, 13, 16):
        turn.event(EventKind.WORK, {"time": at, "place": pile, "kind": "turned"})


class _Hours:
    """Enters hours of readings, each as one event, behind the engine's back or before its eyes."""

    def __init__(self, writer: Writer, probes: list[str], values: Values) -> None:
        self._parts = writer._parts
        self._probes, self._values = probes, values
        self._order = sorted(range(len(probes)), key=lambda number: probes[number])
        self._texts: dict[tuple[int, int], str] = {}

    def enter(self, turn: Turn, hour: int, *, seen: bool) -> None:
        parts, first = self._parts, hour * AN_HOUR
        micro = np.stack([self._values.of(number, first, AN_HOUR) for number in self._order]).T.tolist()
        times = [START + (first + minute) * MINUTE for minute in range(AN_HOUR)]
        turn._now = times[-1] + LAG_MS
        at = turn._open()
        parts.spans.note(at, times[0], times[-1], AN_HOUR * len(self._probes))
        text = ",".join(
            f"[{time},{self._text(number, value)}"
            for time, of_minute in zip(times, micro, strict=True)
            for number, value in zip(self._order, of_minute, strict=True)
        )
        latest = parts.ledger.mark.latest()
        parts.ledger.enter(at, event_bytes(at, EventKind.READINGS, f'{{"ahead":[],"rows":[{text}]}}'))
        turn.touched_engine = True
        if seen:
            last = zip(self._order, micro[-1], strict=True)
            rows = [Reading(times[-1], self._probes[number], value, "Cel") for number, value in last]
            event = Event(at, EventKind.READINGS, {"ahead": [], "rows": rows})
            effects = feed_in_order(parts.engine, event, parts.store)
        else:
            effects = parts.engine.advance(at)
        turn._keep(effects, latest, at)

    def _text(self, number: int, value: int) -> str:
        """Return a row without its time, as canonical JSON has it."""
        found = self._texts.get((number, value))
        if found is None:
            found = self._texts[number, value] = f'"{self._probes[number]}",{value},"Cel"]'
        return found


def _pack(writer: Writer, probes: list[str], values: Values, first: int, count: int) -> None:
    """Put some minutes of all probes into blocks."""
    with writer.transaction():
        for number, probe in enumerate(probes):
            series = writer.store.book.add(probe, "Cel")
            minutes = np.arange(first, first + count, dtype=np.int64)
            time = START + minutes * MINUTE
            at = START + (minutes // AN_HOUR * AN_HOUR + AN_HOUR - 1) * MINUTE + LAG_MS
            columns = Columns(time, values.of(number, first, count).astype(np.int64), at - time)
            replace_block(writer.store.connection, series, None, columns)
