"""Heat that is dangerous in a pile: `hot`, `too-hot`, `fire`, and the probe to look at.

Judged at the hottest of the pile's probes by each one's newest reading. Filters must not hide a fire, nor cry fire at a
broken wire: a reading flagged suspect or fail counts only if two in a row say so and the probe's last accepted reading,
or another probe of the place, is at 65 °C or more; else somebody is asked to look at the probe.
"""

from dataclasses import dataclass, field
from typing import Any

from monitor.model.excursions import Excursion, Turn
from monitor.model.thresholds import PileThresholds
from monitor.model.units import plain_number


@dataclass(slots=True)
class DangerState:
    """What is remembered of a pile's heat.

    Attributes:
        newest: By probe, the newest value that counts (accepted, or flagged and confirmed), thousandths of °C.
        accepted: By probe, the newest accepted value.
        flagged: By probe, how many flagged readings in a row were at fire heat.
        look: Probes that somebody was asked to look at.
    """

    newest: dict[str, int] = field(default_factory=dict)
    accepted: dict[str, int] = field(default_factory=dict)
    flagged: dict[str, int] = field(default_factory=dict)
    look: list[str] = field(default_factory=list)
    hot: Excursion = field(default_factory=Excursion)
    too_hot: Excursion = field(default_factory=Excursion)
    fire: Excursion = field(default_factory=Excursion)


@dataclass(frozen=True, slots=True, kw_only=True)
class DangerSignal:
    """A condition behind one of the heat alarms is on or off."""

    alarm: str
    on: bool
    since: int
    last: int
    probe: str
    values: dict[str, Any]


class Danger:
    """Works on one pile's state."""

    def __init__(self, state: DangerState, limits: PileThresholds) -> None:
        self.state = state
        self.limits = limits

    def accepted(self, probe: str, time: int, milli: int, late: bool, *, only_fire: bool = False) -> list[DangerSignal]:
        """Take an accepted reading (thousandths of °C); `only_fire` where the probe lies out or the pile is empty."""
        state = self.state
        state.flagged.pop(probe, None)
        state.accepted[probe] = state.newest[probe] = milli
        signals = self._looked_at(probe, time, milli)
        return signals + self._judge(time, late, only_fire=only_fire)

    def flagged(self, probe: str, time: int, milli: int, late: bool) -> list[DangerSignal]:
        """Take a reading flagged suspect or fail that is not a known error code."""
        state, limits = self.state, self.limits
        if milli < limits.fire_milli_c:
            state.flagged.pop(probe, None)
            return []
        count = state.flagged[probe] = state.flagged.get(probe, 0) + 1
        near = max((v for p, v in state.accepted.items()), default=None)
        if count >= 2 and near is not None and near >= limits.fire_confirm_milli_c:
            state.newest[probe] = milli
            return self._judge(time, late, only_fire=True)
        if probe in state.look:
            return []
        state.look.append(probe)
        return [self._look(probe, time, milli, on=True)]

    def forget(self, probe: str) -> None:
        """Drop a probe that no longer belongs to the pile."""
        for known in (self.state.newest, self.state.accepted, self.state.flagged):
            known.pop(probe, None)

    def due(self) -> int | None:
        """Return when a delay will be filled, UTC ms."""
        return self.state.hot.due

    def serve(self, now: int) -> list[DangerSignal]:
        """Fill the delay that is due."""
        hot = self.state.hot
        return [self._signal("hot", hot, self.limits.hot_milli_c, on=True)] if hot.serve(now) is Turn.BEGAN else []

    def _judge(self, time: int, late: bool, *, only_fire: bool) -> list[DangerSignal]:
        limits, state = self.limits, self.state
        hottest = max(state.newest.values())
        band = limits.deadband_milli_k
        watched = [("fire", state.fire, limits.fire_milli_c, 0)]
        if not only_fire:
            watched += [
                ("too-hot", state.too_hot, limits.too_hot_milli_c, 0),
                ("hot", state.hot, limits.hot_milli_c, limits.hot_dwell_ms),
            ]
        signals = []
        for alarm, excursion, limit, delay in watched:
            if hottest < limit - band and excursion.since is None:
                continue
            turn = excursion.step(time, hottest >= limit, hottest >= limit - band, delay, late)
            if turn is Turn.BEGAN or (turn is None and excursion.confirmed):
                signals.append(self._signal(alarm, excursion, limit, on=True))
            elif turn is Turn.ENDED:
                signals.append(self._signal(alarm, excursion, limit, on=False))
                excursion.forget()
        return signals

    def _signal(self, alarm: str, excursion: Excursion, limit: int, *, on: bool) -> DangerSignal:
        probe, milli = max(self.state.newest.items(), key=lambda item: (item[1], item[0]))
        since = excursion.since or 0
        values = {"value": plain_number(milli), "limit": plain_number(limit)}
        return DangerSignal(alarm=alarm, on=on, since=since, last=excursion.last or since, probe=probe, values=values)

    def _looked_at(self, probe: str, time: int, milli: int) -> list[DangerSignal]:
        if probe not in self.state.look or milli >= self.limits.fire_milli_c:
            return []
        self.state.look.remove(probe)
        return [self._look(probe, time, milli, on=False)]

    def _look(self, probe: str, time: int, milli: int, *, on: bool) -> DangerSignal:
        values = {"value": plain_number(milli), "limit": plain_number(self.limits.fire_milli_c)}
        return DangerSignal(alarm="look-at-probe", on=on, since=time, last=time, probe=probe, values=values)
