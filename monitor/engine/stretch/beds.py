"""A bin over a stretch of readings: where its conditions or excursions may change, and what else it remembers."""

import numpy as np

from monitor.alarms import alarm_key
from monitor.bins import AlarmSignal, Bed, Newest
from monitor.engine.conditions import bed_changes
from monitor.engine.core import Core
from monitor.engine.stretch.curves import END, Curve, Kept, stream_of
from monitor.engine.stretch.excursions import Bound
from monitor.engine.stretch.lane import Lane
from monitor.model.units import Quantity
from monitor.model.words import Dampness, Thermal

_ALARMS = ("worms-in-danger", "overheating", "freezing", "too-wet", "too-dry")


class BedCourse:
    """One bin in a run."""

    def __init__(self, core: Core, place: str, lanes: list[Lane], kept: Kept) -> None:
        self.core, self.place = core, place
        self.lanes = lanes
        self.bed: Bed = core.bed(place)
        state = self.bed.state
        self._heat = _Axis(lanes, Quantity.TEMPERATURE, state.temperatures, kept)
        self._damp = _Axis(lanes, Quantity.MOISTURE, state.moistures, kept)
        self._bind()

    def _bind(self) -> None:
        state, limits, heat, damp = self.bed.state, self.bed.limits, self._heat, self._damp
        band, every, one = limits.deadband_milli_k, limits.danger_all_milli_c, limits.danger_any_milli_c
        hot, frost, near = limits.overheating_milli_c, limits.freezing_milli_c, self.bed.near_frost
        high, low, last_high, last_low = heat.curves
        heat.bounds = [
            Bound(state.danger_all, low, low, True, every, every - band, limits.danger_all_dwell_ms),
            Bound(state.danger_any, high, last_high, True, one, one - band, 0),
            Bound(state.overheating, high, last_high, True, hot - 1, hot - band, limits.overheating_dwell_ms),
            Bound(state.freezing, low, last_low, False, frost + 1, frost + band, 0),
            Bound(state.near_freezing, low, last_low, False, near + 1, near + band, 0),
        ]
        band, wet, dry = limits.moisture_deadband_milli_pct, limits.too_wet_milli_pct, limits.too_dry_milli_pct
        high, low, last_high, last_low = damp.curves
        damp.bounds = [
            Bound(state.too_wet, high, last_high, True, wet, wet - band, limits.too_wet_dwell_ms),
            Bound(state.too_dry, low, last_low, False, dry, dry + band, limits.too_dry_dwell_ms),
        ]

    def next_key(self) -> int:
        """Return the key of the first reading that may change something, or END."""
        for alarm in _ALARMS:
            record = self.core.state.alarms.get(alarm_key(self.place, alarm))
            if record is not None and record.waits:
                return min(self._heat.key(self._heat.taken), self._damp.key(self._damp.taken))
        heat, damp = self._heat, self._damp
        return min(heat.key(self._heat_until()), damp.key(self._damp_until()))

    def skip(self, key: int) -> None:
        """Take in the quiet readings before a key."""
        state = self.bed.state
        self._skip(self._heat, state.temperatures, key)
        self._skip(self._damp, state.moistures, key)

    def feed(self, start: int, end: int) -> None:
        """Feed the bed the readings between two keys as they are; the probes' watches are left where they are."""
        self.skip(start)
        core, bed = self.core, self.bed
        found = [
            (int(axis.stream.key[index]), number, index)
            for number, axis in enumerate((self._heat, self._damp))
            if axis.stream is not None
            for index in range(axis.taken, axis.before(end))
        ]
        for _, number, index in sorted(found):
            axis = (self._heat, self._damp)[number]
            stream = axis.stream
            assert stream is not None
            name, time, milli = stream.lanes[stream.lane[index]].name, int(stream.time[index]), int(stream.milli[index])
            if not bed.unmoved(name, axis.quantity, time, milli):
                late = bool(stream.late[index])
                bed_changes(core, self.place, bed.reading(name, axis.quantity, time, milli, late))
        self.jump(end)

    def jump(self, key: int) -> None:
        """Say that the readings before a key were fed for real."""
        self._heat.taken, self._damp.taken = self._heat.before(key), self._damp.before(key)

    def _skip(self, axis: "_Axis", newest: dict[str, Newest], key: int) -> None:
        stream, start, end = axis.stream, axis.taken, axis.before(key)
        if stream is None or end <= start:
            return
        for lane, index in stream.newest(end):
            known = newest[lane.name]
            known.time, known.milli = int(lane.time[index]), int(lane.milli[index])
        for bound in axis.bounds:
            bound.skip(stream, start, end)
        axis.taken = end
        for signal in self.bed.standing(axis.quantity):
            _refresh(self.core, self.place, signal)

    def _heat_until(self) -> int:
        axis, limits, state = self._heat, self.bed.limits, self.bed.state
        if axis.stream is None:
            return END
        start, high, low = axis.taken, axis.high, axis.low
        word, hot = state.thermal, state.overheating.confirmed
        if word in (None, Thermal.UNKNOWN) or hot is not (word is Thermal.OVERHEATING):
            return start
        found = axis.quiet_until()
        band = limits.deadband_milli_k
        if hot:
            return found
        if word is Thermal.COLD:
            return min(found, low.above(start, limits.cold_milli_c + band))
        found = min(found, low.below(start, limits.cold_milli_c))
        if word is Thermal.WARM:
            return min(found, high.below(start, limits.warm_milli_c - band))
        found = min(found, high.above(start, limits.warm_milli_c))
        if word is Thermal.COOL:
            return min(found, low.above(start, limits.cool_milli_c + band))
        return min(found, low.below(start, limits.cool_milli_c))

    def _damp_until(self) -> int:
        axis, limits, word = self._damp, self.bed.limits, self.bed.state.moisture
        if axis.stream is None:
            return END
        start, high, low = axis.taken, axis.high, axis.low
        if word in (None, Dampness.UNKNOWN):
            return start
        found, band = axis.quiet_until(), limits.moisture_deadband_milli_pct
        if word is Dampness.TOO_WET:
            return min(found, high.below(start, limits.too_wet_milli_pct - band))
        if word is Dampness.TOO_DRY:
            return min(found, low.above(start, limits.too_dry_milli_pct + band))
        return min(found, high.above(start, limits.too_wet_milli_pct), low.below(start, limits.too_dry_milli_pct))


