"""What else a pile watches in a run besides its batch: dangerous heat, and the lines of the digest on moisture and oxygen."""

from monitor.engine.core import Core
from monitor.engine.danger import Danger
from monitor.engine.stretch.curves import END, Curve, Stream
from monitor.engine.stretch.excursions import Bound
from monitor.engine.stretch.lane import Lane
from monitor.model.excursions import Excursion
from monitor.model.units import Quantity


class HeatAhead:
    """Dangerous heat of a pile in a run."""

    def __init__(self, core: Core, place: str, lanes: list[Lane]) -> None:
        self._core, self._place = core, place
        self.danger: Danger = core.danger(place)
        mine = [lane for lane in lanes if lane.route.danger is not None and len(lane.key)]
        state, limits = self.danger.state, self.danger.limits
        self._stream = Stream(mine, state.newest) if mine else None
        self._taken = 0
        self._bounds: list[Bound] = []
        if self._stream is None:
            return
        high, band = self._stream.high, limits.deadband_milli_k
        self._bounds = [
            Bound(one, high, high, True, limit - 1, limit - band, delay)
            for one, limit, delay in (
                (state.fire, limits.fire_milli_c, 0),
                (state.too_hot, limits.too_hot_milli_c, 0),
                (state.hot, limits.hot_milli_c, limits.hot_dwell_ms),
            )
        ]

    def understood(self) -> bool:
        """Tell whether nothing is so that the bounds do not know of."""
        state = self.danger.state
        return not (state.flagged or state.look or state.silent)

    def next_key(self, only_fire: bool) -> int:
        """Return the key of the first reading that may change something, or END."""
        stream = self._stream
        if stream is None:
            return END
        if only_fire:
            index = (
                self._taken if self.danger.state.open else stream.high.above(self._taken, self.danger.calm_below - 1)
            )
        else:
            index = min(bound.quiet_until(stream, self._taken) for bound in self._bounds)
        return int(stream.key[index]) if index < len(stream) else END

    def skip(self, key: int) -> None:
        """Take in the quiet readings before a key."""
        stream = self._stream
        if stream is None:
            return
        start, end = self._taken, stream.before(key)
        if end <= start:
            return
        state = self.danger.state
        for lane, index in stream.newest(end):
            state.accepted[lane.name] = state.newest[lane.name] = int(lane.milli[index])
        for bound in self._bounds:
            bound.skip(stream, start, end)
        state.open = any(bound.excursion.since is not None for bound in self._bounds)
        self._taken = end
        for signal in self.danger.standing():
            self._core.alarms.begins(
                self._place,
                signal.alarm,
                since=signal.since,
                last=signal.last,
                probe=signal.probe,
                values=signal.values,
            )

    def jump(self, key: int) -> None:
        """Say that the readings before a key were fed for real."""
        if self._stream is not None:
            self._taken = self._stream.before(key)


class DigestLines:
    """The lines of the digest that one probe of a pile may begin: moisture or oxygen."""

    def __init__(self, core: Core, place: str, lane: Lane) -> None:
        self._stream = Stream([lane], {})
        self._taken = 0
        limits, curve = core.settings.piles[place].thresholds, Curve(lane.milli)
        low, high = limits.moisture_low_milli_pct, limits.moisture_high_milli_pct
        kinds: list[tuple[str, bool, int, int]] = []
        if lane.route.quantity is Quantity.MOISTURE:
            kinds = [("pile-too-dry", False, low, 0), ("pile-too-wet", True, high, 0)]
        elif lane.route.quantity is Quantity.OXYGEN:
            kinds = [("oxygen", False, limits.oxygen_low_milli_pct, limits.oxygen_dwell_ms)]
        self._bounds = [
            Bound(
                self._of(core, f"{place}/{kind}/{lane.name}"),
                curve,
                curve,
                rises,
                limit,
                limit + (1 if rises else -1),
                delay,
            )
            for kind, rises, limit, delay in kinds
        ]

    @staticmethod
    def _of(core: Core, key: str) -> Excursion:
        return core.state.lines[key]

    def next_key(self) -> int:
        """Return the key of the first reading that may change something, or END."""
        index = min((bound.quiet_until(self._stream, self._taken, waits=False) for bound in self._bounds), default=END)
        return int(self._stream.key[index]) if index < len(self._stream) else END

    def skip(self, key: int) -> None:
        """Take in the quiet readings before a key."""
        end = self._stream.before(key)
        for bound in self._bounds:
            bound.skip(self._stream, self._taken, end)
        self._taken = max(self._taken, end)

    def jump(self, key: int) -> None:
        """Say that the readings before a key were fed for real."""
        self._taken = self._stream.before(key)
