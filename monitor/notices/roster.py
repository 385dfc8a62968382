"""The roster of contacts: who looks after a place, who is on duty, who has quiet hours.

Rules:
1. A contact looks after its `places`, or after all if it names none. Every contact looks after the yard as a whole (its
   clock, a link, the ambient probe).
2. If nobody looks after a place, everybody does. If nobody is on duty, the lowest order is told all the same, so that no
   message is lost.
3. Whoever is away (`absences`) is off duty. While all who look after a place are away, everybody else does. Somebody
   who is away is told only where nobody else is left.
4. Contacts of one order are told together. Without contacts, the contact `page` gets everything; it never rests.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

from monitor.model.settings import PAGE_CONTACT, Contact, Settings
from monitor.model.times import HOUR_MS
from monitor.notices.localtime import local, spans_near
from monitor.notices.state import Absence

NOON = 12

_PAGE = Contact(name=PAGE_CONTACT, quiet_start_minute=0, quiet_end_minute=0)


@dataclass(slots=True)
class Roster:
    """The contacts of the settings, in their order, and their absences. Keeps no state of its own."""

    settings: Settings
    absences: Sequence[Absence] = ()
    zone: ZoneInfo = field(init=False)
    contacts: dict[str, Contact] = field(init=False)

    def __post_init__(self) -> None:
        """Put the contacts in their order."""
        self.zone = ZoneInfo(self.settings.site.time_zone)
        ordered = sorted(self.settings.contacts.items(), key=lambda pair: (pair[1].order, pair[0]))
        self.contacts = dict(ordered) or {PAGE_CONTACT: _PAGE}

    def is_away(self, contact_id: str, at: int) -> bool:
        """Return whether a contact is away at an instant (UTC ms)."""
        return any(one.contact == contact_id and one.start <= at < one.end for one in self.absences)

    def on_duty(self, contact_id: str, at: int) -> bool:
        """Return whether a contact is on duty at an instant (UTC ms); without duty times, always but when away."""
        contact = self.contacts[contact_id]
        if self.is_away(contact_id, at):
            return False
        if not contact.duty:
            return True
        return any(
            start <= at < end and day.isoweekday() in window.days
            for window in contact.duty
            for day, start, end in spans_near(at, window.start_minute, window.end_minute, self.zone)
        )

    def quiet_until(self, contact_id: str, at: int) -> int | None:
        """Return when the quiet hours that hold `at` end (UTC ms), or None outside quiet hours."""
        span = self._quiet_span(contact_id, at)
        return None if span is None else span[1]

    def last_waking(self, place: str, at: int) -> int:
        """Return when (UTC ms) to tell of something at a place that falls due at `at`, so that somebody is up to hear it.

        That is `at` itself or, if all who would be told have quiet hours then, an hour before the last of them begin.
        """
        spans = [self._quiet_span(one, at) for one in self.first(place, at)]
        begun = [span[0] for span in spans if span is not None]
        return at if len(begun) < len(spans) else max(begun) - HOUR_MS

    def _quiet_span(self, contact_id: str, at: int) -> tuple[int, int] | None:
        """Return the quiet hours (from, to) that hold an instant, or None."""
        contact = self.contacts[contact_id]
        if contact.quiet_start_minute == contact.quiet_end_minute:
            return None
        spans = spans_near(at, contact.quiet_start_minute, contact.quiet_end_minute, self.zone)
        return next(((start, end) for _, start, end in spans if start <= at < end), None)

    def is_evening(self, contact_id: str, at: int) -> bool:
        """Return whether `at` (UTC ms) lies in quiet hours that began in the evening, before the midnight that follows."""
        contact = self.contacts[contact_id]
        for day, start, end in spans_near(at, contact.quiet_start_minute, contact.quiet_end_minute, self.zone):
            if start <= at < end:
                begun = local(start, self.zone)
                return begun.hour >= NOON and local(at, self.zone).date() == day
        return False

    def looks_after(self, contact_id: str, place: str) -> bool:
        """Return whether a contact looks after a place."""
        places = self.contacts[contact_id].places
        return not places or place in places or not (place in self.settings.piles or place in self.settings.bins)

    def caretakers(self, place: str) -> list[str]:
        """Return the contacts who look after a place, by (order, id); everybody if nobody does."""
        return [one for one in self.contacts if self.looks_after(one, place)] or list(self.contacts)

    def reachable(self, place: str, at: int) -> list[str]:
        """Return who looks after a place at an instant (UTC ms), by (order, id): its caretakers who are not away.

        If all are away, everybody else is meant; if nobody is left, the caretakers all the same. Never empty.
        """
        own = self.caretakers(place)
        here = [one for one in self.contacts if not self.is_away(one, at)]
        return [one for one in own if one in here] or here or own

    def first(self, place: str, at: int) -> list[str]:
        """Return the contacts to tell first: the lowest order on duty, else the lowest order. Never empty."""
        everyone = self.reachable(place, at)
        return self._lowest([one for one in everyone if self.on_duty(one, at)] or everyone)

    def further(self, place: str, at: int, beyond: int, *, wake: bool) -> list[str]:
        """Return the contacts to pass a notice on to: the lowest order above `beyond` that is on duty.

        Args:
            place: The place the notice is about.
            at: When, UTC ms.
            beyond: The highest order told so far.
            wake: Whether contacts off duty are taken if nobody else is left.
        """
        left = [one for one in self.reachable(place, at) if self.contacts[one].order > beyond]
        awake = [one for one in left if self.on_duty(one, at)]
        if awake or not wake:
            return self._lowest(awake)
        return self._lowest(left or [one for one in self.caretakers(place) if self.contacts[one].order > beyond])

    def nobody_beyond(self, place: str, beyond: int) -> bool:
        """Return whether no caretaker, on duty or not, has an order above `beyond`."""
        return all(self.contacts[one].order <= beyond for one in self.caretakers(place))

    def answers_for(self, contact_id: str, place: str, at: int) -> bool:
        """Return whether a contact told earlier is still the right one to tell.

        Args:
            contact_id: The contact; one that has left the settings is not.
            place: The place the notice is about.
            at: When, UTC ms.

        Returns:
            Whether the contact looks after the place and is on duty, or would be told first.
        """
        if contact_id not in self.contacts:
            return False
        return (contact_id in self.caretakers(place) and self.on_duty(contact_id, at)) or contact_id in self.first(
            place, at
        )

    def on_duty_now(self, at: int) -> list[str]:
        """Return everybody on duty, by (order, id)."""
        return [one for one in self.contacts if self.on_duty(one, at)]

    def _lowest(self, ids: list[str]) -> list[str]:
        lowest = min((self.contacts[one].order for one in ids), default=0)
        return [one for one in ids if self.contacts[one].order == lowest]
