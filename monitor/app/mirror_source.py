"""The journal as the mirror sees it: readings with their calibrated value and flag, effects, by what arrived when."""

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from monitor.conditioning import calibrate
from monitor.journal import KeptFlag, Store, open_reader
from monitor.mirror import Effects, MirroredReading, Readings
from monitor.model.flags import Flag
from monitor.model.readings import Reading, is_hand
from monitor.model.settings import Probe, Settings
from monitor.model.units import Quantity, to_milli


class JournalSource:
    """Reads the journal on the mirror's own thread, over a connection of its own."""

    def __init__(self, folder: Path, settings: Callable[[], Settings]) -> None:
        self._store: Store = open_reader(folder)
        self._settings = settings

    def readings_after(self, cursor: int, n: int) -> Readings:
        """Return readings of whole events after a cursor, and those whose flag became final since."""
        store = self._store
        arrivals = store.readings_after(cursor, n)
        if not arrivals:
            return Readings([], cursor)
        reached = arrivals[-1].at
        found: dict[tuple[str, int], Reading] = {}
        for arrival in arrivals:
            for reading in arrival.rows:
                found[reading.probe, reading.time] = reading
        for kept in self._flags_until(cursor, reached, n):
            if (kept.probe, kept.time) not in found:
                for reading in store.readings([kept.probe], kept.time, kept.time):
                    found[reading.probe, reading.time] = reading
        return Readings(self._dressed(list(found.values())), reached)

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
        if not readings:
            return []
        flags: dict[tuple[str, int], Flag] = {}
        for probe in sorted({reading.probe for reading in readings}):
            times = [reading.time for reading in readings if reading.probe == probe]
            for kept in self._store.flags(probe, min(times), max(times)):
                flags[probe, kept.time] = kept.flag
        settings = self._settings()
        return [_dress(one, settings.probes.get(one.probe), flags.get((one.probe, one.time))) for one in readings]


def _dress(reading: Reading, probe: Probe | None, flag: Flag | None) -> MirroredReading:
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
        milli=milli,
        flag=int(flag if flag is not None else Flag.PASS),
    )
