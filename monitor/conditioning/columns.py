"""Conditioning of one series' readings at once: the same flags and state as feeding them one by one.

Rules:

1. A reading is *plain* if it surely gets the flag that its series gives when no check objects: it is in
   range, no error code, near the last accepted reading, and its raw value has changed within a day. Plain readings are
   worked out as arrays. Around every other reading the ordinary step (`flags.step`) runs, from a record made up from the
   arrays, until the last reading is accepted and no reading waits: an *episode*.
2. A *key* is a place in a run at which verdicts are given: 2 * row + 1 with a row, 2 * (first row of a commit) by a deadline
   before it.
"""

from collections.abc import Hashable
from copy import copy
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from monitor.conditioning.calibration import NEVER
from monitor.conditioning.checks import Checks
from monitor.conditioning.flags import GAP_MS, expire, step
from monitor.conditioning.hours import Answers, Asked, HourTable
from monitor.conditioning.record import ProbeRecord
from monitor.model.flags import ACCEPTED, Flag, FlagReason, Verdict
from monitor.model.times import HOUR_MS

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

NEVER_SETTLED = 1 << 62
_OWN = 1 << 62
_MUTE = (FlagReason.ERROR_CODE, FlagReason.POWER_UP)


class Course(NamedTuple):
    """The commits and times of a run, common to all series.

    Attributes:
        at: Instant of each commit, UTC ms.
        first: Index of each commit's first row; behind the last, the number of rows.
        time: Own time of every row of the run, whatever its series.
    """

    at: Ints
    first: Ints
    time: Ints

    def commit_of(self, row: int) -> int:
        """Return the commit that holds a row."""
        return int(np.searchsorted(self.first, row, side="right")) - 1


class Said(NamedTuple):
    """A verdict that was not simply given with its own reading.

    Attributes:
        key: Place in the run at which it was given.
        order: Order among equal keys.
        at: The deadline's instant, UTC ms, or -1 if it comes with a row.
        verdict: The verdict.
    """

    key: int
    order: tuple[int, str, int]
    at: int
    verdict: Verdict


class Episode(NamedTuple):
    """Readings `start <= index < end` that the ordinary step took, and the record before and after them."""

    start: int
    end: int
    before: ProbeRecord
    after: ProbeRecord


class Wait(NamedTuple):
    """A reading that waited: its index, the keys at which it began and ended, and the instant from which no answer can come."""

    reading: int
    key: int
    until_key: int
    due: int
    power_up: bool


@dataclass(slots=True)
class Series:
    """One series in a run.

    Attributes:
        name: Its id.
        rows: Indices of its rows.
        time, micro, milli: Its readings, UTC ms, raw and calibrated.
        checks: Its limits.
        record: Its record before the run; never changed.
        noted: Readings that count towards the hours; None: all do.
        episodes, said, waits: Everything that was not plain, in order.
        late: Rows that came when the reading they would have answered was settled already.
        key, accepted_time, accepted_milli: Its accepted readings in the order in which they were accepted.
        table: Its temperatures by the hour.
        kept: Results that users of the run derive from it and keep here.
    """

    name: str
    rows: Ints
    time: Ints
    micro: Ints
    milli: Ints
    checks: Checks
    record: ProbeRecord
    noted: Bools | None = None
    episodes: list[Episode] = field(default_factory=list)
    said: list[Said] = field(default_factory=list)
    waits: list[Wait] = field(default_factory=list)
    late: list[int] = field(default_factory=list)
    key: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    accepted_time: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    accepted_milli: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    table: HourTable = field(default_factory=HourTable)
    kept: dict[Hashable, Any] = field(default_factory=dict)

    def record_after(self, index: int, now: int, course: Course, answers: Answers) -> ProbeRecord:
        """Work out the record at a point within the run.

        Args:
            index: Number of the series' readings taken so far.
            now: Deadlines up to this instant have been served, UTC ms.
            course: The run.
            answers: The other probes' hours.

        Returns:
            A record of its own; `record` stays as it is.
        """
        episode = next((one for one in self.episodes if one.start < index < one.end), None)
        if episode is None:
            record = self.plain_record(index)
        else:
            record = copy(episode.before)
            _stepped(self, record, episode.start, index, answers)
        if record.pending is not None:
            wait = next(one for one in reversed(self.waits) if one.reading < index)
            if _settled(wait, self.said, now, course):
                expire(record, self.checks, wait.due)
        if self.checks.watched:
            self._fill_hours(record, index)
        return record

    def plain_record(self, index: int) -> ProbeRecord:
        """Return the record after the first `index` readings, without the hours; readings behind the last episode are plain."""
        start, base = 0, self.record
        for one in self.episodes:
            if one.end <= index:
                start, base = one.end, one.after
        record = copy(base)
        if index > start:
            _pass_plain(self, record, start, index)
        return record

    def _fill_hours(self, record: ProbeRecord, index: int) -> None:
        time, milli = self.time[:index], self.milli[:index]
        if self.noted is not None:
            noted = self.noted[:index]
            if record.pending is not None:
                noted = noted & (time < record.pending.time)
            time, milli = time[noted], milli[noted]
        record.hours, current = self.table.kept(self.record, time, milli)
        record.hour, record.low, record.high, record.total, record.count = current


