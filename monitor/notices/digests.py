"""The daily digest: when it goes, and to whom.

Rules: each local date has one digest (see `localtime` for dates whose clock jumps). After a stop one late digest covers the
whole span. A digest is held through a contact's quiet hours; if the next falls due before it went, one digest covers both.
It is written when it goes. Where notices waited through quiet hours that end at most two hours before it, it goes with them,
early, as one message.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from monitor.model.times import HOUR_MS
from monitor.notices.localtime import next_daily
from monitor.notices.roster import Roster
from monitor.notices.state import DeskState, Digest, Tray
from monitor.notices.summary import Summary

EARLY_MS = 2 * HOUR_MS
"""How much before its time a digest goes with what waited through quiet hours; a choice of ours."""


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
        return any(due is not None and due <= at for due in dues) or any(self._early(at))

    def begins(self, at: int) -> bool:
        """Return whether `serve` at `at` (UTC ms) will write the first digests of a date, early or in time."""
        state = self.state
        went = any(one.told_to is not None and at - one.told_to <= EARLY_MS for one in state.trays.values())
        in_time = state.digest_at is not None and state.digest_at <= at
        return not went and (in_time or any(self._early(at)))

    def bring_forward(self, at: int) -> None:
        """Set aside the digests that go early, with what waited until `at` (UTC ms); call before that is handed out."""
        for contact in list(self._early(at)):
            self._set_aside(contact, at)
            self.state.trays[contact].told_to = at

    def _early(self, at: int) -> Iterator[str]:
        """Yield the contacts whose quiet hours have ended with notices that waited, shortly before their digest."""
        due = self.state.digest_at
        if due is None or not at < due <= at + EARLY_MS:
            return
        for contact, one in self.roster.contacts.items():
            tray = self.state.trays.get(contact)
            if one.digest and tray is not None and tray.held and tray.held_until is not None and tray.held_until <= at:
                yield contact

    def serve(self, at: int) -> list[Digest]:
        """Write the digests that are due at or before `at` (UTC ms)."""
        state = self.state
        if state.digest_at is not None and state.digest_at <= at:
            for contact, one in self.roster.contacts.items():
                if one.digest:
                    self._set_aside(contact, at)
            state.digest_since = at
            state.digest_at = next_daily(at, self.minute, self.roster.zone)
        out: list[Digest] = []
        for contact in [*self.roster.contacts, *sorted(state.trays.keys() - self.roster.contacts.keys())]:
            tray = state.trays.get(contact)
            if tray is not None and tray.digest_until is not None and tray.digest_until <= at:
                # A contact who left the settings gets no digest, but theirs must not stay due for ever.
                if contact in self.roster.contacts:
                    out.append(Digest(contact, self._written(contact, tray, at), tray.digest_since))
                tray.digest_until = None
        return out

    def _set_aside(self, contact: str, at: int) -> None:
        tray = self.state.trays.setdefault(contact, Tray())
        early = tray.told_to
        if early is not None and at - early <= EARLY_MS:
            return  # it went already; the next goes on from there
        tray.told_to = None
        if tray.digest_until is None:
            tray.digest_since = self.state.digest_since if early is None else early
        tray.digest_to = at
        tray.digest_until = self.roster.quiet_until(contact, at) or at

    def _written(self, contact: str, tray: Tray, at: int) -> str:
        # A digest that waited through the night must call the evening before yesterday.
        places = self.roster.contacts[contact].places
        return self.summary.digest(self.state, tray.digest_since, tray.digest_to, at, places)
