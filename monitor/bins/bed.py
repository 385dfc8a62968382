"""One bin: the newest values of its probes, its conditions, and the conditions behind its alarms.

Acts on each probe's newest reading, held until it counts as silent; no alarm ends by silence (design, "Conditions and
value alarms"). What people did (fed, watered) only mutes the moisture alarms and is told with a thermal one.

Source of the limits: `docs/sources.md`; the bands are ours, drawn from sources that disagree above 25 °C.
"""

from dataclasses import dataclass, field
from typing import Any

from monitor.bins.conditions import moisture_word, thermal_word
from monitor.model.excursions import Excursion, Turn
from monitor.model.thresholds import BinThresholds
from monitor.model.units import Quantity, plain_number
from monitor.model.words import Dampness, Thermal


@dataclass(slots=True)
class Newest:
    """The newest accepted reading of one probe."""

    time: int
    milli: int
    silent: bool = False


@dataclass(slots=True)
class BinState:
    """All that is remembered of a bin."""

    thermal: Thermal | None = None
    moisture: Dampness | None = None
    temperatures: dict[str, Newest] = field(default_factory=dict)
    moistures: dict[str, Newest] = field(default_factory=dict)
    overheating: Excursion = field(default_factory=Excursion)
    danger_all: Excursion = field(default_factory=Excursion)
    danger_any: Excursion = field(default_factory=Excursion)
    freezing: Excursion = field(default_factory=Excursion)
    too_wet: Excursion = field(default_factory=Excursion)
    too_dry: Excursion = field(default_factory=Excursion)
    fed_at: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionChange:
    """A condition became another; `since` is the time of the reading that says so."""

    axis: str
    before: Thermal | Dampness | None
    after: Thermal | Dampness
    since: int
    probe: str
    values: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmSignal:
    """A condition behind an alarm is on or off; an `on` said again only refreshes its numbers."""

    alarm: str
    on: bool
    since: int
    last: int
    probe: str
    values: dict[str, Any]


BinChange = ConditionChange | AlarmSignal


