"""The trays of the contacts decide which slips go now and which wait: gathered for a minute, or held through quiet hours.

Rules:
1. A slip of the highest priority, or one marked `at_once`, goes at once as a message of its own and makes no other wait.
2. Of the others the first goes at once; those that come within `gather_ms` of it wait and go as one message. Slips handed
   over together go as one message.
3. Quiet hours hold every slip but those of the highest priority and those marked `through_quiet` (the declaration of an
   alarm says whether it is worth waking somebody); `evening` goes through until midnight. Held slips go as one message when
   quiet hours end.
4. A tray holds at most one slip of each key.
"""

from collections.abc import Callable
from dataclasses import dataclass

from monitor.model.words import Priority
from monitor.notices.roster import Roster
from monitor.notices.state import DeskState, Slip, Telling, Tray


@dataclass(frozen=True, slots=True)
class Parcel:
    """The slips that go to one contact now, as one message."""

    contact: str
    slips: tuple[Slip, ...]


@dataclass(slots=True)
class Trays:
    """The trays of a desk's state."""

    state: DeskState
    roster: Roster
    gather_ms: int

    def hand(self, contact: str, slips: list[Slip], at: int) -> list[Parcel]:
        """Hand slips to a contact; those that must wait stay on the contact's tray.

        Args:
            contact: The contact.
            slips: The slips, each replacing one of the same key that still waits.
            at: Engine time, UTC ms.

        Returns:
            The messages that go now.
        """
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
        """Take slips that have waited long enough (`at` in UTC ms) off the trays; return them by contact, in their order."""
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
        """Return when a slip or a digest next leaves a tray, UTC ms, or None."""
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
        """Return whether a slip of a key waits for a contact."""
        tray = self.state.trays.get(contact)
        return tray is not None and any(slip.key == key for slip in (*tray.gathering, *tray.held))

    def waiting_keys(self) -> set[str]:
        """Return the keys of all slips that wait."""
        return {slip.key for tray in self.state.trays.values() for slip in (*tray.gathering, *tray.held)}

    def strike(self, unwanted: Callable[[Slip], bool]) -> None:
        """Take unwanted slips off all trays."""
        for tray in self.state.trays.values():
            self._strike(tray, unwanted)

    @staticmethod
    def _strike(tray: Tray, unwanted: Callable[[Slip], bool]) -> None:
        tray.gathering = [slip for slip in tray.gathering if not unwanted(slip)]
        tray.held = [slip for slip in tray.held if not unwanted(slip)]

    def apart(self, parcel: Parcel) -> bool:
        """Return whether a parcel is a message of its own, which never goes with others."""
        return any(self._apart(slip) for slip in parcel.slips)

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
