"""The parts that a run leaves out if nobody reads its words: conditions of bins, trends of probes and the like."""

from monitor.engine.context.agenda import DESK, Deadline, DueKind
from monitor.engine.stretch.beds import BedCourse
from monitor.engine.stretch.drive import OF_TELLING, Drive
from monitor.engine.stretch.lane import Lane
from monitor.model.alarm_kinds import BED_MOISTURE, alarm_key
from monitor.model.events import Event, EventKind
from monitor.model.settings import AMBIENT
from monitor.model.work_kinds import PROBE_WORK


class UnreadBedCourse(BedCourse):
    """A bin whose alarms count and whose conditions nobody reads."""

    words = False


class UnreadDrive(Drive):
    """A run that brings forward only what may ring."""

    bed_course = UnreadBedCourse

    def _needs_no_look(self, event: Event) -> bool:
        """Return whether work at a bin does no more than mute alarms that are off."""
        core, place = self.core, event.payload.get("place", "")
        if event.kind is not EventKind.WORK or place not in core.settings.bins or core.state.runs:
            return False
        records = (core.state.alarms.get(alarm_key(place, alarm)) for alarm in BED_MOISTURE)
        carried = event.payload["kind"] in PROBE_WORK
        return not carried and not any(one is not None and one.on for one in records)

    def _bring_up_to_work(self, end: int) -> None:
        for place, course in self.places.items():
            if place != AMBIENT:
                course.skip(end)

    def _serve(self, due: int, deadline: Deadline) -> bool:
        if deadline != DESK:
            return super()._serve(due, deadline)
        # Who is told again depends on the desk alone.
        core = self.core
        core.at = due
        self.engine.serve(deadline)
        core.state.last = max(core.state.last, due)
        return True

    def _bring_up(self, deadline: Deadline, until: int, due: int) -> None:
        course, tells = self.places.get(deadline.place), deadline.kind in OF_TELLING
        if (tells or deadline.kind is DueKind.BED) and isinstance(course, BedCourse):
            course.skip(until)
        elif deadline.place or not tells:
            super()._bring_up(deadline, until, due)

    def _bring_up_words(self, lanes: list[Lane], key: int) -> None:
        del lanes, key