class Bed:
    """Works on one bin's state; holds nothing of its own."""

    def __init__(self, state: BinState, limits: BinThresholds) -> None:
        self.state = state
        self.limits = limits

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
            self.state.temperatures[probe] = Newest(time, milli)
            return [*self._heat(time, late), *self._thermal(time)]
        if quantity is Quantity.MOISTURE:
            self.state.moistures[probe] = Newest(time, milli)
            return [*self._damp(time, late), *self._moisture(time)]
        return []

    def silent(self, probe: str, now: int) -> list[BinChange]:
        """Say that a probe counts as silent: its last value is held no longer."""
        state = self.state
        changes: list[BinChange] = []
        for newest, excursions, word in (
            (state.temperatures, self._heat_excursions(), self._thermal),
            (state.moistures, (state.too_wet, state.too_dry), self._moisture),
        ):
            if probe not in newest or newest[probe].silent:
                continue
            newest[probe].silent = True
            if all(n.silent for n in newest.values()):
                for excursion in excursions:
                    excursion.pause()
            changes += word(now)
        return changes

    def forget(self, probe: str, now: int) -> list[BinChange]:
        """Drop a probe that no longer belongs to the bin."""
        changes = self.silent(probe, now)
        self.state.temperatures.pop(probe, None)
        self.state.moistures.pop(probe, None)
        return changes

    def due(self) -> int | None:
        """Return the earliest instant at which a delay will be filled, UTC ms."""
        state = self.state
        dues = [e.due for e in (*self._heat_excursions(), state.too_wet, state.too_dry) if e.due is not None]
        return min(dues, default=None)

    def serve(self, now: int) -> list[BinChange]:
        """Fill the delays that are due."""
        changes: list[BinChange] = []
        for alarm, excursion in self._named():
            if excursion.serve(now) is Turn.BEGAN:
                changes.append(self._signal(alarm, excursion, on=True))
        return [*changes, *self._thermal(now), *self._moisture(now)] if changes else []

    def _heat_excursions(self) -> tuple[Excursion, ...]:
        state = self.state
        return (state.overheating, state.danger_all, state.danger_any, state.freezing)

    def _named(self) -> list[tuple[str, Excursion]]:
        state = self.state
        return [
            ("overheating", state.overheating),
            ("worms-in-danger", state.danger_all),
            ("worms-in-danger", state.danger_any),
            ("freezing", state.freezing),
            ("too-wet", state.too_wet),
            ("too-dry", state.too_dry),
        ]

    def _heat(self, time: int, late: bool) -> list[BinChange]:
        limits, state, band = self.limits, self.state, self.limits.deadband_milli_k
        known = [n.milli for n in state.temperatures.values() if not n.silent]
        hottest, coldest = max(known), min(known)
        # A silent probe begins nothing, but what it last said holds an alarm open: no alarm ends by silence.
        last_hottest = max(n.milli for n in state.temperatures.values())
        last_coldest = min(n.milli for n in state.temperatures.values())
        every, one, hot, frost = (
            limits.danger_all_milli_c,
            limits.danger_any_milli_c,
            limits.overheating_milli_c,
            limits.freezing_milli_c,
        )
        steps = (
            (state.danger_all, coldest > every, coldest >= every - band, limits.danger_all_dwell_ms, "worms-in-danger"),
            (state.danger_any, hottest > one, last_hottest >= one - band, 0, "worms-in-danger"),
            (state.overheating, hottest >= hot, last_hottest >= hot - band, limits.overheating_dwell_ms, "overheating"),
            (state.freezing, coldest <= frost, last_coldest <= frost + band, 0, "freezing"),
        )
        return self._step(steps, time, late)

    def _damp(self, time: int, late: bool) -> list[BinChange]:
        limits, state, band = self.limits, self.state, self.limits.moisture_deadband_milli_pct
        known = [n.milli for n in state.moistures.values() if not n.silent]
        last_wettest = max(n.milli for n in state.moistures.values())
        last_driest = min(n.milli for n in state.moistures.values())
        wet, dry, dwell = limits.too_wet_milli_pct, limits.too_dry_milli_pct, limits.moisture_dwell_ms
        steps = (
            (state.too_wet, max(known) > wet, last_wettest >= wet - band, dwell, "too-wet"),
            (state.too_dry, min(known) < dry, last_driest <= dry + band, dwell, "too-dry"),
        )
        return self._step(steps, time, late)

    def _step(
        self, steps: tuple[tuple[Excursion, bool, bool, int, str], ...], time: int, late: bool
    ) -> list[BinChange]:
        changes: list[BinChange] = []
        for excursion, beyond, held, delay, alarm in steps:
            turn = excursion.step(time, beyond, held, delay, late)
            if turn is Turn.BEGAN or (turn is None and excursion.confirmed):
                changes.append(self._signal(alarm, excursion, on=True))
            elif turn is Turn.ENDED:
                # Two excursions stand behind worms-in-danger: it is over only when both are.
                if not any(e.confirmed for name, e in self._named() if name == alarm):
                    changes.append(self._signal(alarm, excursion, on=False))
                excursion.forget()
        return changes

    def _signal(self, alarm: str, excursion: Excursion, *, on: bool) -> AlarmSignal:
        state, limits = self.state, self.limits
        by_all = excursion is state.danger_all
        limit = {
            "overheating": limits.overheating_milli_c,
            "worms-in-danger": limits.danger_all_milli_c if by_all else limits.danger_any_milli_c,
            "freezing": limits.freezing_milli_c,
            "too-wet": limits.too_wet_milli_pct,
            "too-dry": limits.too_dry_milli_pct,
        }[alarm]
        newest = state.moistures if alarm.startswith("too-") else state.temperatures
        known = {p: n for p, n in newest.items() if not n.silent} or newest
        low_side = by_all or alarm in ("freezing", "too-dry")
        probe, chosen = (min if low_side else max)(known.items(), key=lambda item: (item[1].milli, item[0]))
        values: dict[str, Any] = {"value": plain_number(chosen.milli), "limit": plain_number(limit)}
        spot = self._comfortable(known) if alarm in ("overheating", "worms-in-danger") else None
        if spot is not None:
            values["other"] = plain_number(spot)
        since = excursion.since if excursion.since is not None else chosen.time
        return AlarmSignal(alarm=alarm, on=on, since=since, last=excursion.last or since, probe=probe, values=values)

    def _comfortable(self, known: dict[str, Newest]) -> int | None:
        """Return the coolest value in comfort, which makes the trouble a warm spot that worms can leave."""
        low, high = self.limits.cool_milli_c, self.limits.warm_milli_c
        return min((n.milli for n in known.values() if low <= n.milli <= high), default=None)

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
