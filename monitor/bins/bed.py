"""One bin: the newest values of its probes, its conditions, and the conditions behind its alarms.

Acts on each probe's newest reading, held until it counts as silent; no alarm ends by silence (design, "Conditions and
value alarms"). What people did (fed, watered) only mutes the moisture alarms and is told with a thermal one.

Source of the limits: `docs/sources.md`; the bands are ours, drawn from sources that disagree above 25 °C.
"""

from collections.abc import Collection
from dataclasses import replace
from typing import Any

from monitor.bins.conditions import moisture_word, thermal_word
from monitor.bins.state import AlarmSignal, BinChange, BinState, ConditionChange, Emptied, Newest
from monitor.model.excursions import Excursion, Turn
from monitor.model.readings import is_hand
from monitor.model.thresholds import BinThresholds
from monitor.model.units import Quantity, plain_number
from monitor.model.words import Dampness, Thermal

_Step = tuple[Excursion, bool, bool, int, str]
"""An excursion; whether a value is beyond its limit, and beyond it less its deadband; its delay, ms; its alarm."""

_HOT, _DANGER, _FROST = "overheating", "worms-in-danger", "freezing"
_WET, _DRY = "too-wet", "too-dry"
_NOTHING = -(1 << 40)
"""Colder than everything: what is said where no probe says anything."""

_Span = tuple[int, int]
"""From, to (both included), thousandths of a degree Celsius."""


def _calm_heat(limits: BinThresholds, near_frost: int) -> dict[Thermal | None, _Span]:
    """Return, by thermal word, the values of which one alone keeps that word and begins nothing, whatever others say."""
    band = limits.deadband_milli_k
    low = near_frost + 1
    high = min(limits.overheating_milli_c - 1, limits.danger_all_milli_c, limits.danger_any_milli_c)
    return {
        Thermal.COLD: (low, min(high, limits.cold_milli_c + band)),
        Thermal.COOL: (max(low, limits.cold_milli_c), min(high, limits.cool_milli_c + band, limits.warm_milli_c)),
        Thermal.COMFORT: (max(low, limits.cool_milli_c), min(high, limits.warm_milli_c)),
        Thermal.WARM: (max(low, limits.cold_milli_c, limits.warm_milli_c - band), high),
    }


