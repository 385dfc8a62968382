"""The daily digest: when it goes, and to whom.

Rules: each local date has one digest (see `localtime` for dates whose clock jumps). After a stop one late digest covers the
whole span. A digest is held through a contact's quiet hours; if the next falls due before it went, one digest covers both.
It is written when it goes.
"""

from dataclasses import dataclass

from monitor.notices.localtime import next_daily
from monitor.notices.roster import Roster
from monitor.notices.state import DeskState, Tray
from monitor.notices.summary import Summary


@dataclass(slots=True)
class Digests:
    """The digests of a desk's state. `at` is engine time, UTC ms."""

    state: DeskState
    roster: Roster
    summary: Summary
    minute: int

    def arm(self, at: int) -> None:
        """Set when the next digest is due by the settings in force; an overdue digest stays overdue."""
        if self.state.digest_at is None:
            self.state.digest_since = at
        if self.state.digest_at is None or self.state.digest_at > at:
            self.state.digest_at = next_daily(at, self.minute, self.roster.zone)

    def due(self, at: int) -> bool:
        """Return whether a digest is to be set aside or written at or before `at`."""
        dues = [self.state.digest_at, *(tray.digest_until for tray in self.state.trays.values())]
        return any(due is not None and due <= at for due in dues)

    def serve(self, at: int) -> list[tuple[str, str, int]]:
        """Write the digests that are due; return (contact, text, since in UTC ms) of each."""
        state = self.state
        if state.digest_at is not None and state.digest_at <= at:
            for contact, one in self.roster.contacts.items():
                if one.digest:
                    self._set_aside(contact, at)
            state.digest_since = at
            state.digest_at = next_daily(at, self.minute, self.roster.zone)
        out: list[tuple[str, str, int]] = []
        for contact in [*self.roster.contacts, *sorted(state.trays.keys() - self.roster.contacts.keys())]:
            tray = state.trays.get(contact)
            if tray is not None and tray.digest_until is not None and tray.digest_until <= at:
                # A contact who left the settings gets no digest, but theirs must not stay due for ever.
                if contact in self.roster.contacts:
                    out.append((contact, self._written(contact, tray, at), tray.digest_since))
                tray.digest_until = None
        return out

    def _set_aside(self, contact: str, at: int) -> None:
        tray = self.state.trays.setdefault(contact, Tray())
        if tray.digest_until is None:
            tray.digest_since = self.state.digest_since
        tray.digest_to = at
        tray.digest_until = self.roster.quiet_until(contact, at) or at

    def _written(self, contact: str, tray: Tray, at: int) -> str:
        # A digest that waited through the night must call the evening before yesterday.
        places = self.roster.contacts[contact].places
        return self.summary.digest(self.state, tray.digest_since, tray.digest_to, at, places)
