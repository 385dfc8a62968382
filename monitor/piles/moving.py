"""The two limits that move with time: *ready for worms* against ambient, and *reheating* against the batch's own low.

Rules:

1. They are worked out at whole hours (UTC) and stand for that hour; inside it, crossings are exact.
2. Ready: mean of ambient (`air`) over the last 7 days + 8 °C, never below 15 °C; off if ambient covers less than
   75 % of them, and no tighter than the fixed limit.
3. Reheating: 40 °C, or 5 °C above the lowest hour of the last 48 h, whichever is higher; None before the batch has
   cooled for a whole hour. An hour's temperature is the highest among its probes' lowest readings in it; only hours
   that began after the batch began to cool count, and only those in which every probe in service (absent ones
   left out) was heard.
4. They are watched only while they can decide something: from the instant at which the batch cools, or is within the fixed
   limit.
"""

from bisect import bisect_left, bisect_right

from monitor.model.number_or_column import Whole, higher, lower
from monitor.model.thresholds import PileThresholds
from monitor.model.times import HOUR_MS
from monitor.model.words import Phase
from monitor.piles.air import forget_air, mean_air
from monitor.piles.cuts import ABSENT, Cut, Cuts
from monitor.piles.lines import Lines
from monitor.piles.signals import Signals
from monitor.piles.state import ProbeLine, Stir, WalkState

_NONE = Cuts(())


def ready_limit(mean: Whole, limits: PileThresholds) -> Whole:
    """Return the limit for worms at a mean of ambient, or at each of a column of means (rule 2), thousandths of °C."""
    least = higher(mean + limits.ready_above_ambient_milli_k, limits.ready_ambient_floor_milli_c)
    return lower(least, limits.ready_milli_c)


def reheat_limit(lowest: Whole, limits: PileThresholds) -> Whole:
    """Return the limit of *reheating* at a lowest hour, or at each of a column of these (rule 3), thousandths of °C."""
    return higher(lowest + limits.reheat_rise_milli_k, limits.warm_milli_c)


