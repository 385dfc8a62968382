"""Searches the record for damage while the daemon runs: all of it in turn, a little each hour.

Rules:
1. New days come first, then as many older days as fit in the hour's share; after the newest day the round begins again with the
   oldest. So every day is checked once per round, and each look is short.
2. Before each copy the new days and the flags are checked; a damaged record is not copied, and no older copy is dropped for it.
3. Damage is reported once, with its days, and stands until a look at everything finds none.
Looks run on their own threads with their own connections; only reports go to the writer's thread.
"""

import logging
import time
from collections.abc import Callable, Sequence
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
    audit_days,
    check_pages,
    days_of,
    open_reader,
    verify_chain,
)
from monitor.model.alarm_kinds import Alarm

SHARE_S = 3.0
"""How many seconds of one core a look may take each hour, about a thousandth (our choice)."""

_REST = 2.0
"""After each day the look rests for this many times as long as the day took, so that readings come first."""

NEW = "record seen to"
ROUND = "record round to"

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
        until, reached = time.monotonic() + share_s, following[0] - 1 if following else 0
        for day in following:
            begun = time.monotonic()
            if begun >= until:
                break
            findings += verify_chain(store, (day,))
            reached = day
            time.sleep(min(1.0, (time.monotonic() - begun) * _REST))
        if following:
            self._remember(ROUND, reached)
        return findings

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
