"""Readings of temperature as columns, by probe: from the journal or from rows of files, with their flags.

Rules:
1. In the journal a reading has flag 1 unless another is kept. A reading that waits for the next one, or falls in a time in
   which its probe was in but not accepted, gets 3: it is shown and does not count.
2. In files a reading has the file's flag, if there is one (`disowned` readings could be temperatures, but the file's flag
   excludes them). Otherwise it has 2, and error codes and values outside the measurable range have 4. Other checks do not run,
   because a bare file says nothing about resolution, places or ambient.
3. The key is (probe, time). Of several values the coldest stays, and of equal ones the one with the worse flag; how many gave
   way, and where, is reported (`clashes` says what a rule with an upper limit makes of that, and where none counts at all).
"""

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from monitor.certificate import CaseProbe, accepted, calibrated
from monitor.conditioning import checks_for, condition_bare
from monitor.journal import FOREVER, Store
from monitor.model.flags import Flag
from monitor.model.readings import Reading
from monitor.model.settings import Calibration
from monitor.model.thresholds import ProbeThresholds
from monitor.model.units import Quantity
from monitor.proof.holdset import zone
from monitor.proof.intervals import FAR_AHEAD_MS, LONG_AGO_MS
from monitor.proof.rules import Limits
from monitor.recordings import ReadingRow

ALWAYS = ((LONG_AGO_MS, FAR_AHEAD_MS),)
"""Service without end."""


@dataclass(frozen=True, slots=True)
class Columns:
    """The readings of one probe in order of time; see `CaseProbe` for the columns.

    `disowned` marks readings that do not count only because the file's own column says so. `mixed` holds the instants (UTC ms)
    of which no value counts, since one failed its checks or cannot be measured while another could be a temperature.
    """

    times: NDArray[np.int64]
    micro: NDArray[np.int64]
    units: NDArray[np.int8]
    unit_names: tuple[str, ...]
    quality: NDArray[np.int8]
    disowned: NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, dtype=np.bool_))
    mixed: tuple[int, ...] = ()

    @classmethod
    def empty(cls) -> "Columns":
        """Return the readings of a probe that never spoke."""
        return cls(np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros(0, np.int8), (), np.zeros(0, np.int8))

    def first(self) -> int:
        """Return the time of the first accepted reading, else of the first one, else 0."""
        fit = self.times[self.quality <= int(Flag.NOT_EVALUATED)]
        known = fit if fit.size else self.times
        return int(known[0]) if known.size else 0

    @property
    def spoke(self) -> NDArray[np.bool_]:
        """Marks readings that show that the probe was not silent: all that could be temperatures."""
        counts: NDArray[np.bool_] = self.quality <= int(Flag.NOT_EVALUATED)
        return counts | self.disowned if self.disowned.size else counts

    def disowned_outside(self, limits: Sequence[Limits]) -> tuple[int, ...]:
        """Return the times (UTC ms) of disowned readings outside any of these limits."""
        if not self.disowned.any():
            return ()
        every = replace(self, quality=np.full(self.times.shape, int(Flag.NOT_EVALUATED), dtype=np.int8))
        milli = accepted(every.probe("")).milli_c
        outside = np.zeros(self.times.shape, dtype=np.bool_)
        for one in limits:
            outside |= zone(milli, one) != 0
        return tuple(self.times[self.disowned & outside].tolist())

    def probe(self, name: str, calibrations: Sequence[Calibration] = ()) -> CaseProbe:
        """Return a probe that served all the time with these readings."""
        return CaseProbe(
            probe=name,
            times=self.times,
            micro=self.micro,
            units=self.units,
            unit_names=self.unit_names,
            quality=self.quality,
            calibrations=tuple(calibrations),
            service=ALWAYS,
            unread=self.mixed,
        )


