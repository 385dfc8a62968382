"""Conditioning of a run: many commits of all probes at once, with the same flags and state as one commit at a time.

Rules:

1. The caller guarantees that each series comes in order of its own time, is known already, has one unit and one
   calibration, lies at most an hour behind the others, and that no reading waits when the run begins.
2. Other probes' hours depend on flags, and flags on those hours, but only on earlier ones. The tables are worked out
   again until no answer changes: by induction over the hours these are the right ones.
"""

from collections.abc import Hashable, Mapping
from copy import copy
from typing import Any

import numpy as np
from numpy.typing import NDArray

from monitor.conditioning.columns import Course, Said, Series, work_out
from monitor.conditioning.conditioner import Conditioner, Still
from monitor.conditioning.hours import Answers, HourTable
from monitor.conditioning.record import ProbeRecord
from monitor.conditioning.suspects import calibrated, suspects
from monitor.model.times import HOUR_MS

Ints = NDArray[np.int64]
_ROUNDS = 12


class UnsettledError(Exception):
    """The flags of a run could not be worked out as arrays; it must be fed one at a time."""


class Conditioned:
    """The flags of a run.

    Attributes:
        course: The commits and times of the run.
        series: Its series by id.
        kept: Results that users of the run derive from it and keep here.
    """

    def __init__(self, conditioner: Conditioner, course: Course, rows: Mapping[str, tuple[Ints, Ints]]) -> None:
        """Work out a run.

        Args:
            conditioner: Stands at the beginning of the run; it is not changed.
            course: The run.
            rows: By series, the indices of its rows and their raw values.

        Raises:
            UnsettledError: The tables did not settle.
        """
        self.course = course
        self.series: dict[str, Series] = {}
        self.kept: dict[Hashable, Any] = {}
        names = list(conditioner.state.probes)
        self._answers = Answers(conditioner.thresholds, {name: conditioner.around(name) for name in names})
        for name, record in conditioner.state.probes.items():
            if name not in rows:
                self._answers.tables[name] = HourTable.made(record, np.zeros(0, np.int64), np.zeros(0, np.int64))
        for name, (indices, micro) in rows.items():
            self.series[name] = self._series(conditioner, name, indices, micro)
        self._settle()

    def _series(self, conditioner: Conditioner, name: str, indices: Ints, micro: Ints) -> Series:
        record = conditioner.state.probes[name]
        line, checks = conditioner.aimed(name)
        kept = copy(record)
        kept.hours = list(record.hours)
        time = self.course.time[indices]
        series = Series(name, indices, time, micro, calibrated(line, micro), checks, kept)
        if checks.watched:
            inside = ~checks.refuses(series.milli, micro)
            whole = bool(inside.all())
            series.table = HourTable.made(
                kept, time if whole else time[inside], series.milli if whole else series.milli[inside]
            )
            self._answers.tables[name] = series.table
        return series

    def _settle(self) -> None:
        answers = self._answers
        for turn in range(_ROUNDS):
            before = answers.follows
            answers.follows = self._follows()
            asked = answers.asked
            same = (
                turn > 0
                and before == answers.follows
                and all(
                    answers.company(name).moved(*what) == told
                    for name, all_of in asked.items()
                    for what, (_, told) in all_of.items()
                )
            )
            if same:
                return
            answers.asked = {}
            for name, series in self.series.items():
                hours = np.array(sorted(answers.follows.get(name, ())), dtype=np.int64)
                odd = suspects(series, hours)
                if turn == 0 or len(odd) or series.episodes:
                    work_out(series, odd, self.course, answers)
            for name, series in self.series.items():
                if series.checks.watched:
                    answers.tables[name] = series.table
        raise UnsettledError

    def _follows(self) -> dict[str, frozenset[int]]:
        found = {}
        for name, series in self.series.items():
            if series.checks.core and len(series.time):
                hours = series.time // HOUR_MS
                found[name] = self._answers.look(name, hours[np.concatenate(([True], hours[1:] != hours[:-1]))])
        return found

    def counts(self, rows: int) -> dict[str, int]:
        """Return the number of readings of each series among the first rows of the run."""
        return {name: int(series.rows.searchsorted(rows)) for name, series in self.series.items()}

    def said(self) -> list[Said]:
        """Return all verdicts that were not simply given with their own reading, in order."""
        return sorted((one for series in self.series.values() for one in series.said), key=lambda one: one[:2])

    def dues(self) -> list[tuple[int, int | None]]:
        """Return (key, due) for each change of the conditioner's deadline: from that key on, it is `due` (UTC ms, or None)."""
        waits = [one for series in self.series.values() for one in series.waits]
        keys = sorted({key for one in waits for key in (one.key, one.until_key)})
        return [
            (key, min((one.due for one in waits if one.key <= key < one.until_key), default=None)) for key in keys
        ]  # fmt: skip

    def take_over(self, conditioner: Conditioner, rows: int, now: int) -> None:
        """Bring a conditioner to a point within the run.

        Args:
            conditioner: Stands at the beginning of the run; it is changed.
            rows: Number of the run's rows taken so far.
            now: Deadlines up to this instant have been served, UTC ms.
        """
        records: dict[str, ProbeRecord] = {}
        consulted: list[tuple[int, str, int]] = []
        for name, count in self.counts(rows).items():
            series = self.series[name]
            if count:
                record = records[name] = series.record_after(count, now, self.course, self._answers)
                consulted += self._consulted(conditioner, name, series, record, count)
        conditioner.take_over(records, [(place, hour) for _, place, hour in sorted(consulted)])

    def _consulted(
        self, conditioner: Conditioner, name: str, series: Series, record: ProbeRecord, count: int
    ) -> list[tuple[int, str, int]]:
        place = conditioner.place(name)
        ambients, _, cores = self._answers.around[name]
        asked = [(index, hour) for (_, hour), (index, _) in self._answers.asked.get(name, {}).items() if index < count]
        hours = [hour for _, hour in asked]
        # Places enter the state in the order of their first consultation, because the dict's order is part of the snapshot.
        # A core probe's place is in it before a run, so only the readings that asked about standing still decide the order.
        first = min((index for index, _ in asked), default=0)
        if series.checks.core and ambients and cores and record.follows_hour > 0:
            hours.append(record.follows_hour)
        return [(int(series.rows[first]), place, max(hours) - 1)] if hours else []

    def still(self, conditioner: Conditioner, rows: int, now: int) -> list[Still]:
        """Return the result of `Conditioner.still` at a point within the run.

        Args:
            conditioner: Stands at the beginning of the run; it is not changed.
            rows: Number of the run's rows taken so far.
            now: Deadlines up to this instant have been served, UTC ms.

        Returns:
            The probes that stand still, by id.
        """
        fresh = {}
        wanted = conditioner.thresholds.flat_suspect_ms
        for name, count in self.counts(rows).items():
            series = self.series[name]
            if count and self._may_stand(series, count, wanted):
                fresh[name] = series.record_after(count, now, self.course, self._answers)
        unheard = {
            name: record
            for name, record in conditioner.state.probes.items()
            if name not in self.series or self.series[name].rows[0] >= rows
        }
        return conditioner.still_of(fresh | unheard)

    def _may_stand(self, series: Series, count: int, wanted: int) -> bool:
        # What stood still long enough within the run was asked about, in an episode; this spares working out the other records.
        return bool(series.episodes) or int(series.time[count - 1] - series.time[0]) <= wanted