class _Axis:
    """The readings of one quantity, and how many of them have been taken in."""

    def __init__(self, lanes: list[Lane], quantity: Quantity, newest: dict[str, Newest], kept: Kept) -> None:
        self.quantity = quantity
        # What lies outside says nothing of the bed.
        inside = [lane for lane in lanes if lane.route.bed is not None]
        mine = [lane for lane in inside if lane.route.quantity is quantity and len(lane.key)]
        speaking = {name: one.milli for name, one in newest.items() if not one.silent}
        silent = [one.milli for one in newest.values() if one.silent]
        self.stream = stream_of(mine, speaking, kept) if mine else None
        self.taken = 0
        self.bounds: list[Bound] = []
        nothing = Curve(np.zeros(0, np.int64))
        self.high = nothing if self.stream is None else self.stream.high
        self.low = nothing if self.stream is None else self.stream.low
        # What a silent probe said last begins nothing, but holds an alarm open.
        last_high = Curve(self.high.values.clip(min=max(silent))) if silent else self.high
        last_low = Curve(self.low.values.clip(max=min(silent))) if silent else self.low
        self.curves = (self.high, self.low, last_high, last_low)

    def key(self, index: int) -> int:
        """Return the key of a reading, or END behind the last."""
        return int(self.stream.key[index]) if self.stream is not None and index < len(self.stream) else END

    def before(self, key: int) -> int:
        """Return how many readings are taken before a key."""
        return 0 if self.stream is None else self.stream.before(key)

    def quiet_until(self) -> int:
        """Return the first index at which an excursion may change."""
        assert self.stream is not None
        return min([bound.quiet_until(self.stream, self.taken) for bound in self.bounds])


def _refresh(core: Core, place: str, signal: AlarmSignal) -> None:
    # An alarm that is on already only gets its newest numbers; nothing is told.
    core.alarms.begins(
        place, signal.alarm, since=signal.since, last=signal.last, probe=signal.probe, values=signal.values,
        stage=signal.stage,
    )  # fmt: skip
