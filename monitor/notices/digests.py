"""When the daily digest goes, and to whom.

Rules: one a local date (see `localtime` for dates whose clock jumps); late once after a stop, over the whole span; held
through a contact's quiet hours, longer if the next falls due before it could go; written when it goes.
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
        """Set the next digest by the settings of now; one that is overdue stays so."""
        if self.state.digest_at is None:
            self.state.digest_since = at
        if self.state.digest_at is None or self.state.digest_at > at:
            self.state.digest_at = next_daily(at, self.minute, self.roster.zone)

    def due(self, at: int) -> bool:
        """Tell whether any is set aside or written at or before an instant."""
        dues = [self.state.digest_at, *(tray.digest_until for tray in self.state.trays.values())]
        return any(due is not None and due <= at for due in dues)

    def serve(self, at: int) -> list[tuple[str, str, int]]:
        """Write what is due; return (contact, text, since) of what goes now."""
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
                # Who is no longer in the settings gets none, and it must not stay due for ever.
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
        # In the words of now: what waited through the night speaks of the night as yesterday.
        places = self.roster.contacts[contact].places
        return self.summary.digest(self.state, tray.digest_since, tray.digest_to, at, places)
