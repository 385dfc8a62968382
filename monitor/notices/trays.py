"""What goes to a contact now and what waits: gathered for a minute, or held until quiet hours end.

Rules:
1. The highest priority, and what is marked `at_once`, never waits, goes apart, and does not make others wait.
2. Other messages: the first goes at once; what comes within `gather_ms` of a contact's last message waits and goes as
   one. Things handed over at one instant by one deadline go as one message at once.
3. Quiet hours hold everything but the highest and whatever is marked `through_quiet` (the alarms' declaration marks what
   is worth waking somebody for); `evening` goes through until midnight. What was held goes as one message when they end.
4. A tray holds at most one slip of a key.
"""

from collections.abc import Callable
from dataclasses import dataclass

from monitor.model.words import Priority
from monitor.notices.roster import Roster
from monitor.notices.state import DeskState, Slip, Telling, Tray


@dataclass(frozen=True, slots=True)
class Parcel:
    """What goes to one contact now, as one message."""

    contact: str
    slips: tuple[Slip, ...]


@dataclass(slots=True)
class Trays:
    """The trays of a desk's state."""

    state: DeskState
    roster: Roster
    gather_ms: int

    def hand(self, contact: str, slips: list[Slip], at: int) -> list[Parcel]:
        """Hand slips to a contact; return what goes now, keep what waits. `at` in UTC ms."""
        tray = self.state.trays.setdefault(contact, Tray())
        keys = {slip.key for slip in slips}
        self._strike(tray, lambda slip: slip.key in keys)
        parcels = [Parcel(contact, (slip,)) for slip in slips if self._apart(slip)]
        rest = [slip for slip in slips if not self._apart(slip)]
        quiet_end = self.roster.quiet_until(contact, at)
        if quiet_end is not None:
            evening = self.roster.is_evening(contact, at)
            held = [slip for slip in rest if not self._through(slip, evening)]
            if held:
                tray.held += held
                tray.held_until = quiet_end
            rest = [slip for slip in rest if slip not in held]
        if not rest:
            return parcels
        if tray.gather_until is not None and at < tray.gather_until:
            tray.gathering += rest
            return parcels
        tray.gather_until = at + self.gather_ms
        return [*parcels, Parcel(contact, tuple(rest))]

    def release(self, at: int) -> dict[str, list[Slip]]:
        """Take what has waited long enough off the trays, by contact, in the order in which it was handed over."""
        out: dict[str, list[Slip]] = {}
        for contact, tray in sorted(self.state.trays.items()):
            slips: list[Slip] = []
            if tray.held and tray.held_until is not None and tray.held_until <= at:
                slips += tray.held
                tray.held, tray.held_until = [], None
            if tray.gathering and tray.gather_until is not None and tray.gather_until <= at:
                slips += tray.gathering
                tray.gathering, tray.gather_until = [], None
            if slips:
                out[contact] = slips
        return out

    def due(self) -> int | None:
        """Return when something next leaves a tray, UTC ms, or None."""
        instants: list[int] = []
        for tray in self.state.trays.values():
            if tray.held and tray.held_until is not None:
                instants.append(tray.held_until)
            if tray.gathering and tray.gather_until is not None:
                instants.append(tray.gather_until)
            if tray.digest_until is not None:
                instants.append(tray.digest_until)
        return min(instants, default=None)

    def waits(self, contact: str, key: str) -> bool:
        """Return whether a contact is still to be told of a key."""
        tray = self.state.trays.get(contact)
        return tray is not None and any(slip.key == key for slip in (*tray.gathering, *tray.held))

    def waiting_keys(self) -> set[str]:
        """Return every key that somebody is still to be told of."""
        return {slip.key for tray in self.state.trays.values() for slip in (*tray.gathering, *tray.held)}

    def strike(self, unwanted: Callable[[Slip], bool]) -> None:
        """Take slips off all trays."""
        for tray in self.state.trays.values():
            self._strike(tray, unwanted)

    @staticmethod
    def _strike(tray: Tray, unwanted: Callable[[Slip], bool]) -> None:
        tray.gathering = [slip for slip in tray.gathering if not unwanted(slip)]
        tray.held = [slip for slip in tray.held if not unwanted(slip)]

    def _telling(self, slip: Slip) -> Telling:
        return self.state.tellings[slip.key]

    def _apart(self, slip: Slip) -> bool:
        # An end is good news: it may wait a minute, whatever the alarm was.
        telling = self._telling(slip)
        return (telling.priority is Priority.HIGHEST or telling.at_once) and telling.ended is None

    def _through(self, slip: Slip, evening: bool) -> bool:
        telling = self._telling(slip)
        if telling.ended is not None:
            return slip.urgent
        return (
            slip.urgent
            or telling.priority >= Priority.HIGHEST
            or telling.through_quiet
            or (evening and telling.evening)
        )
