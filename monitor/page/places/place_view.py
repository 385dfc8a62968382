"""The view of a pile or a bin."""

from dataclasses import dataclass, field

from monitor.engine import BatchRun
from monitor.model.alarm_kinds import Alarm
from monitor.model.words import AlarmState
from monitor.page.places.needs import Need
from monitor.page.places.probe_view import ProbeView
from monitor.page.places.rule_progress import Progress


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceView:
    """A pile or bin at a glance.

    Attributes:
        place: Its id.
        is_bin: Whether it is a bin.
        name: Its name, safe for one line.
        state: Its state in two or three words: `holding`, `comfort, too wet`, `empty`.
        lines: A few further lines.
        needs: The needs here, the most urgent first.
        off: Whether it is out of order although no alarm is open.
        batch: The batch on a pile, or "".
        progress: How far its rule is, or None.
        probes: Its probes.
        known: Whether its present state is known, by probes or by hand; an empty place always is.
    """

    place: str
    is_bin: bool
    name: str
    state: str
    lines: tuple[str, ...]
    needs: tuple[Need, ...]
    off: bool
    probes: tuple[ProbeView, ...]
    batch: str = ""
    built: int | None = None
    run: BatchRun | None = field(default=None, compare=False)
    progress: Progress | None = None
    known: bool = True

    @property
    def worst(self) -> Need | None:
        """The most urgent of its listed needs."""
        return next((one for one in self.needs if one.listed), None)

    @property
    def shut(self) -> bool:
        """Whether an alarm that goes on here forbids opening the heap."""
        return any(one.shut for one in self.needs)

    @property
    def look(self) -> str:
        """Its mark: `act`, `soon`, `watch` or `well`; the alarm's own for a fire."""
        worst = self.worst
        if worst is None:
            return "watch" if self.off or self.put_off is not None else "well"
        if worst.alarm == Alarm.FIRE:
            return worst.alarm
        return "act" if worst.urgent else "soon"

    @property
    def put_off(self) -> Need | None:
        """The most urgent of its needs that was put off."""
        return next((one for one in self.needs if one.state is AlarmState.SHELVED), None)

    @property
    def heard(self) -> str:
        """The words of its mark for people who cannot see it; "" if all is well."""
        worst = self.worst
        if worst is not None:
            if worst.alarm == Alarm.FIRE:
                return Alarm.FIRE.kind.name
            return "needs you now" if self.look == "act" else "needs you"
        if self.put_off is not None:
            # Leave the name out, because guests read it too.
            return self.put_off.stand.partition(" by ")[0]
        return "not as it should be" if self.off else ""