class Bed:
    """Works on one bin's state under its limits.

    Of its own it holds only whether a reading was held against these limits: until then what is remembered may be of others.
    """

    def __init__(self, state: BinState, limits: BinThresholds) -> None:
        self.state = state
        self.limits = limits
        self.near_frost = max(limits.near_freezing_milli_c, limits.freezing_milli_c)
        self._calm = _calm_heat(limits, self.near_frost)
        self._judged_heat = self._judged_damp = False
        self._named = (
            (_HOT, state.overheating),
            (_DANGER, state.danger_all),
            (_DANGER, state.danger_any),
            (_FROST, state.freezing),
            (_FROST, state.near_freezing),
            (_WET, state.too_wet),
            (_DRY, state.too_dry),
        )

    def unmoved(self, probe: str, quantity: Quantity, time: int, milli: int) -> bool:
        """Take an accepted reading that changes nothing, as most do; False where it must be taken by `reading`.

        With no excursion begun, one more value that alone would keep the word which stands leaves everything as it is.
        """
        state = self.state
        if quantity is Quantity.TEMPERATURE:
            known = state.temperatures.get(probe)
            calm = self._calm.get(state.thermal)
            if known is None or known.silent or calm is None or not calm[0] <= milli <= calm[1]:
                return False
            idle = (
                self._judged_heat
                and state.overheating.since is None
                and state.danger_any.since is None
                and state.danger_all.since is None
                and state.near_freezing.since is None
                and state.freezing.since is None
            )
        elif quantity is Quantity.MOISTURE:
            known = state.moistures.get(probe)
            limits = self.limits
            if known is None or known.silent or not limits.too_dry_milli_pct <= milli <= limits.too_wet_milli_pct:
                return False
            idle = (
                self._judged_damp
                and state.moisture is Dampness.COMFORT
                and state.too_wet.since is None
                and state.too_dry.since is None
            )
        else:
            return True
        if idle:
            known.time, known.milli = time, milli
        return idle

    def reading(self, probe: str, quantity: Quantity, time: int, milli: int, late: bool) -> list[BinChange]:
        """Take an accepted, comparable reading, newer than the probe's last.

        Args:
            probe: The probe's id.
            quantity: Temperature or moisture; others change nothing.
            time: The reading's own time, UTC ms.
            milli: Thousandths of a degree Celsius or of a percent of wet mass.
            late: Whether it arrived late, so that it starts no deadline.
        """
        if quantity is Quantity.TEMPERATURE:
            self.state.temperatures[probe], self._judged_heat = Newest(time, milli), True
            return [*self._step(self._heat_steps(), time, late), *self._thermal(time)]
        if quantity is Quantity.MOISTURE:
            self.state.moistures[probe], self._judged_damp = Newest(time, milli), True
            return [*self._step(self._damp_steps(), time, late), *self._moisture(time)]
        return []

    def standing(self, quantity: Quantity) -> list[AlarmSignal]:
        """Return the signals that a reading which changes nothing says again: those of what is beyond its limit."""
        steps = self._heat_steps() if quantity is Quantity.TEMPERATURE else self._damp_steps()
        return [
            self._signal(alarm, excursion, on=True)
            for excursion, *_, alarm in steps
            if excursion.confirmed and not self._outdone(excursion)
        ]

    def silent(self, probe: str, now: int) -> list[BinChange]:
        """Say that a probe counts as silent: its last value is held no longer."""
        state = self.state
        changes: list[BinChange] = []
        for newest, steps, word in (
            (state.temperatures, self._heat_steps, self._thermal),
            (state.moistures, self._damp_steps, self._moisture),
        ):
            if probe not in newest or newest[probe].silent:
                continue
            newest[probe].silent = True
            for excursion, beyond, *_ in steps():
                # What those that still talk do not say themselves is waited for no longer.
                if not beyond:
                    excursion.pause()
            changes += word(now)
        return changes

    def forget(self, probe: str, now: int) -> list[BinChange]:
        """Drop a probe that no longer belongs to the bin: an alarm that only it held open is over."""
        changes: list[BinChange] = []
        for newest, steps, word in (
            (self.state.temperatures, self._heat_steps, self._thermal),
            (self.state.moistures, self._damp_steps, self._moisture),
        ):
            if newest.pop(probe, None) is None:
                continue
            for excursion, _, held, _, alarm in steps():
                if held or excursion.since is None:
                    continue
                if excursion.confirmed:
                    changes += self._ended(alarm, excursion)
                excursion.forget()
            changes += word(now)
        return changes

    def holds_open(self) -> bool:
        """Tell whether an alarm's condition is on, which a value that is held no longer may hold open."""
        return any(excursion.confirmed for _, excursion in self._named)

    def empty(self, now: int) -> list[BinChange]:
        """Say that the bin was emptied: no condition is known of it, and its own alarms are over."""
        state = self.state
        state.before = Emptied(
            now, {**state.temperatures}, {**state.moistures}, [replace(excursion) for _, excursion in self._named]
        )
        over = dict.fromkeys(alarm for alarm, excursion in self._named if excursion.confirmed)
        for _, excursion in self._named:
            excursion.forget()
        state.temperatures.clear()
        state.moistures.clear()
        changes: list[BinChange] = [
            AlarmSignal(alarm=alarm, on=False, since=now, last=now, probe="", values={}) for alarm in over
        ]
        return [*changes, *self._thermal(now), *self._moisture(now)]

    def refill(self, kept: Collection[str], now: int) -> list[BinChange]:
        """Say that the bin was not emptied after all: what was on goes on, as the series in `kept` said last until then."""
        state, before = self.state, self.state.before
        if before is None:
            return []
        state.before = None
        state.temperatures |= {p: one for p, one in before.temperatures.items() if p in kept}
        state.moistures |= {p: one for p, one in before.moistures.items() if p in kept}
        for (_, excursion), known in zip(self._named, before.excursions, strict=True):
            excursion.since, excursion.last = known.since, known.last
            excursion.confirmed, excursion.due = known.confirmed, known.due
        changes: list[BinChange] = []
        for excursion, _, held, _, alarm in (*self._heat_steps(), *self._damp_steps()):
            if excursion.since is not None and not held:
                excursion.forget()
            elif excursion.confirmed and not self._outdone(excursion):
                changes.append(self._signal(alarm, excursion, on=True))
        return [*changes, *self._thermal(now), *self._moisture(now)]

    def due(self) -> int | None:
        """Return the earliest instant at which a delay will be filled, UTC ms."""
        dues = [excursion.due for _, excursion in self._named if excursion.due is not None]
        return min(dues, default=None)

    def serve(self, now: int) -> list[BinChange]:
        """Fill the delays that are due."""
        changes: list[BinChange] = []
        for alarm, excursion in self._named:
            if excursion.serve(now) is Turn.BEGAN and not self._outdone(excursion):
                changes.append(self._signal(alarm, excursion, on=True))
        return [*changes, *self._thermal(now), *self._moisture(now)] if changes else []

    def _heat_steps(self) -> tuple[_Step, ...]:
        limits, state, band = self.limits, self.state, self.limits.deadband_milli_k
        last = [n.milli for n in state.temperatures.values()] or [_NOTHING]
        known = [n.milli for n in state.temperatures.values() if not n.silent]
        some = bool(known)
        hottest, coldest = (max(known), min(known)) if some else (_NOTHING, _NOTHING)
        # A silent probe begins nothing, but what it last said holds an alarm open: no alarm ends by silence.
        last_hottest, last_coldest = max(last), min(last)
        every, one = limits.danger_all_milli_c, limits.danger_any_milli_c
        hot, frost, near = limits.overheating_milli_c, limits.freezing_milli_c, self.near_frost
        frozen = last_coldest != _NOTHING and last_coldest <= frost + band
        chilled = last_coldest != _NOTHING and last_coldest <= near + band
        # Where the warmest is not so warm, not all are.
        every_beyond = hottest > every and self._all_beyond(every)
        every_held = last_hottest >= every - band and self._all_held(every - band)
        return (
            (state.danger_all, every_beyond, every_held, limits.danger_all_dwell_ms, _DANGER),
            (state.danger_any, some and hottest > one, last_hottest >= one - band, 0, _DANGER),
            (state.overheating, some and hottest >= hot, last_hottest >= hot - band, limits.overheating_dwell_ms, _HOT),
            # The worse of the two comes first, so that the lesser one knows whether it has anything to say.
            (state.freezing, some and coldest <= frost, frozen, 0, _FROST),
            (state.near_freezing, some and coldest <= near, chilled, 0, _FROST),
        )

    def _all_beyond(self, limit: int) -> bool:
        """Tell whether even the coolest is above a limit: of the probes that speak, else of what was read by hand."""
        speaking = {name: n.milli for name, n in self.state.temperatures.items() if not n.silent}
        probes = [milli for name, milli in speaking.items() if not is_hand(name)]
        chosen = probes or list(speaking.values())
        return bool(chosen) and min(chosen) > limit

    def _all_held(self, limit: int) -> bool:
        """Tell whether the probes, or what was read by hand, hold that open: neither ends what the other says."""
        for by_hand in (False, True):
            mine = [(n.silent, n.milli) for name, n in self.state.temperatures.items() if is_hand(name) is by_hand]
            chosen = [milli for silent, milli in mine if not silent] or [milli for _, milli in mine]
            if chosen and min(chosen) >= limit:
                return True
        return False

    def _damp_steps(self) -> tuple[_Step, ...]:
        limits, state, band = self.limits, self.state, self.limits.moisture_deadband_milli_pct
        last = [n.milli for n in state.moistures.values()]
        known = [n.milli for n in state.moistures.values() if not n.silent]
        wet, dry = limits.too_wet_milli_pct, limits.too_dry_milli_pct
        too_wet, too_dry = any(one > wet for one in known), any(one < dry for one in known)
        return (
            (state.too_wet, too_wet, any(one >= wet - band for one in last), limits.too_wet_dwell_ms, _WET),
            (state.too_dry, too_dry, any(one <= dry + band for one in last), limits.too_dry_dwell_ms, _DRY),
        )

    def _step(self, steps: tuple[_Step, ...], time: int, late: bool) -> list[BinChange]:
        changes: list[BinChange] = []
        for excursion, beyond, held, delay, alarm in steps:
            turn = excursion.step(time, beyond, held, delay, late)
            if turn is Turn.BEGAN or (turn is None and excursion.confirmed):
                if not self._outdone(excursion):
                    changes.append(self._signal(alarm, excursion, on=True))
            elif turn is Turn.ENDED:
                changes += self._ended(alarm, excursion)
        return changes

    def _outdone(self, excursion: Excursion) -> bool:
        """Tell whether a worse stage of the same alarm is on, which says it all."""
        state = self.state
        return excursion is state.near_freezing and state.freezing.confirmed

    def _ended(self, alarm: str, excursion: Excursion) -> list[BinChange]:
        """Take in that an excursion is over. Two stand behind worms-in-danger and freezing, over only when both are.

        One of the two that is only waiting for its delay takes over: nobody is told *over* minutes before *new*.
        """
        other = next((e for name, e in self._named if name == alarm and e is not excursion), None)
        signal = self._signal(alarm, excursion, on=False)
        excursion.forget()
        if other is None or other.since is None:
            return [signal]
        other.confirmed, other.due = True, None
        return [self._signal(alarm, other, on=True)]

    def _signal(self, alarm: str, excursion: Excursion, *, on: bool) -> AlarmSignal:
        state, limits = self.state, self.limits
        by_all = excursion is state.danger_all
        stage = int(alarm == _FROST and excursion is state.freezing)
        limit = {
            "overheating": limits.overheating_milli_c,
            "worms-in-danger": limits.danger_all_milli_c if by_all else limits.danger_any_milli_c,
            _FROST: limits.freezing_milli_c if stage else self.near_frost,
            _WET: limits.too_wet_milli_pct,
            _DRY: limits.too_dry_milli_pct,
        }[alarm]
        damp, falling = alarm in (_WET, _DRY), alarm in (_FROST, _DRY)
        newest = state.moistures if damp else state.temperatures
        band = limits.moisture_deadband_milli_pct if damp else limits.deadband_milli_k
        held = limit + band if falling else limit - band
        known = {p: n for p, n in newest.items() if not n.silent}
        if not any(n.milli <= held if falling else n.milli >= held for n in known.values()):
            # Only what a silent one said last holds it open: no number of another is told as if it did.
            known = {p: n for p, n in newest.items() if n.silent} or known
        if by_all:
            known = {p: n for p, n in known.items() if not is_hand(p)} or known
        low_side = by_all or falling
        if not known:
            since = excursion.since or 0
            last = excursion.last or since
            return AlarmSignal(alarm=alarm, on=on, since=since, last=last, probe="", values={}, stage=stage)
        probe, chosen = (min if low_side else max)(known.items(), key=lambda item: (item[1].milli, item[0]))
        values: dict[str, Any] = {"value": plain_number(chosen.milli), "limit": plain_number(limit)}
        if alarm == _DANGER:
            # Two limits stand behind it: which one rang, and how warm it is at either end.
            spots = [n.milli for n in known.values()]
            values |= {
                "by": "all" if by_all else "any",
                "coolest": plain_number(min(spots)),
                "hottest": plain_number(max(spots)),
            }
        spot = self._comfortable(newest) if alarm in (_HOT, _DANGER) else None
        if spot is not None:
            values["other"] = plain_number(spot)
        since = excursion.since if excursion.since is not None else chosen.time
        last = excursion.last or since
        return AlarmSignal(alarm=alarm, on=on, since=since, last=last, probe=probe, values=values, stage=stage)

    def _comfortable(self, newest: dict[str, Newest]) -> int | None:
        """Return the coolest value in comfort, which makes the trouble a warm spot that worms can leave."""
        low, high = self.limits.cool_milli_c, self.limits.warm_milli_c
        return min((n.milli for n in newest.values() if low <= n.milli <= high and not n.silent), default=None)

    def _thermal(self, time: int) -> list[BinChange]:
        state = self.state
        known = {p: n.milli for p, n in state.temperatures.items() if not n.silent}
        hot = state.overheating
        word = thermal_word(known.values(), state.thermal or Thermal.UNKNOWN, hot.confirmed, self.limits)
        if word is state.thermal or (state.thermal is None and word is Thermal.UNKNOWN):
            return []
        before, state.thermal = state.thermal, word
        since = hot.since if word is Thermal.OVERHEATING and hot.since is not None else time
        return [self._condition("thermal", before, word, since, known, warm=word not in (Thermal.COLD, Thermal.COOL))]

    def _moisture(self, time: int) -> list[BinChange]:
        state = self.state
        known = {p: n.milli for p, n in state.moistures.items() if not n.silent}
        word = moisture_word(known.values(), state.moisture or Dampness.UNKNOWN, self.limits)
        if word is state.moisture or (state.moisture is None and word is Dampness.UNKNOWN):
            return []
        before, state.moisture = state.moisture, word
        return [self._condition("moisture", before, word, time, known, warm=word is not Dampness.TOO_DRY)]

    def _condition(
        self,
        axis: str,
        before: Thermal | Dampness | None,
        word: Thermal | Dampness,
        since: int,
        known: dict[str, int],
        *,
        warm: bool,
    ) -> ConditionChange:
        if not known:
            return ConditionChange(axis=axis, before=before, after=word, since=since, probe="", values={})
        probe, milli = (max if warm else min)(known.items(), key=lambda item: (item[1], item[0]))
        return ConditionChange(
            axis=axis, before=before, after=word, since=since, probe=probe, values={"value": plain_number(milli)}
        )
