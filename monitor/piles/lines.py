"""Takes in the readings of a batch's core probes, and turns them into a few pending changes of level for the walk.

Rules:

1. Between two consecutive accepted readings of one probe at most `max_gap` apart, temperature is the straight line. A
   longer silence is unproven; so is the time from `probe in` to the first reading and from the last to `probe out`.
2. A probe is in service from `probe in` (included) to `probe out` (not included).
3. A probe whose newest reading (or `probe in`) is more than `lag` older than another's newest is *absent* from the
   next millisecond on, until its next reading. A silence into which no reading of another probe fell later than `lag`
   after its start is a mere gap: it holds the frontier back, and while it lasts the probe is unproven.
4. Frontier: the earliest newest reading (or the millisecond before `probe in`) among the probes in service that are
   not absent; with none, the last instant at which a probe went out.
5. The usual reading costs a comparison: it is inside the probe's `_Band`, in which neither its level changes nor a
   fall as of a turning could show, and before `until`, up to which it closes no gap and ends no hour. Bands are a cache
   and no part of the state: they are drawn anew as readings come.
6. The two lines of rounds by hand (`rounds`) are never absent, and bridge a gap of their own.
7. If the settings bridge longer gaps than a rule allows (`RULE_GAP_MS`, `RULE_HAND_GAP_MS`), or values of one instant
   disagree (`unread`), the line runs on for phases and alarms, and for the rule that time is unproven (`Stir.LONG`).
8. How much is kept of the past depends on events alone, never on bands: a line is trimmed by the first reading of each
   hour, all lines once a batch was worked out again (`forget`).
"""

from bisect import bisect_left, bisect_right, insort

from monitor.model.thresholds import RULE_GAP_MS, RULE_HAND_GAP_MS, PileThresholds
from monitor.model.times import HOUR_MS
from monitor.piles.cuts import ABSENT, UNPROVEN, Cuts
from monitor.piles.falls import FALL_MILLI_K, READINGS_KEPT_MS, watch_fall
from monitor.piles.rounds import ROUND_LINES
from monitor.piles.state import Pending, ProbeLine, Stir, WalkState

_BAND_MILLI_K = 2_000
"""Distance above its newest high at which a reading makes the band be drawn anew (our choice; only speed depends on it)."""

_LOWS_KEPT = 50
"""Hours of lowest readings kept behind the walk: the 48 h of *reheating*, and the hours still open."""


class _Band:
    """A line, and the newer readings that only have to be remembered: low <= value < high and time < until."""

    __slots__ = ("high", "line", "low", "until")

    def __init__(self, line: ProbeLine) -> None:
        self.line = line
        self.low = self.high = self.until = 0  # the first reading must be examined, whatever its value


