"""Looks for damage in the record while the daemon runs: all of it again and again, a little each hour.

Rules:
1. What is new since the last look is looked at first, then as many of the older days as fit in the hour's share; after the
   newest it begins with the oldest again. So no day goes unseen for longer than it takes to go round, and a look is short.
2. Before each copy what is new is looked at, and the flags; of a record that is damaged no copy is made, and none goes for it.
3. Damage is told once, with its days, and stands until a look at everything finds nothing.
All looks are on threads of their own with connections of their own; only what is told goes to the writer's thread.
"""

import logging
import time
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from monitor.app.loop.hub import Hub
from monitor.app.loop.loop_faults import fault, fault_over
from monitor.engine import Engine
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
"""So long a look takes each hour, of one core (ours): a thousandth of it."""

_REST = 2.0
"""After each day it rests for so many times as long as the day took, so that readings come first."""

NEW = "record seen to"
ROUND = "record round to"

log = logging.getLogger("heaptender")


class RecordWatch:
    """Watches the record of one data folder; any thread."""

    def __init__(self, folder: Path, hub: Hub) -> None:
        self._folder = folder
        self._hub = hub
        self._told = ""

    def look(self, share_s: float = SHARE_S) -> str:
        """Look at what is new and at some of the old; return what is damaged, in words, or "".

        Raises:
            UnavailableError: The journal cannot be read just now (which is no damage).
        """
        return self._looked(lambda store: self._some(store, share_s))

    def before_copy(self) -> str:
        """Look at what is new, before a copy is made; return what is damaged, in words, or "". Raises as `look`."""
        return self._looked(self._new) or self._told

    def _looked(self, look: Callable[[Store], list[Finding]]) -> str:
        try:
            with open_reader(self._folder) as store:
                # Where damage stands, only a look at everything can say that it is over.
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
            # Once round: the file as a whole, then from the oldest day on.
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
        # The open day grows, so it is looked at again each time.
        findings = audit_days(store, [day for day in days if day >= (days[-1] - 1 if seen is None else seen)])
        self._remember(NEW, days[-1])
        return findings

    def _remember(self, name: str, day: int) -> None:
        self._hub.call(partial(self._hub.writer.set_cursor, name, day))

    def _stands(self) -> bool:
        engine = self._hub.writer.engine
        link = engine.state.links.get("the record") if isinstance(engine, Engine) else None
        return link is not None and not link.up

    def _tell(self, sentences: Sequence[str], whole: bool) -> str:
        """Let people know of damage, or that there is none any more, and return it in words."""
        # A day that is both new and next in the round is looked at twice.
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