class Moving:
    """Sets the moving limits at whole hours and turns readings into pending changes of moving level."""

    __slots__ = ("_cuts", "_gap_ms", "_lines", "_over", "_ready", "_reheat", "_state", "_thresholds")

    def __init__(self, state: WalkState, lines: Lines, thresholds: PileThresholds) -> None:
        self._state = state
        self._lines = lines
        self._thresholds = thresholds
        self._gap_ms = thresholds.max_gap_ms
        self._restore()

    @property
    def limits(self) -> PileThresholds:
        """The thresholds that the moving limits are made of."""
        return self._thresholds

    @property
    def deadband_milli_k(self) -> int:
        """Distance above the limit for worms at which a probe ends a dwell that had begun."""
        return self._thresholds.deadband_milli_k

    @property
    def cuts(self) -> Cuts | None:
        """The limits in force this hour, or None if there is none."""
        return None if self._cuts is _NONE else self._cuts

    def unsettled(self) -> bool:
        """Return whether known readings change a level later than the changes recorded so far."""
        if self._state.moving.hour is None or self._cuts is _NONE:
            return False
        for line in self._state.lines.values():
            known = [v for v in line.values[max(bisect_right(line.times, line.moving_to) - 1, 0) :] if v is not None]
            if known:
                low, high = self._cuts.band(self._cuts.level(known[0]))
                if min(known) < low or max(known) >= high:
                    return True
        return False

    def wanted(self, signals: Signals) -> bool:
        """Return whether a moving limit could decide anything now."""
        state = self._state
        if state.phase in (Phase.COOLING, Phase.READY) and not state.reheated:
            return True
        return state.phase is not Phase.READY and (signals.within_ready or state.ready.start is not None)

    def begin_hour(self, at: int) -> None:
        """Work out the limits for the hour that holds `at`, and the level of each probe at `at`."""
        state, limits = self._state, self._thresholds
        hour = at // HOUR_MS * HOUR_MS
        state.moving.hour = hour
        mean = mean_air(state.air, hour, limits.ready_ambient_span_ms, limits.ready_ambient_coverage_milli_pct)
        state.moving.ready_milli_c = None if mean is None else ready_limit(mean, limits)
        state.moving.reheat_milli_c = self._reheat_limit(hour)
        forget_air(state.air, hour, limits.ready_ambient_span_ms)
        self._restore()
        # Pending changes were levels among the old limits and mean nothing among the new ones.
        state.pending = [item for item in state.pending if item[1] != Stir.MOVING]
        for line in state.lines.values():
            line.moving_level, line.moving_to = 0, at
            self._place(line, at)

    def end(self) -> None:
        """Stop watching."""
        moving = self._state.moving
        moving.hour = moving.ready_milli_c = moving.reheat_milli_c = None
        self._restore()

    def extend(self, frontier: int) -> None:
        """Record the changes of moving level up to the frontier or the end of the hour."""
        hour = self._state.moving.hour
        if hour is None or self._cuts is _NONE:
            return
        bound = min(frontier, hour + HOUR_MS - 1)
        for probe, line in self._state.lines.items():
            if line.moving_to < bound:
                self._follow(probe, line, bound)

    def nothing_until(self, frontier: int, passing: bool) -> None:
        """Note that no level changes with any effect up to the frontier or the end of the hour: `extend` without the search.

        Args:
            frontier: UTC ms.
            passing: Whether the level of a probe may have changed nevertheless.
        """
        hour = self._state.moving.hour
        if hour is None or self._cuts is _NONE:
            return
        bound = min(frontier, hour + HOUR_MS - 1)
        for line in self._state.lines.values():
            if passing and line.moving_to < bound:
                self._place(line, bound)
            line.moving_to = max(line.moving_to, bound)

    def above_ready(self, over_band: bool) -> bool:
        """Return whether a proven probe is above the moving limit for worms (by more than the deadband)."""
        need = self._over if over_band else self._ready
        return need > 0 and self._any_at(need)

    def reheated(self) -> bool:
        """Return whether a proven probe has reached the limit of *reheating*."""
        return self._reheat > 0 and self._any_at(self._reheat)

    def _any_at(self, need: int) -> bool:
        return any(
            line.walk_serving and line.walk_level >= 0 and line.moving_level >= need
            for line in self._state.lines.values()
        )

    def _restore(self) -> None:
        moving = self._state.moving
        ready = moving.ready_milli_c
        named: list[Cut] = []
        if ready is not None:
            named += [(ready, True), (ready + self._thresholds.deadband_milli_k, True)]
        if moving.reheat_milli_c is not None:
            named.append((moving.reheat_milli_c, False))
        cuts = self._cuts = Cuts(named) if named else _NONE
        self._ready = self._over = self._reheat = 0
        if ready is not None:
            self._ready = cuts.need(ready, above=True)
            self._over = cuts.need(ready + self._thresholds.deadband_milli_k, above=True)
        if moving.reheat_milli_c is not None:
            self._reheat = cuts.need(moving.reheat_milli_c)

    def _place(self, line: ProbeLine, at: int) -> None:
        # Start from the reading before `at` and apply the crossings up to it, because `at` mostly lies between two readings.
        index = bisect_right(line.times, at) - 1
        value = line.values[index] if index >= 0 else None
        if value is None:
            return
        line.moving_level = self._cuts.level(value)
        for instant, level in self._segment(line, index):
            if instant <= at:
                line.moving_level = level

    def _follow(self, probe: str, line: ProbeLine, bound: int) -> None:
        if len(line.times) > 1 and line.times[-2] <= line.moving_to:
            # Usually there is one new reading, on the same side of every limit as the reading before.
            first, last = line.values[-2:]
            if first is not None and last is not None and self._cuts.level(first) == self._cuts.level(last):
                line.moving_to = bound
                return
        index = max(bisect_right(line.times, line.moving_to) - 1, 0)
        kept = line.values[index : bisect_right(line.times, bound, index) + 1]
        known = [value for value in kept if value is not None]
        if known and len(known) == len(kept) and line.times[index] <= line.moving_to:
            # Usually all readings have one level; then a silence in between changes no level either.
            low, high = self._cuts.band(self._cuts.level(known[0]))
            if low <= min(known) and max(known) < high:
                line.moving_to = bound
                return
        while index < len(line.times) and line.times[index] <= bound:
            value = line.values[index]
            if value is not None:
                if line.moving_to < line.times[index] and not self._joined(line, index):
                    self._lines.push((line.times[index], Stir.MOVING, probe, self._cuts.level(value)))
                for instant, level in self._segment(line, index):
                    if line.moving_to < instant <= bound:
                        self._lines.push((instant, Stir.MOVING, probe, level))
            index += 1
        line.moving_to = bound

    def _joined(self, line: ProbeLine, index: int) -> bool:
        return (
            index > 0
            and line.values[index - 1] is not None
            and line.times[index] - line.times[index - 1] <= (line.gap_ms or self._gap_ms)
        )

    def _segment(self, line: ProbeLine, index: int) -> list[tuple[int, int]]:
        # A line exists only between two readings of one time in service that are near enough.
        if index + 1 >= len(line.times):
            return []
        first, last = line.values[index], line.values[index + 1]
        if first is None or last is None or not self._joined(line, index + 1):
            return []
        if self._cuts.level(first) == self._cuts.level(last):
            return []
        return self._cuts.crossings(line.times[index], first, line.times[index + 1], last)

    def _reheat_limit(self, hour: int) -> int | None:
        state, limits = self._state, self._thresholds
        if state.reheated or state.cool_since is None:
            return None
        start = max(hour - limits.reheat_span_ms, state.cool_since)
        serving = [line for line in state.lines.values() if line.walk_serving and line.walk_level != ABSENT]
        parts = [line.lows[bisect_left(line.lows, (start,)) : bisect_left(line.lows, (hour,))] for line in serving]
        if not parts:
            return None
        hours = [[begin for begin, _ in part] for part in parts]
        if all(own == hours[0] for own in hours):
            columns = zip(*parts, strict=True)
            whole: list[int] = [max(low for _, low in column) for column in columns]
        else:
            # Rule 3: use only hours in which every probe was heard, or a silent hot probe would lower the limit.
            lows = [dict(part) for part in parts]
            whole = [max(low[begin] for low in lows) for begin in hours[0] if all(begin in low for low in lows)]
        return reheat_limit(min(whole), limits) if whole else None