class Lines:
    """The feeding side of a walk; not safe for use in parallel."""

    __slots__ = ("_bands", "_cuts", "_gap_ms", "_hand_gap_ms", "_lag_ms", "_lines", "_lows_ms", "_state")

    def __init__(self, state: WalkState, cuts: Cuts, thresholds: PileThresholds) -> None:
        self._state = state
        self._cuts = cuts
        self._lines = state.lines
        self._bands = {probe: _Band(line) for probe, line in state.lines.items()}
        self._gap_ms = thresholds.max_gap_ms
        self._hand_gap_ms = thresholds.hand_gap_ms
        self._lag_ms = thresholds.lag_ms
        self._lows_ms = thresholds.reheat_span_ms + _LOWS_KEPT * HOUR_MS

    def reading(self, probe: str, time: int, milli: int) -> None:
        """Take in an accepted core reading; it is ignored if the probe is out of service or has a newer one.

        Args:
            probe: Id of the probe.
            time: The reading's own time, UTC ms.
            milli: Thousandths of a degree Celsius.
        """
        band = self._bands.get(probe)
        if band is None:
            return
        line = band.line
        # Rule 5: such a reading can change neither a level nor a fall, so it is only remembered.
        if line.time < time < band.until and band.low <= milli < band.high:
            line.time = time
            line.times.append(time)
            line.values.append(milli)
        elif line.serving and (time > line.time or (time == line.time and not line.heard)):
            self._examine(probe, band, time, milli)

    def enter(self, probe: str, at: int) -> None:
        """Put a probe into service at `at`; nothing happens if it is there already."""
        line = self._lines.setdefault(probe, ProbeLine())
        if line.serving:
            return
        self._bands[probe] = _Band(line)
        line.serving, line.heard, line.absent, line.unread = True, False, False, False
        line.gap_ms = self._hand_gap_ms if probe in ROUND_LINES else 0
        line.time = at
        self.push((at, Stir.SERVICE, probe, 1))

    def leave(self, probe: str, at: int) -> None:
        """Take a probe out of service at `at`; nothing happens if it is out already."""
        line = self._lines.get(probe)
        if line is None or not line.serving:
            return
        # Rule 1: the time from the last reading to `probe out` is unproven.
        if not line.absent and line.time + 1 < at:
            self._silence(probe, line, (at, ""))
        if line.heard:
            self._state.newest_out = max(self._state.newest_out, line.time)
        came = (at, Stir.SERVICE, probe, 1)
        if not line.heard and line.time == at and came in self._state.pending:
            # It came in at that very instant, so it never was in; of one instant, going out would be taken in first.
            self._state.pending.remove(came)
        else:
            self.push((at, Stir.SERVICE, probe, 0))
        line.serving, line.absent = False, False
        line.fallen = None
        self.undraw(probe)
        self._close_hour(line)
        line.times.append(at)
        line.values.append(None)  # no line may be drawn from this time in service to the next
        self._state.known = max(self._state.known, at)

    def unread(self, probe: str, time: int) -> None:
        """Let the line from a probe's reading before an instant (UTC ms) to the one after it prove nothing for the rule."""
        line = self._lines.get(probe)
        if line is not None and line.serving and time >= line.time:
            line.unread = True
            self.undraw(probe)

    def push(self, item: Pending) -> None:
        """Add a change that becomes due at its instant; the list stays sorted, so that the order of feeding does not show."""
        pending = self._state.pending
        if not pending or pending[-1] < item:
            pending.append(item)
        else:
            insort(pending, item)

    def frontier(self) -> tuple[int, bool]:
        """Return the instant up to which the record can be examined (UTC ms), and whether a probe may lag behind it."""
        oldest, newest = -1, self._state.newest_out
        for line in self._lines.values():
            if line.serving and not line.absent:
                # A reading at the very instant of coming into service may still come.
                known = line.time if line.heard else line.time - 1
                if known < oldest or oldest < 0:
                    oldest = known
                if line.heard and known > newest:
                    newest = known
        # Usually nobody lags, and the probe with the oldest newest reading decides. Otherwise the laggards do not hold the
        # frontier back (rule 3), and `leave_behind` must declare them absent.
        if newest - self._lag_ms <= oldest and oldest >= 0:
            return oldest, False
        late = self._newest() - self._lag_ms
        found = [
            line.time if line.heard else line.time - 1
            for line in self._lines.values()
            if line.serving and not line.absent and line.time >= late
        ]
        return (min(found) if found else max(self._state.known, self._state.now)), True

    def leave_behind(self) -> None:
        """Declare the probes absent that lag too far behind; called right before the record is examined."""
        late = self._newest() - self._lag_ms
        for probe, line in self._lines.items():
            if line.serving and not line.absent and line.time < late and not line.gap_ms:
                line.absent = True
                self.undraw(probe)
                self.push((line.time + 1, Stir.LEVEL, probe, ABSENT))
                if line.heard:
                    self._close_hour(line)

    def touches_past(self, probe: str, time: int) -> bool:
        """Return whether a core reading would change the examined record (see `walk.Walk.touches_past`)."""
        state = self._state
        if time <= state.now:
            return True
        line = self._lines.get(probe)
        if line is not None:
            if time <= line.time and (time < line.time or line.heard):
                return True
            if line.absent and not self._was_left_behind(line, (time, probe)):
                return True
        if not state.gaps:
            return False
        late = self._lag_ms
        return any(
            probe != silent and start + late < time and (time, probe) < (end, silent)
            for silent, start, end in state.gaps
        )

    def touches_service(self, probe: str, at: int) -> bool:
        """Return whether a probe's coming in or going out at `at` would change the examined record."""
        line = self._lines.get(probe)
        if at <= self._state.now:
            return True
        if line is None:
            return False
        if line.serving:
            return at < line.time or (at == line.time and line.heard)
        return bool(line.times) and at < line.times[-1]

    @property
    def unbroken_ms(self) -> int:
        """Longest gap after which a probe's reading is still an ordinary one."""
        return min(self._gap_ms, RULE_GAP_MS)

    def undraw(self, probe: str) -> None:
        """Forget a probe's band, so that its next reading is examined."""
        self._bands[probe].until = 0

    @staticmethod
    def kept_from(now: int, time: int) -> int:
        """Return from when on readings of a line are kept, with the last one before: nothing looks further back.

        Args:
            now: The instant examined, UTC ms.
            time: The probe's newest reading, UTC ms.
        """
        return min(now, time) - READINGS_KEPT_MS

    @staticmethod
    def trim(line: ProbeLine, keep: int) -> None:
        """Drop the readings of a line before its last one at or before `keep` (UTC ms)."""
        first = bisect_right(line.times, keep) - 1
        if first > 0:
            del line.times[:first], line.values[:first]

    def note_hours(self, line: ProbeLine, found: list[tuple[int, int]], now: int, time: int) -> None:
        """Note the lowest readings of hours that are complete, and drop the hours that nothing to come looks at.

        Args:
            line: The probe's line; changed in place.
            found: (start of the hour, lowest reading in it), rising; the first may be the newest noted already.
            now: The instant examined, UTC ms.
            time: The probe's newest reading then, UTC ms.
        """
        lows = line.lows
        if found and lows and lows[-1][0] == found[0][0]:
            found[0] = (found[0][0], min(found[0][1], lows.pop()[1]))
        lows += found
        keep = min(now, time) - self._lows_ms
        if lows and lows[0][0] < keep:
            del lows[: bisect_left(lows, (keep,))]

    def forget(self) -> None:
        """Drop all that nothing to come looks at: what is left does not show how the record was fed."""
        state = self._state
        state.gaps = [gap for gap in state.gaps if gap[2] > state.now]
        for line in self._lines.values():
            self.trim(line, self.kept_from(state.now, line.time))
            self.note_hours(line, [], state.now, line.time)

    def level(self, line: ProbeLine) -> int:
        """Return the level of a line's newest reading; it has one in this time in service."""
        newest = line.values[-1]
        assert newest is not None
        return self._cuts.level(newest)

    def relevel(self, probe: str, line: ProbeLine) -> None:
        """Recompute a probe's level at the instant examined, and its pending changes of level after it; for `ahead`.

        The line must be known from that instant to its newest reading.
        """
        state, now = self._state, self._state.now
        state.pending = [item for item in state.pending if item[1] != Stir.LEVEL or item[2] != probe]
        index = bisect_right(line.times, now) - 1
        readings = list(zip(line.times[index:], line.values[index:], strict=True))
        before, value = readings[0]
        assert value is not None
        line.walk_level = self._cuts.level(value)
        for time, milli in readings[1:]:
            assert value is not None
            assert milli is not None
            if self._cuts.level(value) != self._cuts.level(milli):
                for at, level in self._cuts.crossings(before, value, time, milli):
                    if at <= now:
                        line.walk_level = level
                    else:
                        self.push((at, Stir.LEVEL, probe, level))
            before, value = time, milli

    def _examine(self, probe: str, band: _Band, time: int, milli: int) -> None:
        line, level = band.line, self._cuts.level(milli)
        self._mark_long(probe, line, time)
        if line.absent:
            self.push((time, Stir.LEVEL, probe, level))
        elif not line.heard or time - line.time > (line.gap_ms or self._gap_ms):
            self._silence(probe, line, (time, probe))
            self.push((time, Stir.LEVEL, probe, level))
        elif level != self.level(line):
            before = line.values[-1]
            assert before is not None
            for at, passed in self._cuts.crossings(line.time, before, time, milli):
                self.push((at, Stir.LEVEL, probe, passed))
        begins_hour = line.time // HOUR_MS != time // HOUR_MS
        if line.heard and begins_hour:
            self._close_hour(line)
        line.heard, line.absent, line.time = True, False, time
        line.times.append(time)
        line.values.append(milli)
        if begins_hour:
            self.trim(line, self.kept_from(self._state.now, time))
        self._draw_band(probe, band, level)

    def _mark_long(self, probe: str, line: ProbeLine, time: int) -> None:
        """Mark the gap before a reading if the walk bridges it and the rule does not (rule 7)."""
        apart, unread, line.unread = time - line.time, line.unread, False
        bridged = line.heard and not line.absent and apart <= (line.gap_ms or self._gap_ms)
        if bridged and (unread or apart > self._rule_gap(line)):
            self.push((line.time + 1, Stir.LONG, probe, 1))
            self.push((time, Stir.LONG, probe, 0))

    def _rule_gap(self, line: ProbeLine) -> int:
        """Return the longest gap of a line that still proves temperature for a rule, ms."""
        return min(line.gap_ms, RULE_HAND_GAP_MS) if line.gap_ms else min(self._gap_ms, RULE_GAP_MS)

    def _draw_band(self, probe: str, band: _Band, level: int) -> None:
        line = band.line
        time, milli = line.time, line.values[-1]
        assert milli is not None
        highest, stir = watch_fall(line, time, milli)
        if stir is not None:
            self.push((time, stir[0], probe, stir[1]))
        if line.fallen is not None:
            band.until = 0
            return
        low, high = self._cuts.band(level)
        high = min(high, highest + _BAND_MILLI_K)
        band.high = high
        band.low = max(low, max(highest, high - 1) - FALL_MILLI_K + 1)
        band.until = min((time // HOUR_MS + 1) * HOUR_MS, time + self._rule_gap(line) + 1)

    def _newest(self) -> int:
        newest = self._state.newest_out
        for line in self._lines.values():
            if line.heard and line.serving and line.time > newest:
                newest = line.time
        return newest

    def _silence(self, probe: str, line: ProbeLine, end: tuple[int, str]) -> None:
        # The gap ended before it was examined. Decide as in-order feeding would: absent (lagged > `lag_ms`) or merely unproven.
        if end[0] - line.time <= self._lag_ms or line.gap_ms:
            if line.heard:
                self.push((line.time + 1, Stir.LEVEL, probe, UNPROVEN))
        elif self._was_left_behind(line, end):
            self.push((line.time + 1, Stir.LEVEL, probe, ABSENT))
        else:
            if line.heard:
                self.push((line.time + 1, Stir.LEVEL, probe, UNPROVEN))
            now = self._state.now
            self._state.gaps = [gap for gap in self._state.gaps if gap[2] > now]
            self._state.gaps.append((probe, line.time, end[0]))

    def _was_left_behind(self, line: ProbeLine, end: tuple[int, str]) -> bool:
        # In-order feeding would have left the probe behind if another probe's reading fell between the lag and the gap's end.
        # (Of its own readings none is later than its newest.)
        late = line.time + self._lag_ms
        for key, other in self._lines.items():
            for index in range(bisect_right(other.times, late), len(other.times)):
                if (other.times[index], key) >= end:
                    break
                if other.values[index] is not None:
                    return True
        return False

    def _close_hour(self, line: ProbeLine) -> None:
        # Only the lowest reading of a finished hour is kept: *reheating* needs no more, and the readings themselves may go.
        index = len(line.times) - 1
        if index < 0 or line.values[index] is None:
            return
        start = line.times[index] // HOUR_MS * HOUR_MS
        first = bisect_left(line.times, start)
        lowest = min([value for value in line.values[first:] if value is not None])
        self.note_hours(line, [(start, lowest)], self._state.now, line.time)


def value_at(line: ProbeLine, at: int, gap_ms: int) -> int | None:
    """Return the temperature of a probe's line at an instant not yet trimmed.

    Args:
        line: The probe.
        at: UTC ms.
        gap_ms: The longest silence over which the line is drawn, unless it has one of its own.

    Returns:
        Thousandths of a degree Celsius, rounded down, or None if unproven.
    """
    index = bisect_right(line.times, at) - 1
    if index < 0:
        return None
    start, first = line.times[index], line.values[index]
    if first is None or start == at:
        return first
    if index + 1 == len(line.times):
        return None
    end, last = line.times[index + 1], line.values[index + 1]
    if last is None or end - start > (line.gap_ms or gap_ms):
        return None
    return first + (last - first) * (at - start) // (end - start)
