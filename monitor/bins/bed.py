"""One bin: the newest values of its probes, its conditions, and the conditions behind its alarms.

Each probe's newest reading counts until the probe is silent; no alarm ends by silence. Work (fed, watered) only mutes the
moisture alarms and is mentioned with a thermal alarm.

Source of the limits: `docs/sources.md`; the bands are our choice, drawn from sources that disagree above 25 °C.
"""

from collections.abc import Collection, Container
from dataclasses import replace

from monitor.bins.axis import Axis, Damp, Heat
from monitor.bins.state import BinChange, BinState, ConditionChange, Emptied, Newest
from monitor.model.alarm_kinds import Alarm
from monitor.model.alarm_signals import AlarmSignal
from monitor.model.alarm_values import AlarmValues
from monitor.model.bounds import LOWEST, Limit, Side, Sides
from monitor.model.excursions import Turn
from monitor.model.readings import is_hand
from monitor.model.thresholds import BinThresholds
from monitor.model.units import Quantity
from monitor.model.words import Dampness, Thermal

_FLED = (Alarm.OVERHEATING, Alarm.WORMS_IN_DANGER)
"""Alarms of heat that worms can flee from while a part of the bed is comfortable."""


class Bed:
    """Works on one bin's state under its limits.

    Attributes:
        axes: Its watched quantities.
    """

    def __init__(self, state: BinState, limits: BinThresholds) -> None:
        self.state = state
        self.limits = limits
        self._heat, self._damp = Heat(state, limits), Damp(state, limits)
        self.axes: dict[Quantity, Axis] = {Quantity.TEMPERATURE: self._heat, Quantity.MOISTURE: self._damp}
        # If several delays are filled at once, report overheating first.
        self._limits = sorted((*self._heat.limits, *self._damp.limits), key=lambda one: one.name != Alarm.OVERHEATING)

    def words_by(self, series: Container[str], *, cooled: bool) -> tuple[Thermal, Dampness]:
        """Return both conditions by the newest values of some series alone; nothing is stored.

        Args:
            series: The series that count.
            cooled: Whether these show that it overheats no longer, though another's last word holds that open.
        """
        heat = self._heat.cooler_word_by(series) if cooled else self._heat.word_by(series)
        return Thermal(heat), Dampness(self._damp.word_by(series))

    def unmoved(self, probe: str, quantity: Quantity, time: int, milli: int) -> bool:
        """Take an accepted reading if it changes nothing, as most do.

        Args:
            probe: The probe's id.
            quantity: Quantity of the reading.
            time: The reading's own time, UTC ms.
            milli: Thousandths of a degree Celsius or of a percent of wet mass.

        Returns:
            False if the reading may change something: then `reading` must take it.
        """
        axis = self.axes.get(quantity)
        return axis is None or axis.unmoved(probe, time, milli)

    def reading(self, probe: str, quantity: Quantity, time: int, milli: int, late: bool) -> list[BinChange]:
        """Take an accepted, comparable reading, newer than the probe's last.

        Args:
            probe: The probe's id.
            quantity: Temperature or moisture; others change nothing.
            time: The reading's own time, UTC ms.
            milli: Thousandths of a degree Celsius or of a percent of wet mass.
            late: Whether it arrived late, so that it starts no deadline.

        Returns:
            The changes, excursions first, then the condition.
        """
        axis = self.axes.get(quantity)
        if axis is None:
            return []
        axis.newest[probe], axis.judged = Newest(time, milli), True
        sides = axis.sides()
        return [*self._step(axis, sides, time, late), *self._word(axis, sides, time)]

    def standing(self, quantity: Quantity) -> list[AlarmSignal]:
        """Return the signals that a reading without effect repeats: those of all values beyond their limits."""
        limits = self.axes[quantity].limits
        return [self._signal(one, on=True) for one in limits if one.excursion.confirmed and not self._outdone(one)]

    def silent(self, probe: str, now: int) -> list[BinChange]:
        """Note that a probe counts as silent: its last value counts no longer."""
        changes: list[BinChange] = []
        for axis in self.axes.values():
            if probe not in axis.newest or axis.newest[probe].silent:
                continue
            axis.newest[probe].silent = True
            sides = axis.sides()
            for one in axis.limits:
                # A delay goes on only if another probe, still heard, is beyond the limit itself.
                if not one.bound.beyond.has(sides):
                    one.excursion.pause()
            changes += self._word(axis, sides, now)
        return changes

    def forget(self, probe: str, now: int) -> list[BinChange]:
        """Drop a probe that no longer belongs to the bin: an alarm that only it held open is over."""
        changes: list[BinChange] = []
        for axis in self.axes.values():
            if axis.newest.pop(probe, None) is None:
                continue
            sides = axis.sides()
            for one in axis.limits:
                if one.excursion.since is None or one.bound.held.has(sides):
                    continue
                if one.excursion.confirmed:
                    changes += self._ended(one)
                one.excursion.forget()
            changes += self._word(axis, sides, now)
        return changes

    def holds_open(self) -> bool:
        """Return whether an alarm's condition is on, which the last value of a silent probe may hold open."""
        return any(one.excursion.confirmed for one in self._limits)

    def empty(self, now: int) -> list[BinChange]:
        """Note that the bin was emptied: its conditions are unknown, and its own alarms are over."""
        state = self.state
        excursions = [replace(one.excursion) for one in self._limits]
        state.before = Emptied(now, {**state.temperatures}, {**state.moistures}, excursions)
        over = dict.fromkeys(one.name for one in self._limits if one.excursion.confirmed)
        for one in self._limits:
            one.excursion.forget()
        state.temperatures.clear()
        state.moistures.clear()
        changes: list[BinChange] = [AlarmSignal(alarm=alarm, on=False, since=now, last=now, probe="") for alarm in over]
        return [*changes, *self._words(now)]

    def refill(self, kept: Collection[str], now: int) -> list[BinChange]:
        """Note that the bin was not emptied after all: its excursions go on, with the last values of the series in `kept`."""
        state, before = self.state, self.state.before
        if before is None:
            return []
        state.before = None
        state.temperatures |= {p: one for p, one in before.temperatures.items() if p in kept}
        state.moistures |= {p: one for p, one in before.moistures.items() if p in kept}
        for one, known in zip(self._limits, before.excursions, strict=True):
            one.excursion.resume(known)
        changes: list[BinChange] = []
        for axis in self.axes.values():
            sides = axis.sides()
            for one in axis.limits:
                if one.excursion.since is not None and not one.bound.held.has(sides):
                    one.excursion.forget()
                elif one.excursion.confirmed and not self._outdone(one):
                    changes.append(self._signal(one, on=True))
        return [*changes, *self._words(now)]

    def due(self) -> int | None:
        """Return the earliest instant at which a delay will be filled, UTC ms."""
        return min((one.excursion.due for one in self._limits if one.excursion.due is not None), default=None)

    def serve(self, now: int) -> list[BinChange]:
        """Fill the delays that are due."""
        changes: list[BinChange] = [
            self._signal(one, on=True)
            for one in self._limits
            if one.excursion.serve(now) is Turn.BEGAN and not self._outdone(one)
        ]
        return [*changes, *self._words(now)] if changes else []

    def _step(self, axis: Axis, sides: Sides, time: int, late: bool) -> list[BinChange]:
        changes: list[BinChange] = []
        for one in axis.limits:
            excursion, bound = one.excursion, one.bound
            beyond = bound.beyond.has(sides)
            if not beyond and excursion.since is None:
                continue
            turn = excursion.step(time, beyond, bound.held.has(sides), bound.delay_ms, late)
            if turn is Turn.BEGAN or (turn is None and excursion.confirmed):
                if not self._outdone(one):
                    changes.append(self._signal(one, on=True))
            elif turn is Turn.ENDED:
                changes += self._ended(one)
        return changes

    def _outdone(self, one: Limit) -> bool:
        """Return whether a worse stage of the same alarm is on, so that this one has nothing to add."""
        return one.excursion is self.state.near_freezing and self.state.freezing.confirmed

    def _ended(self, over: Limit) -> list[BinChange]:
        """Handle the end of an excursion. Two stand behind worms-in-danger and freezing, which are over only when both are.

        If the other is still waiting for its delay, it takes over, so that nobody hears *over* minutes before *new*.
        """
        other = next((one for one in self._limits if one.name == over.name and one is not over), None)
        signal = self._signal(over, on=False)
        over.excursion.forget()
        if other is None or other.excursion.since is None:
            return [signal]
        other.excursion.confirmed, other.excursion.due = True, None
        return [self._signal(other, on=True)]

    def _signal(self, one: Limit, *, on: bool) -> AlarmSignal:
        newest, excursion = self.axes[one.quantity].newest, one.excursion
        known = {p: n for p, n in newest.items() if not n.silent}
        if not any(one.bound.held.covers(n.milli) for n in known.values()):
            # Only the last values of silent probes hold it open, so the message must not name another probe's value.
            known = {p: n for p, n in newest.items() if n.silent} or known
        if one.by == "all":
            known = {p: n for p, n in known.items() if not is_hand(p)} or known
        if not known:
            since = excursion.since or 0
            last = excursion.last or since
            return AlarmSignal(alarm=one.name, on=on, since=since, last=last, probe="", stage=one.stage)
        low_side = one.by == "all" or one.bound.falls
        probe, chosen = (min if low_side else max)(known.items(), key=lambda item: (item[1].milli, item[0]))
        # If two limits stand behind the alarm, say which of them rang, and the range of temperatures.
        spots = [n.milli for n in known.values()] if one.by else []
        values = AlarmValues(
            value_milli=chosen.milli,
            limit_milli=one.milli,
            by=one.by,
            coolest_milli=min(spots, default=None),
            hottest_milli=max(spots, default=None),
            comfortable_milli=self._comfortable() if one.name in _FLED else None,
        )
        since = excursion.since if excursion.since is not None else chosen.time
        last = excursion.last or since
        return AlarmSignal(alarm=one.name, on=on, since=since, last=last, probe=probe, values=values, stage=one.stage)

    def _comfortable(self) -> int | None:
        """Return the coolest value in comfort; if there is one, the trouble is a warm spot that worms can leave."""
        low, high = self.limits.cool_milli_c, self.limits.warm_milli_c
        return min((milli for milli in self._heat.speaking().values() if low <= milli <= high), default=None)

    def _words(self, now: int) -> list[BinChange]:
        return [change for axis in self.axes.values() for change in self._word(axis, axis.sides(), now)]

    def _word(self, axis: Axis, sides: Sides, time: int) -> list[BinChange]:
        """Take the condition over if it has changed."""
        word = axis.unknown if sides[Side.HIGH] == LOWEST else axis.ladder().word(sides)
        before = axis.word
        if word is before or (before is None and word is axis.unknown):
            return []
        axis.say(word)
        hot_since = self.state.overheating.since
        since = hot_since if word is Thermal.OVERHEATING and hot_since is not None else time
        probe, milli = "", None
        known = axis.speaking()
        if known:
            cold_side = word in (Thermal.COLD, Thermal.COOL, Dampness.TOO_DRY)
            probe, milli = (min if cold_side else max)(known.items(), key=lambda item: (item[1], item[0]))
        return [ConditionChange(axis=axis.name, before=before, after=word, since=since, probe=probe, milli=milli)]
