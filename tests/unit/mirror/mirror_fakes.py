"""A journal in memory and a server that forgets, refuses and dies as it is told."""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from monitor.mirror import Cursor, Effects, MirroredReading, Readings, Trouble, WriteError
from monitor.model.effects import Draft, Effect, EffectKind

START = 1_772_355_600_000


def reading(time: int, probe: str = "b1-a", milli: int | None = 21_500, flag: int | None = 1) -> MirroredReading:
    return MirroredReading(time, probe, "temperature", "Cel", (milli or 0) * 1000, milli, flag)


def effect(at: int, kind: EffectKind, axis: str, after: str, ordinal: int = 0, **values: object) -> Effect:
    draft = Draft(
        place="p1",
        kind=kind,
        axis=axis,
        before=None,
        after=after,
        why="",
        since=at - 500,
        reason="",
        values=values,
    )
    return Effect(at=at, ordinal=ordinal, draft=draft)


class Journal:
    """Events by `at`; also keeps the cursor, as JSON text, so that it is a copy."""

    def __init__(self) -> None:
        self.events: dict[int, list[MirroredReading]] = {}
        self.effects: list[Effect] = []
        self.kept: str | None = None

    def add(self, count: int, every: int = 1000, first: int = START) -> None:
        for number in range(count):
            at = first + number * every
            self.events[at] = [reading(at, milli=20_000 + number)]

    def readings_after(self, cursor: int, n: int) -> Readings:
        rows: list[MirroredReading] = []
        for at in sorted(self.events):
            if at > cursor and len(rows) < n:
                rows.extend(self.events[at])
                last = at
        return Readings(rows, last if rows else cursor)

    def effects_after(self, cursor: int, n: int) -> Effects:
        rows = [found for found in self.effects if found.at > cursor][:n]
        return Effects(rows, rows[-1].at if rows else cursor)

    def counts(self, start: int, end: int) -> dict[str, int]:
        counts: dict[str, int] = {}
        for row in self.readings_between(start, end):
            counts[row.probe] = counts.get(row.probe, 0) + 1
        return counts

    def readings_between(self, start: int, end: int) -> Iterable[MirroredReading]:
        return [row for rows in self.events.values() for row in rows if start <= row.time < end]

    def load_cursor(self) -> Cursor | None:
        return Cursor(*json.loads(self.kept)) if self.kept else None

    def save_cursor(self, cursor: Cursor) -> None:
        self.kept = json.dumps(cursor)


@dataclass
class FakeServer:
    """Points by (head, time); `poison` lines are not taken; `trouble` is what every write raises while it is set."""

    points: dict[tuple[str, str], str] = field(default_factory=dict)
    trouble: WriteError | None = None
    poison: set[str] = field(default_factory=set)
    most: int = 1_000_000
    opened: int = 1
    writes: int = 0
    unsynced: list[tuple[str, str]] = field(default_factory=list)

    def write(self, lines: Sequence[str]) -> None:
        self.writes += 1
        if self.trouble is not None:
            raise self.trouble
        if len(lines) > self.most:
            raise WriteError(Trouble.LARGE, "answered 413")
        if any(word in line for line in lines for word in self.poison):
            raise WriteError(Trouble.DATA, "answered 400: no")
        for line in lines:
            head, _, time = line.rpartition(" ")
            key = (head.rpartition(" ")[0], time)
            self.points[key] = line
            self.unsynced.append(key)

    def connections(self) -> int:
        return self.opened

    def sync(self) -> None:
        self.unsynced.clear()

    def crash(self) -> None:
        """Forget what was taken and not synced, as after kill -9; the next write opens a new connection."""
        for key in self.unsynced:
            self.points.pop(key, None)
        self.unsynced.clear()
        self.opened += 1

    def times(self) -> list[int]:
        return sorted(int(time) for head, time in self.points if head.startswith("heaptender_reading"))