def _settled(wait: Wait, said: list[Said], now: int, course: Course) -> bool:
    for one in said:
        if one.key == wait.until_key:
            if one.at >= 0:
                return one.at <= now
            return one.key < 2 * int(course.first[np.searchsorted(course.at, now, side="right")])
    return False


def _pass_plain(series: Series, record: ProbeRecord, start: int, end: int) -> None:
    """Bring a record over the readings from `start` to `end - 1`, all of them plain; the hours are left out."""
    time, micro = series.time, series.micro
    last_time = int(time[end - 1])
    record.time = record.accepted_time = last_time
    record.accepted_milli = int(series.milli[end - 1])
    if not series.checks.watched:
        return
    if series.checks.core:
        record.follows_hour, record.follows = last_time // HOUR_MS, False
    steps = raw_steps(series, record, start, end)
    changed = raw_changes(series, record, start, end, steps)
    if len(changed):
        since = int(time[start + int(changed[-1])])
        record.still_since, record.still_ms = since, last_time - since
        record.moved_hour = NEVER
        steps = np.abs(steps)
        steps = steps[steps > 0]
        if len(steps):
            smallest = int(steps.min())
            record.step_micro = min(smallest, record.step_micro) if record.step_micro else smallest
    else:
        record.still_ms += last_time - record.raw_time
    record.micro, record.raw_time = int(micro[end - 1]), last_time


def raw_steps(series: Series, record: ProbeRecord, start: int, end: int) -> Ints:
    """Work out the differences between successive raw values.

    Args:
        series: The series.
        record: Its record before reading `start`.
        start: Index of the first reading.
        end: Index behind the last reading.

    Returns:
        One step for each reading, millionths of the unit; the first is 0 if there was no reading before.
    """
    micro = series.micro[start:end]
    steps = np.empty(len(micro), dtype=np.int64)
    np.subtract(micro[1:], micro[:-1], out=steps[1:])
    steps[0] = 0 if record.micro is None else int(micro[0]) - record.micro
    return steps


def raw_changes(series: Series, record: ProbeRecord, start: int, end: int, steps: Ints) -> Ints:
    """Find the readings at which the count of standing still begins anew.

    Args:
        series: The series.
        record: Its record before reading `start`.
        start: Index of the first reading.
        end: Index behind the last reading.
        steps: Result of `raw_steps` for these readings.

    Returns:
        Rising indices, counted from `start`, of readings whose raw value changed or that follow a gap.
    """
    time = series.time[start:end]
    anew = steps != 0
    anew[1:] |= time[1:] - time[:-1] > GAP_MS
    anew[0] |= record.micro is None or int(time[0]) - record.raw_time > GAP_MS
    return np.flatnonzero(anew)


def work_out(series: Series, odd: Ints, course: Course, answers: Answers) -> None:
    """Work out a series: plain readings in one go, the ordinary step around the others.

    Args:
        series: Its results are filled in.
        odd: Rising indices of the readings that are not plain, as `suspects` returns them.
        course: The run.
        answers: The other probes' hours.
    """
    was_plain = not series.episodes
    series.episodes, series.said, series.waits, series.late = [], [], [], []
    count = len(series.time)
    plain = np.ones(count, dtype=np.bool_)
    index = 0
    while (place := int(np.searchsorted(odd, index))) < len(odd):
        start = int(odd[place])
        record = series.plain_record(start)
        record.hours, record.count = [], 0
        before = copy(record)
        index = _episode(series, record, start, course, answers)
        series.episodes.append(Episode(start, index, before, record))
        plain[start:index] = False
    _settle_rest(series, course)
    _note(series, plain)
    _accept(series, plain)
    if series.checks.watched and (series.episodes or not was_plain):
        # Else the table stays as it was begun, with all readings that do not fail by themselves: here, all.
        noted = series.noted
        time, milli = (series.time, series.milli) if noted is None else (series.time[noted], series.milli[noted])
        series.table = HourTable.made(series.record, time, milli)