def stored_columns(store: Store, probe: str, first: int, last: int, pending: int | None = None) -> Columns:
    """Return a probe's readings in the journal.

    Args:
        store: The journal.
        probe: Name of the series.
        first: First instant, UTC ms.
        last: Last instant, inclusive, UTC ms.
        pending: Time of a reading whose flag is not final yet, or None.
    """
    series = [one for one in store.columns(probe, first, last) if one.time.size]
    times = np.concatenate([one.time for one in series] or [np.empty(0, dtype=np.int64)])
    micro = np.concatenate([one.micro for one in series] or [np.empty(0, dtype=np.int64)])
    sizes = [one.time.size for one in series]
    units = np.repeat(np.arange(len(series)), sizes).astype(np.int8)
    order = np.argsort(times, kind="stable")
    times = times[order].astype(np.int64)
    quality = np.full(times.shape, int(Flag.PASS), dtype=np.int8)
    for kept in store.flags(probe, first, last):
        _mark(times, quality, kept.time, kept.flag)
    if pending is not None:
        _mark(times, quality, pending, Flag.SUSPECT)
    return Columns(times, micro[order].astype(np.int64), units[order], tuple(one.unit for one in series), quality)


def _mark(times: NDArray[np.int64], quality: NDArray[np.int8], time: int, flag: Flag) -> None:
    place = int(np.searchsorted(times, time))
    if place < times.size and times[place] == time:
        quality[place] = int(flag)


def unsettled(probe: CaseProbe, spans: Iterable[tuple[int, int]]) -> CaseProbe:
    """Return a probe whose accepted readings within the spans, start <= time < end, are flagged 3."""
    quality = probe.quality.copy()
    for start, end in spans:
        first, last = np.searchsorted(probe.times, (start, end), "left")
        part = quality[first:last]
        part[part <= int(Flag.NOT_EVALUATED)] = int(Flag.SUSPECT)
    return replace(probe, quality=quality)


def file_columns(
    rows: Iterable[ReadingRow], thresholds: ProbeThresholds
) -> tuple[dict[str, Columns], list[tuple[str, int]]]:
    """Return the temperatures of files by probe, and (probe, time) of each row that gave way to another value."""
    by_probe: dict[str, list[ReadingRow]] = {}
    for row in rows:
        if row.quantity is Quantity.TEMPERATURE:
            by_probe.setdefault(row.probe, []).append(row)
    found, conflicts = {}, list[tuple[str, int]]()
    for probe, own in sorted(by_probe.items()):
        found[probe], left_out = _of_rows(own, thresholds)
        conflicts += [(probe, time) for time in left_out]
    return found, conflicts


def coldest_of_each(
    columns: Columns, fit: NDArray[np.bool_], calibrations: Sequence[Calibration] = ()
) -> tuple[Columns, list[int]]:
    """Return one reading of each instant.

    Args:
        columns: Readings in any order, some of the same instant.
        fit: Marks those that could be temperatures; where others stand beside them, none of the instant counts (`mixed`).
        calibrations: The probe's calibrations, which turn values into temperatures.

    Returns:
        The readings, and the times of the values that gave way (UTC ms, in order).
    """
    milli, known = calibrated(columns.probe("", calibrations))
    milli[~known] = FAR_AHEAD_MS  # a value without a temperature gives way to any temperature
    order = np.lexsort((-columns.quality, milli, columns.times))
    times, milli, fit = columns.times[order], milli[order], fit[order]
    again = np.concatenate((np.zeros(min(times.size, 1), dtype=np.bool_), times[1:] == times[:-1]))
    conflicts: list[int] = times[again & np.append(False, milli[1:] != milli[:-1])[: times.size]].tolist()
    mixed = np.unique(times[1:][again[1:] & (fit[1:] != fit[:-1])])
    keep = order[~again]
    quality = columns.quality[keep]
    quality[np.isin(columns.times[keep], mixed) & (quality <= int(Flag.NOT_EVALUATED))] = int(Flag.SUSPECT)
    kept = Columns(
        columns.times[keep], columns.micro[keep], columns.units[keep], columns.unit_names, quality,
        mixed=tuple(mixed.tolist()),
    )  # fmt: skip
    return kept, conflicts


