"""Searches the record for damage while the daemon runs: all of it in turn, a little each hour.

Rules:
1. New days come first, then as many older days as fit in the hour's share, and at least so many that the round is done within
   27 days of its beginning; after the newest day the round begins again with the oldest. So every day is checked once a
   month, and each look is short.
2. Before each copy the new days and the flags are checked, and within the copy all days; if that takes too long, the rest
   goes on with the next copy, and all has been looked at before the last good copy goes. No good copy is dropped for a
   damaged one.
3. Damage is reported once, with its days, and stands until a look at everything finds none. Once a month people are told how
   much was looked at.
Looks run on their own threads with their own connections; only reports go to the writer's thread.
"""

import logging
import time
from collections.abc import Callable, Collection, Sequence
from functools import partial
from pathlib import Path

from monitor.app.loop.hub import Hub
from monitor.app.loop.loop_faults import fault, fault_over, stands
from monitor.journal import (
    NO_DAY,
    DamagedError,
    Finding,
    Store,
    What,
    audit,
    audit_beside_days,
    audit_days,
    check_pages,
    days_of,
    open_reader,
    verify_chain,
)
from monitor.model.alarm_kinds import Alarm
from monitor.model.events import LOOKED
from monitor.model.times import DAY_MS, HOUR_MS, show_time

SHARE_S = 3.0
"""How many seconds of one core a look may take each hour, about a thousandth (our choice)."""

_REST = 2.0
"""After each day the look rests for this many times as long as the day took, so that readings come first."""

ROUND_MS = 27 * DAY_MS
"""Within which time all of the record is looked at (our choice): a month, less a few days on which the daemon may be off."""

TOLD_EVERY_MS = 30 * DAY_MS
"""How often people are told what was looked at."""

LOOK_MOST_S = 60.0
"""How many seconds of one core a look takes at most, however far the round is behind (our choice)."""

COPY_SHARE_S = 600.0
"""How many seconds of one core a look through a copy may take (our choice); 20 probes, read each minute, take 0.17 s a day."""

NEW = "record seen to"
ROUND = "record round to"
BEGUN = "record round begun"
DONE = "record round done"
TOLD = "record round told"
COPIED = "record copied to"
"""Names of cursors: the newest day seen; the day to which the round has come; when it began; when the last one that is complete
began; when people were told last (each UTC ms); and the day to which the looks through copies have come."""

log = logging.getLogger("heaptender")