def _stepped(series: Series, record: ProbeRecord, start: int, end: int, answers: Answers) -> None:
    company = Asked(series.name, answers)
    times, millis, micros = series.time, series.milli, series.micro
    for index in range(start, end):
        company.index = index
        time, key = int(times[index]), 2 * int(series.rows[index]) + 1
        if record.pending is not None:
            wait = next(one for one in reversed(series.waits) if one.reading < index)
            if wait.until_key <= key and any(
                one.key == wait.until_key and one.order[0] == wait.due for one in series.said
            ):
                expire(record, series.checks, wait.due)
        step(record, series.checks, time, int(millis[index]), int(micros[index]), company)


def _episode(series: Series, record: ProbeRecord, start: int, course: Course, answers: Answers) -> int:
    times, millis, micros, checks = series.time, series.milli, series.micro, series.checks
    company = Asked(series.name, answers)
    for index in range(start, len(times)):
        time, key = int(times[index]), 2 * int(series.rows[index]) + 1
        company.index = index
        if record.pending is not None and _expired(series, record, course, key) and time < record.expired:
            # The waiting reading was settled before this answer came, so this row changes the past for the feeder.
            series.late.append(int(series.rows[index]))
        waited = record.pending
        verdicts = step(record, checks, time, int(millis[index]), int(micros[index]), company)
        series.said += [Said(key, (_OWN, series.name, n), -1, verdict) for n, verdict in enumerate(verdicts)]
        pending = record.pending
        if pending is not waited:
            if waited is not None:
                series.waits[-1] = series.waits[-1]._replace(until_key=key)
            if pending is not None:
                series.waits.append(Wait(index, key, NEVER_SETTLED, pending.until + 1, pending.power_up))
        if pending is None and record.accepted_time == record.time:
            return index + 1
    return len(times)


def _expired(series: Series, record: ProbeRecord, course: Course, before: int = NEVER_SETTLED) -> bool:
    """Settle a waiting reading without an answer if its deadline falls into the run before a key; tell whether it did."""
    wait = series.waits[-1]
    row = wait.key // 2 + 1
    instant = max(wait.due, int(course.at[course.commit_of(row - 1)]) + 1)
    served = int(np.searchsorted(course.at, instant))
    last = int(course.first[served])
    ahead = np.flatnonzero(course.time[row:last] >= wait.due)
    if len(ahead):
        key, at = 2 * (row + int(ahead[0])) + 1, -1
    elif served < len(course.at):
        key, at = 2 * last, instant
    else:
        return False
    if key > before:
        return False
    for verdict in expire(record, series.checks, wait.due):
        series.said.append(Said(key, (wait.due, series.name, 0), at, verdict))
    series.waits[-1] = wait._replace(until_key=key)
    return True


def _settle_rest(series: Series, course: Course) -> None:
    """Settle a reading that waits at the series' end, if a deadline or another probe's reading does so in the run."""
    if series.episodes and series.episodes[-1].after.pending is not None:
        _expired(series, copy(series.episodes[-1].after), course)


def _note(series: Series, plain: Bools) -> None:
    """Set `series.noted`: readings that count towards the hours. Failed, possible power-up and waiting ones do not."""
    series.noted = None
    if not series.episodes or not series.checks.watched:
        return
    noted = plain.copy()
    index_of = {int(series.time[i]): i for one in series.episodes for i in range(one.start, one.end)}
    held = {one.reading for one in series.waits if one.power_up}
    for said in series.said:
        index = index_of[said.verdict.time]
        noted[index] = said.verdict.flag != Flag.FAIL and index not in held
    series.noted = noted


def _accept(series: Series, plain: Bools) -> None:
    if not series.episodes:
        series.key, series.accepted_time, series.accepted_milli = 2 * series.rows + 1, series.time, series.milli
        return
    where = np.flatnonzero(plain)
    said = [one for one in series.said if one.verdict.flag in ACCEPTED]
    time = np.concatenate((series.time[where], np.array([one.verdict.time for one in said], dtype=np.int64)))
    milli = np.concatenate((series.milli[where], np.array([one.verdict.milli for one in said], dtype=np.int64)))
    key = np.concatenate((2 * series.rows[where] + 1, np.array([one.key for one in said], dtype=np.int64)))
    order = np.argsort(time, kind="stable")  # accepted readings come in order of time
    series.key, series.accepted_time, series.accepted_milli = key[order], time[order], milli[order]


def is_fire(said: Said) -> bool:
    """Return whether the watch for dangerous heat must look at a verdict: suspect or fail, but no known error code."""
    return said.verdict.flag not in ACCEPTED and said.verdict.reason not in _MUTE