def _of_rows(rows: list[ReadingRow], thresholds: ProbeThresholds) -> tuple[Columns, list[int]]:
    count = len(rows)
    names = tuple(dict.fromkeys(row.unit for row in rows))
    place = {unit: number for number, unit in enumerate(names)}
    times = np.fromiter((row.time for row in rows), np.int64, count)
    micro = np.fromiter((row.micro for row in rows), np.int64, count)
    units = np.fromiter((place[row.unit] for row in rows), np.int8, count)
    given = np.fromiter((0 if row.quality is None else int(row.quality) for row in rows), np.int8, count)
    every = Columns(times, micro, units, names, given)
    columns, conflicts = coldest_of_each(every, _possible(rows[0].probe, every, thresholds))
    bare = _bare_quality(rows[0].probe, columns, thresholds)
    # Whatever the file's column says, an error code or a value beyond any heap is no temperature.
    bad = (columns.quality == 0) | (bare == int(Flag.FAIL))
    disowned = ~bad & (columns.quality > int(Flag.NOT_EVALUATED)) & ~np.isin(columns.times, columns.mixed)
    quality = np.where(bad, bare, columns.quality).astype(np.int8)
    return replace(columns, quality=quality, disowned=disowned), conflicts


def _possible(probe: str, columns: Columns, thresholds: ProbeThresholds) -> NDArray[np.bool_]:
    """Mark the values of a bare recording that a probe can measure."""
    milli = accepted(
        replace(columns, quality=np.full(columns.times.shape, int(Flag.NOT_EVALUATED))).probe(probe)
    ).milli_c
    fit = np.ones(columns.times.shape, dtype=np.bool_)
    for place, unit in enumerate(columns.unit_names):
        checks = checks_for(probe, unit, None, thresholds)
        codes = [code for code in (checks.disconnected, checks.power_up) if code is not None]
        wrong = (milli < checks.low) | (milli > checks.high) | np.isin(columns.micro, codes)
        fit[(columns.units == place) & wrong] = False
    return fit


def _bare_quality(probe: str, columns: Columns, thresholds: ProbeThresholds) -> NDArray[np.int8]:
    """Return the flags of a bare recording as `condition_bare` sets them, in one go unless a value is 85.0 (power-up)."""
    fair = np.full(columns.times.shape, int(Flag.NOT_EVALUATED), dtype=np.int8)
    # Only temperatures come here, so every unit is known and every reading has a value.
    milli = accepted(replace(columns, quality=fair).probe(probe)).milli_c
    quality = fair
    for place, unit in enumerate(columns.unit_names):
        checks = checks_for(probe, unit, None, thresholds)
        mine = columns.units == place
        if checks.power_up is not None and bool((mine & (columns.micro == checks.power_up)).any()):
            return _conditioned(probe, columns, thresholds)
        bad = (milli < checks.low) | (milli > checks.high)
        if checks.disconnected is not None:
            bad |= columns.micro == checks.disconnected
        quality[mine & bad] = int(Flag.FAIL)
    return quality


def _conditioned(probe: str, columns: Columns, thresholds: ProbeThresholds) -> NDArray[np.int8]:
    readings = (
        Reading(time, probe, micro, columns.unit_names[unit])
        for time, micro, unit in zip(
            columns.times.tolist(), columns.micro.tolist(), columns.units.tolist(), strict=True
        )
    )
    verdicts = condition_bare(readings, thresholds)
    return np.fromiter((int(verdict.flag) for verdict in verdicts), np.int8, columns.times.size)


class StoredReadings:
    """The accepted temperatures of the journal for `engine.batch_record`, computed when they are first asked for."""

    def __init__(self, columns: "dict[str, CaseProbe]") -> None:
        """Take probes with all readings that may be asked for."""
        self._probes = columns
        self._known: dict[str, tuple[list[int], list[int]]] = {}

    def between(self, probe: str, start: int, end: int) -> Iterable[tuple[int, int]]:
        """Return (time, thousandths of °C) in order of time.

        Args:
            probe: Name of the series.
            start: First instant, UTC ms.
            end: Last instant, inclusive, UTC ms.
        """
        times, milli = self._of(probe)
        first = bisect_left(times, max(start, -FOREVER))
        last = bisect_left(times, end + 1)
        return list(zip(times[first:last], milli[first:last], strict=True))

    def before(self, probe: str, time: int) -> tuple[int, int] | None:
        """Return the newest reading before an instant, or None."""
        times, milli = self._of(probe)
        place = bisect_left(times, time)
        return (times[place - 1], milli[place - 1]) if place else None

    def _of(self, probe: str) -> tuple[list[int], list[int]]:
        if probe not in self._known:
            known = self._probes.get(probe)
            series = None if known is None else accepted(known)
            self._known[probe] = ([], []) if series is None else (series.times.tolist(), series.milli_c.tolist())
        return self._known[probe]