class RecordWatch:
    """Watches the record of one data folder; any thread may call it."""

    def __init__(self, folder: Path, hub: Hub) -> None:
        self._folder = folder
        self._hub = hub
        self._told = ""

    def look(self, share_s: float = SHARE_S) -> str:
        """Check the new days and, for about `share_s` seconds, some older ones; return the damage in words, or "".

        Raises:
            UnavailableError: The journal cannot be read just now (which is no damage).
        """
        return self._looked(lambda store: self._some(store, share_s))

    def before_copy(self) -> str:
        """Check the new days before a copy is made; return the damage in words, or "". Raises as `look`."""
        return self._looked(self._new) or self._told

    def look_at_copy(self, copy: Store, kept: int) -> list[Finding]:
        """Look through a copy: all of it, or from the day to which the last copy was looked at as far as time allows.

        Args:
            copy: The copy, which nobody writes to.
            kept: How many copies are kept; before so many were made, all days have been looked at.
        """
        days, reached = days_of(copy), copy.cursor(COPIED)
        following = [day for day in days if reached is None or day > reached]
        order = [*following, *(day for day in days if day not in set(following))]
        least, begun = -(-len(days) // max(1, kept - 1)), time.thread_time()
        findings = audit_beside_days(copy)
        for number, day in enumerate(order):
            if number >= least and time.thread_time() - begun >= COPY_SHARE_S:
                break
            findings += self._rested(partial(verify_chain, copy, (day,)))
            reached = day
        if days and reached is not None:
            self._remember(COPIED, reached)
        return findings

    def damage_on(self, days: Collection[int]) -> str:
        """Look at some days of the record and at all beside the days; return the damage in words, or "". Raises as `look`."""
        return self._looked(lambda store: audit_days(store, days) + audit_beside_days(store)) or self._told

    def _looked(self, look: Callable[[Store], list[Finding]]) -> str:
        try:
            with open_reader(self._folder) as store:
                # While damage stands, only a look at everything can show that it is gone.
                whole = bool(self._told) or self._stands()
                return self._tell(
                    [one.sentence for one in (audit(store) if whole else look(store)) if one.is_fault()], whole
                )
        except DamagedError as damage:
            return self._tell([str(damage)], whole=True)

    def _some(self, store: Store, share_s: float) -> list[Finding]:
        findings = self._new(store)
        days, seen = days_of(store), store.cursor(ROUND)
        following = [day for day in days if seen is None or day > seen]
        if not following:
            # A round is complete: check the file as a whole, then begin again with the oldest day.
            findings += [Finding(NO_DAY, What.UNREADABLE, f"the file: {one}") for one in check_pages(store)]
            following = days
        now, begun_ms = self._hub.clock.now_ms(), store.cursor(BEGUN)
        if begun_ms is None or following is days:
            self._remember(BEGUN, begun_ms := now)
        least = _needed(len(following), begun_ms + ROUND_MS - now)
        begun, reached = time.thread_time(), following[0] - 1 if following else 0
        for number, day in enumerate(following):
            took = time.thread_time() - begun
            if took >= (LOOK_MOST_S if number < least else share_s):
                break
            findings += self._rested(partial(verify_chain, store, (day,)))
            reached = day
        if following:
            self._remember(ROUND, reached)
            if reached == days[-1]:
                self._remember(DONE, begun_ms)
        if not any(one.is_fault() for one in findings):
            self._tell_of_the_month(store, days, reached, now)
        return findings

    def _rested(self, look: Callable[[], list[Finding]]) -> list[Finding]:
        begun = time.thread_time()
        found = look()
        time.sleep(min(1.0, (time.thread_time() - begun) * _REST))
        return found

    def _tell_of_the_month(self, store: Store, days: list[int], reached: int, now: int) -> None:
        """Tell people once a month how much of the record was looked at, for the digest."""
        told, done = store.cursor(TOLD), store.cursor(DONE)
        if told is None:
            self._remember(TOLD, now)
            return
        dropped = {link.day for link in store.chain() if link.pruned}
        days = [day for day in days if day not in dropped]
        if not days or now - told < TOLD_EVERY_MS:
            return
        whole = done is not None and done >= told - ROUND_MS
        seen = len(days) if whole else sum(day <= reached for day in days)
        looked = {"days": len(days), "seen": seen, "first": show_time(days[0] * DAY_MS)[:10], "since": told}
        self._remember(TOLD, now)
        kind, payload = fault_over(Alarm.RECORD)
        self._hub.call(partial(self._hub.event, kind, payload | {LOOKED: looked}))

    def _new(self, store: Store) -> list[Finding]:
        days, seen = days_of(store), store.cursor(NEW)
        if not days:
            return []
        # The open day grows, so each look checks it again.
        findings = audit_days(store, [day for day in days if day >= (days[-1] - 1 if seen is None else seen)])
        self._remember(NEW, days[-1])
        return findings

    def _remember(self, name: str, day: int) -> None:
        self._hub.call(partial(self._hub.writer.set_cursor, name, day))

    def _stands(self) -> bool:
        return stands(self._hub.writer.engine, Alarm.RECORD)

    def _tell(self, sentences: Sequence[str], whole: bool) -> str:
        """Report damage, or that none is left, and return it in words."""
        # A day that is both new and next in the round yields its findings twice.
        sentences = list(dict.fromkeys(sentences))
        if sentences:
            rest = len(sentences) - 1
            more = f", and {rest} more {'finding' if rest == 1 else 'findings'}" if rest else ""
            said = f"{sentences[0]}{more}"
            if said != self._told:
                for sentence in sentences[:20]:
                    log.error("The record is damaged: %s.", sentence.rstrip("."))
                log.error("Stop the daemon and put a copy back: heaptender restore BACKUP.")
                self._hub.call(partial(self._hub.event, *fault(Alarm.RECORD, said)))
            self._told = said
        elif whole and (self._told or self._stands()):
            self._told = ""
            self._hub.call(partial(self._hub.event, *fault_over(Alarm.RECORD)))
        return self._told


def _needed(days: int, left_ms: int) -> int:
    """Return how many of the days that follow this look must take, so that they are done in the time that is left (ms)."""
    return -(-days // max(1, left_ms // HOUR_MS))
