"""A record of readings in memory, for replay: answers the engine's questions in place of a journal.

Rules: the key is (probe, time). The same value again is dropped and counted; another value is a conflict, and the first
stays. Readings may be added in any order; adding in order of time is fastest.
"""

from array import array
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from monitor.model.events import FURTHER
from monitor.model.readings import Reading

_CHUNK = 8192
_FEW = 32


class _Series:
    """One probe's readings, ordered by time, each time once; readings that came out of order wait until somebody reads."""

    __slots__ = ("late", "micros", "times", "units")

    def __init__(self) -> None:
        self.times = array("q")
        self.micros = array("q")
        self.units = array("H")
        self.late: dict[int, tuple[int, int]] = {}

    def settle(self) -> None:
        """Move readings that came late to their places: a few one by one, many in one pass over the whole."""
        late, self.late = self.late, {}
        if len(late) <= _FEW:
            for time in sorted(late):
                i = bisect_left(self.times, time)
                self.times.insert(i, time)
                self.micros.insert(i, late[time][0])
                self.units.insert(i, late[time][1])
            return
        self.times.extend(late)
        self.micros.extend(micro for micro, _ in late.values())
        self.units.extend(code for _, code in late.values())
        order = np.argsort(np.frombuffer(self.times, dtype=np.int64), kind="stable")
        self.times = array("q", np.frombuffer(self.times, dtype=np.int64)[order].tobytes())
        self.micros = array("q", np.frombuffer(self.micros, dtype=np.int64)[order].tobytes())
        self.units = array("H", np.frombuffer(self.units, dtype=np.uint16)[order].tobytes())


class MemoryHistory:
    """Readings by probe in arrays of 18 bytes a reading. Not safe for use in parallel."""

    def __init__(self, readings: Iterable[Reading] = ()) -> None:
        """Start with some readings, in any order."""
        self._series: dict[str, _Series] = {}
        self._units: list[str] = []
        self._codes: dict[str, int] = {}
        self.repeated = 0
        self.conflicts: list[Reading] = []
        self._further: dict[str, list[Reading]] = {}
        self.extend(readings)

    def __len__(self) -> int:
        return sum(len(series.times) + len(series.late) for series in self._series.values())

    def probes(self) -> list[str]:
        """Return the ids of the series that have readings."""
        return sorted(self._series)

    def extend(self, readings: Iterable[Reading]) -> None:
        """Add readings; see `add`."""
        add = self.add
        for reading in readings:
            add(reading)

    def take(self, payload: Mapping[str, Any]) -> None:
        """Add the readings of an event, and its values whose instant has another one already."""
        for key in ("rows", FURTHER):
            self.extend(Reading(*row) for row in payload.get(key, ()))

    def add(self, reading: Reading) -> bool:
        """Add one reading, and tell whether it was new; if not, it was a repetition or a conflict (both counted)."""
        time, probe, micro, unit = reading
        series = self._series.get(probe)
        if series is None:
            series = self._series[probe] = _Series()
        code = self._codes.get(unit)
        if code is None:
            code = self._codes[unit] = len(self._units)
            self._units.append(unit)
        times = series.times
        if not times or time > times[-1]:
            times.append(time)
            series.micros.append(micro)
            series.units.append(code)
            return True
        i = bisect_left(times, time)
        if times[i] == time:
            known = series.micros[i], series.units[i]
        else:
            known = series.late.setdefault(time, new := (micro, code))
            if known is new:
                return True
        if known == (micro, code):
            self.repeated += 1
        else:
            self.conflicts.append(reading)
            own = self._further.setdefault(probe, [])
            if (i := bisect_left(own, reading)) == len(own) or own[i] != reading:
                own.insert(i, reading)
        return False

    def readings(self, probes: Sequence[str], start: int, end: int) -> Iterator[Reading]:
        """Read the readings with start <= time <= end.

        Args:
            probes: Ids of series; an unknown one has no readings.
            start: Earliest time, UTC ms, inclusive.
            end: Latest time, UTC ms, inclusive.

        Yields:
            The readings, ordered by (time, probe). Readings added during the walk may or may not be among them.
        """
        names = sorted({name for name in probes if name in self._series})
        for name in names:
            if self._series[name].late:
                self._series[name].settle()
        if len(names) == 1:
            yield from self._slice(names[0], start, end)
            return
        while names and start <= end:
            # Take one stretch of time after another, so that a long record is never held twice.
            stop = end
            for name in names:
                times = self._series[name].times
                i = bisect_left(times, start) + _CHUNK
                if i < len(times):
                    stop = min(stop, times[i])
            part = [reading for name in names for reading in self._slice(name, start, stop)]
            part.sort()
            yield from part
            start = stop + 1

    def further(self, probes: Sequence[str], start: int, end: int) -> list[Reading]:
        """Return the values of start <= time <= end that came after another of their instant, each once.

        Args:
            probes: Ids of series.
            start: Earliest time, UTC ms, inclusive.
            end: Latest time, UTC ms, inclusive.

        Returns:
            The values, ordered by (time, probe).
        """
        found: list[Reading] = []
        for name in dict.fromkeys(probes):
            own = self._further.get(name, [])
            found += own[bisect_left(own, (start,)) : bisect_left(own, (end + 1,))]
        return sorted(found)

    def _slice(self, name: str, start: int, end: int) -> Iterator[Reading]:
        series = self._series[name]
        i, j = bisect_left(series.times, start), bisect_right(series.times, end)
        units = self._units
        for time, micro, code in zip(series.times[i:j], series.micros[i:j], series.units[i:j], strict=True):
            yield Reading(time, name, micro, units[code])
