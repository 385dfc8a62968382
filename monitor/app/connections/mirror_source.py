"""The journal as the mirror reads it: calibrated readings with flags, and effects, in order of arrival.

A reading whose verdict is pending is handed out with its raw value only. Once it has a verdict, it is handed out again with the
arrivals that follow, and is forgotten here only when the mirror's cursor has passed that second hand-out.
"""

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from monitor.conditioning import ConditioningState, calibrate
from monitor.journal import KeptFlag, Store, open_reader
from monitor.mirror import Effects, MirroredReading, Readings
from monitor.model.flags import Flag
from monitor.model.readings import Reading, is_hand
from monitor.model.settings import Probe, Settings
from monitor.model.units import Quantity, to_milli

Key = tuple[str, int]
"""Probe and time of a reading."""


class Unsettled:
    """Readings whose verdict is pending: the writer's thread updates them after each commit, the mirror's thread reads them.

    Attributes:
        now: Readings that are pending now.
        first: Readings that were pending when the daemon started; an earlier mirror may have handed them out.
    """

    def __init__(self, state: ConditioningState) -> None:
        self.now: frozenset[Key] = frozenset()
        self.look(state)
        self.first = self.now

    def look(self, state: ConditioningState) -> None:
        """Note which readings are pending now."""
        self.now = frozenset(
            (name, record.pending.time) for name, record in state.probes.items() if record.pending is not None
        )


class JournalSource:
    """Reads the journal on the mirror's thread, over its own connection."""

    def __init__(self, folder: Path, settings: Callable[[], Settings], unsettled: Unsettled) -> None:
        self._store: Store = open_reader(folder)
        self._settings = settings
        self._unsettled = unsettled
        self._handed: dict[Key, int | None] = dict.fromkeys(sorted(unsettled.first))
        """Readings handed out without a verdict (None), or the cursor with which the verdict was handed out."""

    def close(self) -> None:
        """Close the connection."""
        self._store.close()

    def readings_after(self, cursor: int, n: int) -> Readings:
        """Return readings of whole events after a cursor, and earlier readings whose flag became final since."""
        store = self._store
        arrivals = store.readings_after(cursor, n)
        if not arrivals:
            return Readings([], cursor)
        reached = arrivals[-1].at
        found: dict[Key, Reading] = {}
        for arrival in arrivals:
            for reading in arrival.rows:
                found[reading.probe, reading.time] = reading
        judged = [(kept.probe, kept.time) for kept in self._flags_until(cursor, reached, n)]
        for probe, time in (*judged, *self._settled(cursor, reached)):
            if (probe, time) not in found:
                for reading in store.readings([probe], time, time):
                    found[reading.probe, reading.time] = reading
        return Readings(self._dressed(list(found.values())), reached)

    def _settled(self, cursor: int, reached: int) -> list[Key]:
        """Return readings that were handed out without a verdict and have one now."""
        waiting = self._unsettled.now
        for key, told in list(self._handed.items()):
            if told is not None and told <= cursor:
                del self._handed[key]
            elif key not in waiting:
                self._handed[key] = reached
        return [key for key, told in self._handed.items() if told is not None]

    def _flags_until(self, cursor: int, reached: int, n: int) -> Iterable[KeptFlag]:
        while flags := self._store.flags_after(cursor, n):
            yield from (kept for kept in flags if kept.at <= reached)
            cursor = flags[-1].at
            if cursor > reached:
                return

    def effects_after(self, cursor: int, n: int) -> Effects:
        """Return effects of whole instants after a cursor."""
        rows = self._store.effects_after(cursor, n)
        return Effects(rows, rows[-1].at if rows else cursor)

    def counts(self, start: int, end: int) -> Mapping[str, int]:
        """Return how many readings each probe has in [start, end)."""
        store = self._store
        return {probe: sum(1 for _ in store.readings([probe], start, end - 1)) for probe in store.probes()}

    def readings_between(self, start: int, end: int) -> Iterable[MirroredReading]:
        """Return the readings in [start, end)."""
        store = self._store
        return self._dressed(list(store.readings(store.probes(), start, end - 1)))

    def _dressed(self, readings: list[Reading]) -> list[MirroredReading]:
        waiting = self._unsettled.now
        times: dict[str, list[int]] = {}
        for reading in readings:
            times.setdefault(reading.probe, []).append(reading.time)
        flags: dict[Key, Flag] = {}
        for probe, own in sorted(times.items()):
            for kept in self._store.flags(probe, min(own), max(own)):
                flags[probe, kept.time] = kept.flag
        settings = self._settings()
        dressed = []
        for one in readings:
            key = (one.probe, one.time)
            waits = key in waiting and key not in flags
            if waits:
                self._handed[key] = None
            dressed.append(_dress(one, settings.probes.get(one.probe), flags.get(key, Flag.PASS), waits=waits))
        return dressed


def _dress(reading: Reading, probe: Probe | None, flag: Flag, *, waits: bool) -> MirroredReading:
    if probe is not None:
        milli = calibrate(reading.micro, reading.unit, probe, reading.time)
        quantity = probe.quantity.value
    else:
        milli = to_milli(reading.micro, reading.unit)
        quantity = Quantity.TEMPERATURE.value if is_hand(reading.probe) else "unknown"
    return MirroredReading(
        time=reading.time,
        probe=reading.probe,
        quantity=quantity,
        unit=reading.unit,
        micro=reading.micro,
        milli=None if waits else milli,
        flag=None if waits else int(flag),
    )
