"""The watch of a pile besides its batch in a run: dangerous heat, and the lines of the digest on moisture and oxygen."""

from monitor.engine.context.core import Core
from monitor.engine.context.dangerous_heat import Danger
from monitor.engine.output.place_conditions import pile_lines
from monitor.engine.stretch.curves import Stream
from monitor.engine.stretch.lane import Lane
from monitor.engine.stretch.limits_ahead import LimitsAhead
from monitor.model.bounds import quiet


class HeatAhead(LimitsAhead):
    """Dangerous heat of a pile in a run."""

    def __init__(self, core: Core, place: str, lanes: list[Lane], *, only_fire: bool) -> None:
        """Begin before the first reading; `only_fire` if the pile is empty."""
        self._core, self._place, self._only_fire = core, place, only_fire
        self._danger: Danger = core.danger(place)
        super().__init__(Stream(lanes, self._danger.state.newest))

    def due_key(self) -> int:
        """Return the key of the first reading that may change something, or END."""
        # In an empty pile the core is watched for fire alone and all else for everything: what is not calm is fed.
        return self.next_key(self._danger.calm() if self._only_fire else quiet(self._danger.watched))

    def take(self, key: int) -> None:
        """Take in the quiet readings before a key."""
        state, fed = self._danger.state, self.skip(key, self._danger.watched)
        if not fed:
            return
        for lane, index in fed:
            state.accepted[lane.name] = state.newest[lane.name] = int(lane.milli[index])
        self._danger.note_open()
        self.say_again(self._core, self._place, self._danger.standing())


class DigestLines(LimitsAhead):
    """The lines of the digest that one probe of a pile may begin, about moisture or oxygen."""

    def __init__(self, core: Core, place: str, lane: Lane) -> None:
        super().__init__(Stream([lane], {}))
        self._limits = pile_lines(core, place, lane.name, lane.route.quantity)

    def due_key(self) -> int:
        """Return the key of the first reading that may change something, or END."""
        return self.next_key(quiet(self._limits, deadlines=False))

    def take(self, key: int) -> None:
        """Take in the quiet readings before a key."""
        self.skip(key, self._limits)
