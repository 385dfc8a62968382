"""The follow-ups of a telling that nobody answers: repeats, passing on, and telling contacts who have come on duty.

Rules: the desk's numbers 1 to 3. A late deadline is served once, and the next counts from then.
"""

from dataclasses import dataclass

from monitor.model.alarm_kinds import CATALOG
from monitor.model.effects import Occasion
from monitor.model.settings import NoticePolicy
from monitor.model.times import HOUR_MS
from monitor.model.words import Priority
from monitor.notices.roster import Roster
from monitor.notices.state import DeskState, NoticeReason, Slip, Telling, Told
from monitor.notices.trays import Trays

DANGER_MOST_MS = HOUR_MS
"""The longest time between two repeats of the highest priority, unless its first interval is longer."""

DOUBLINGS_MOST = 10
"""After as many repeats the interval grows no more."""

Outgoing = dict[str, list[Slip]]
"""The slips to hand to each contact at one instant, by contact."""


@dataclass(slots=True)
class FollowUps:
    """The deadlines of a desk's tellings and trays. `at` is engine time, UTC ms."""

    state: DeskState
    roster: Roster
    trays: Trays
    policy: NoticePolicy

    def due(self) -> int | None:
        """Return the next deadline, UTC ms, or None."""
        instants = [self.trays.due()]
        for telling in self.state.tellings.values():
            instants.append(telling.pass_on_at)
            instants += [told.repeat_at for told in telling.told.values()]
        return min((instant for instant in instants if instant is not None), default=None)

    def due_at(self, at: int) -> Outgoing:
        """Take up every deadline at or before `at`; return the slips to hand out."""
        outgoing: Outgoing = {}
        for key, telling in sorted(self.state.tellings.items(), key=lambda pair: (pair[1].place, pair[0])):
            for contact in sorted(telling.told):
                repeat_at = telling.told[contact].repeat_at
                if repeat_at is not None and repeat_at <= at:
                    self._repeat(at, key, contact, outgoing)
            if telling.pass_on_at is not None and telling.pass_on_at <= at:
                self._pass_on(at, key, outgoing)
        for contact, slips in self.trays.release(at).items():
            for slip in slips:
                self._deliver(at, contact, slip, outgoing)
        return outgoing

    def told(self, at: int, contact: str, slip: Slip) -> None:
        """Note that a contact has been told, and set the deadlines that follow if nobody answers.

        Args:
            at: When the message went out, UTC ms.
            contact: Who was told.
            slip: What they were told, and why.
        """
        telling = self.state.tellings[slip.key]
        told = telling.told.setdefault(contact, Told(last=at))
        told.last = at
        if slip.reason is NoticeReason.STILL_ON:
            told.repeats += 1
        if not telling.running:
            return
        told.repeat_at = self._repeat_at(at, contact, telling)
        if telling.pass_on_at is None and slip.reason is not NoticeReason.STILL_ON:
            telling.pass_on_at = self._pass_on_at(at, telling)

    def resume(self, at: int, key: str) -> None:
        """Resume a telling whose *seen* was taken back: repeats and passing on count again from `at`."""
        telling = self.state.tellings[key]
        for contact, told in telling.told.items():
            told.repeats = 0
            told.repeat_at = self._repeat_at(at, contact, telling)
        if telling.told:
            telling.pass_on_at = self._pass_on_at(at, telling)

    def interval(self, priority: Priority, repeats: int = 0) -> int:
        """Return the milliseconds until the next repeat to one contact, after `repeats` of them: each waits twice as long."""
        first = {
            Priority.HIGHEST: self.policy.repeat_highest_ms,
            Priority.HIGH: self.policy.repeat_high_ms,
            Priority.MEDIUM: self.policy.repeat_medium_ms,
        }.get(priority, self.policy.repeat_low_ms)
        longer = first << min(repeats, DOUBLINGS_MOST)
        return min(longer, max(first, DANGER_MOST_MS)) if priority is Priority.HIGHEST else longer

    def _repeat_at(self, at: int, contact: str, telling: Telling) -> int | None:
        """Return when a contact who is told at `at` (UTC ms) hears of it again if nobody answers, or None."""
        repeats = telling.told[contact].repeats
        endless = telling.priority is Priority.HIGHEST and self.policy.repeats > 0
        more = endless or repeats < self._most_repeats(contact, telling)
        return at + self.interval(telling.priority, repeats) if more else None

    def _most_repeats(self, contact: str, telling: Telling) -> int:
        """Return the most repeats to one contact, for an alarm that is not of the highest priority."""
        known = self.roster.contacts.get(contact)
        if telling.priority <= Priority.LOW and known is not None and known.digest:
            return 0  # the digest says it again
        kind = CATALOG.get(telling.alarm)
        most = kind.repeats if kind is not None else None
        return self.policy.repeats if most is None else min(most, self.policy.repeats)

    def _pass_on_at(self, at: int, telling: Telling) -> int | None:
        # The low priority is never passed on: it can wait for the digest. So can what is soon left to the digest, where
        # one of those who were told gets it.
        kind, contacts = CATALOG.get(telling.alarm), self.roster.contacts
        in_digest = any(contacts[one].digest for one in telling.told if one in contacts)
        if kind is not None and kind.repeats is not None and in_digest:
            return None
        after = {
            Priority.HIGHEST: self.policy.pass_on_highest_ms,
            Priority.HIGH: self.policy.pass_on_high_ms,
            Priority.MEDIUM: self.policy.pass_on_medium_ms,
        }.get(telling.priority)
        return None if after is None else at + after

    def _repeat(self, at: int, key: str, contact: str, outgoing: Outgoing) -> None:
        telling = self.state.tellings[key]
        told = telling.told[contact]
        told.repeat_at = None
        if self.roster.answers_for(contact, telling.place, at):
            self._add(outgoing, contact, Slip(key=key, occasion=Occasion.REPEAT, reason=NoticeReason.STILL_ON))
            return
        if contact in self.roster.contacts:
            told.repeat_at = at + self.interval(telling.priority)
        else:
            del telling.told[contact]
        self._stand_in(at, key, outgoing, NoticeReason.TAKEN_OVER)

    def _stand_in(self, at: int, key: str, outgoing: Outgoing, reason: NoticeReason) -> None:
        telling = self.state.tellings[key]
        occasion = Occasion.NEW if reason is NoticeReason.CAME_ON else Occasion.PASSED_ON
        for other in self.roster.first(telling.place, at):
            if other not in telling.told and not self.trays.waits(other, key):
                self._add(outgoing, other, Slip(key=key, occasion=occasion, reason=reason, moved=True))

    def _pass_on(self, at: int, key: str, outgoing: Outgoing) -> None:
        telling = self.state.tellings[key]
        telling.pass_on_at = None
        orders = [self.roster.contacts[one].order for one in telling.told if one in self.roster.contacts]
        beyond = max(orders, default=0)
        wake = telling.priority is Priority.HIGHEST
        if self.roster.nobody_beyond(telling.place, beyond):
            return
        chosen = self.roster.further(telling.place, at, beyond, wake=wake)
        for contact in chosen:
            self._add(outgoing, contact, Slip(key=key, occasion=Occasion.PASSED_ON, reason=NoticeReason.UNANSWERED))
        if not chosen:
            telling.pass_on_at = self._pass_on_at(at, telling)

    def _deliver(self, at: int, contact: str, slip: Slip, outgoing: Outgoing) -> None:
        """Hand out a slip that waited on a tray; if its contact went off duty meanwhile, hand it to those who came on duty."""
        telling = self.state.tellings[slip.key]
        here = contact in self.roster.contacts
        end = slip.reason is NoticeReason.OVER
        if here and (slip.moved or end or self.roster.answers_for(contact, telling.place, at)):
            self._add(outgoing, contact, slip)
            return
        if not end:
            new = slip.occasion is Occasion.NEW
            self._stand_in(at, slip.key, outgoing, NoticeReason.CAME_ON if new else NoticeReason.TAKEN_OVER)
        if here and contact in telling.told and telling.running:
            telling.told[contact].repeat_at = at + self.interval(telling.priority)

    @staticmethod
    def _add(outgoing: Outgoing, contact: str, slip: Slip) -> None:
        slips = outgoing.setdefault(contact, [])
        if all(one.key != slip.key for one in slips):
            slips.append(slip)
