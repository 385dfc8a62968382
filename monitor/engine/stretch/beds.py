"""A bin over many readings: where its conditions or excursions may change, and the rest of its memory."""

from operator import itemgetter

from monitor.bins import Axis
from monitor.engine.context.core import Core
from monitor.engine.output.place_conditions import bed_changes
from monitor.engine.stretch.courses import Course
from monitor.engine.stretch.curves import END, Kept, stream_of
from monitor.engine.stretch.lane import Lane
from monitor.engine.stretch.limits_ahead import LimitsAhead
from monitor.model.alarm_kinds import alarm_key
from monitor.model.units import Quantity


class BedCourse(Course):
    """One bin in a run.

    Attributes:
        words: Whether anybody reads the bin's conditions, and not only its alarms.
    """

    words = True

    def __init__(self, core: Core, place: str, lanes: list[Lane], kept: Kept) -> None:
        super().__init__(lanes)
        self.core, self.place, self.bed = core, place, core.bed(place)
        self._alarms = {alarm_key(place, one.name) for axis in self.bed.axes.values() for one in axis.limits}
        self._ahead = {
            quantity: _ahead(axis, mine, kept)
            for quantity, axis in self.bed.axes.items()
            if (mine := [lane for lane in lanes if _tells(lane, quantity)])
        }

    def next_key(self) -> int:
        """See `Course.next_key`."""
        waits = any((record := self.core.state.alarms.get(key)) is not None and record.waits for key in self._alarms)
        return min(
            (
                ahead.next_key(None if waits else self.bed.axes[quantity].quiet(words=self.words))
                for quantity, ahead in self._ahead.items()
            ),
            default=END,
        )

    def skip(self, key: int) -> None:
        """See `Course.skip`."""
        for quantity, ahead in self._ahead.items():
            axis = self.bed.axes[quantity]
            for lane, index in (fed := ahead.skip(key, axis.limits)):
                known = axis.newest[lane.name]
                known.time, known.milli = int(lane.time[index]), int(lane.milli[index])
            if fed:
                ahead.say_again(self.core, self.place, self.bed.standing(quantity))

    def feed(self, start: int, end: int) -> None:
        """Feed the bed the readings between two keys as they are; the probes' watches are left where they are."""
        self.skip(start)
        found = [
            (int(ahead.stream.key[index]), quantity, index)
            for quantity, ahead in self._ahead.items()
            for index in range(ahead.taken, ahead.stream.before(end))
        ]
        for _, quantity, index in sorted(found, key=itemgetter(0)):
            stream = self._ahead[quantity].stream
            name, time, milli = stream.lanes[stream.lane[index]].name, int(stream.time[index]), int(stream.milli[index])
            if not self.bed.unmoved(name, quantity, time, milli):
                late = bool(stream.late[index])
                bed_changes(self.core, self.place, self.bed.reading(name, quantity, time, milli, late))
        self.jump(end)

    def jump(self, key: int) -> None:
        """See `Course.jump`."""
        for ahead in self._ahead.values():
            ahead.jump(key)


def _tells(lane: Lane, quantity: Quantity) -> bool:
    """Return whether a lane's readings concern the bed; those of a probe that lies outside do not."""
    return lane.route.bed is not None and lane.route.quantity is quantity and len(lane.key) > 0


def _ahead(axis: Axis, lanes: list[Lane], kept: Kept) -> LimitsAhead:
    silent = [one.milli for one in axis.newest.values() if one.silent]
    return LimitsAhead(stream_of(lanes, axis.speaking(), kept), silent)
