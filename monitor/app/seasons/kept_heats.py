"""Keeps the courses of heaps, since judging a heap takes up to a second where its probes read each minute.

Rules:
1. A course serves until an entry about the heap, a correction, an import or other settings come. Of a heap that is gone a late
   reading of its time ends that too; of one that lies there the course may be ten minutes old.
2. A look works out as many as fit into `BUDGET_S` of processor time, and at least one. A child process, niced, works out the
   others, so that neither a person nor the writer waits for them. Meanwhile looks work out none, and these heaps are told as
   waiting, or as they last stood.
"""

import json
import logging
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from monitor.app.seasons.heap_heat import heat_course, own_hold
from monitor.app.seasons.heat_lines import heat_from_line
from monitor.app.yard.yard_view import YardView
from monitor.configuration import Configuration
from monitor.engine import Core
from monitor.material import relatives
from monitor.model.events import EventKind
from monitor.model.times import MINUTE_MS
from monitor.model.work import Work
from monitor.piles import Batch
from monitor.reports import HeatCourse

BUDGET_S = 0.2
LONGEST_S = 600
"""The longest time that the child may take, s."""
_RULED_ANEW = (EventKind.CORRECTION, EventKind.IMPORTED, EventKind.SETTINGS, EventKind.SEALED)
_KEPT_MS = 10 * MINUTE_MS
_MOST = 400
"""The most heaps that are kept."""

log = logging.getLogger("heaptender.season")


@dataclass(frozen=True, slots=True)
class _State:
    """A state of the record, as far as a heap's course depends on it; when it was looked at, and its end (UTC ms)."""

    of: tuple[object, ...]
    made: int
    until: int


@dataclass(slots=True)
class Left:
    """The heaps that one look left to the child."""

    heaps: dict[str, _State] = field(default_factory=dict)


class HeapHeats:
    """Tells the courses of heaps, and keeps them; any thread may use it."""

    def __init__(self, done: Callable[[], None] = lambda: None) -> None:
        """Begin without any.

        Args:
            done: Called from another thread when courses that waited are there.
        """
        self._lock = threading.Lock()
        self._kept: dict[str, tuple[_State, HeatCourse]] = {}
        self._done = done
        self._at_work: threading.Thread | None = None

    def of(
        self, view: YardView, configuration: Configuration, batch: str, works: Sequence[Work], look: "HeatLook"
    ) -> HeatCourse:
        """Return the course of a heap, or that it waits.

        Args:
            view: The record.
            configuration: The configuration in force, for the site's own rules.
            batch: The heap's id.
            works: The entries that concern it.
            look: The look that asks.
        """
        known = view.engine.state.batches.batches[batch]
        state = _State(_of(view, configuration, known, works), look.now, view.store.mark().latest() or 0)
        with self._lock:
            before = self._kept.get(batch)
        if before is not None and before[0].of == state.of and _serves(before[0], known, view, look.now):
            return before[1]
        if not self._busy and look.has_time():
            found = heat_course(view, configuration, batch, look.now)
            self._keep(batch, state, found)
            return found
        look.left.heaps[batch] = state
        if before is not None and before[0].of == state.of:
            return before[1]
        return HeatCourse(hold_milli_c=own_hold(view, known), counts_from=known.built, waits=True)

    def work_out(self, source: Path | None, look: "HeatLook") -> None:
        """Have what a look left worked out by a child, one child at a time; without a configuration file the next look goes on.

        Args:
            source: The configuration's file.
            look: The look.
        """
        if source is None or not look.left.heaps:
            return
        with self._lock:
            if self._busy:
                return
            self._at_work = threading.Thread(
                target=self._with_child, args=(source, dict(look.left.heaps)), name="season", daemon=True
            )
            self._at_work.start()

    def wait(self) -> None:
        """Wait until the child is through."""
        with self._lock:
            at_work = self._at_work
        if at_work is not None:
            at_work.join()

    @property
    def _busy(self) -> bool:
        """Whether a child is at work."""
        at_work = self._at_work
        return at_work is not None and at_work.is_alive()

    def _with_child(self, source: Path, heaps: dict[str, _State]) -> None:
        try:
            why = self._read_child(source, heaps)
        except (OSError, ValueError, TypeError, KeyError) as fault:
            why = str(fault)
        if why:
            log.warning("Heaps of the season could not be worked out (%s); the next look goes on with them", why)

    def _read_child(self, source: Path, heaps: dict[str, _State]) -> str:
        """Keep each course as soon as the child has it; return why there are no more, or "" if all is well."""
        words = [sys.executable, "-m", "monitor.app.seasons", str(source)]
        asked = "".join(f"{json.dumps([batch, state.made])}\n" for batch, state in heaps.items())
        with subprocess.Popen(  # noqa: S603 (our own program; the engine named the heaps)
            words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        ) as child:
            too_long = threading.Timer(LONGEST_S, child.kill)
            too_long.start()
            try:
                assert child.stdin is not None
                assert child.stdout is not None
                assert child.stderr is not None
                child.stdin.write(asked)
                child.stdin.close()
                for line in child.stdout:
                    batch, found = heat_from_line(line)
                    self._keep(batch, heaps[batch], found)
                    self._done()
                said = child.stderr.read().strip().splitlines()
                return "" if child.wait() == 0 else said[-1] if said else "no reason was given"
            finally:
                too_long.cancel()

    def _keep(self, batch: str, state: _State, course: HeatCourse) -> None:
        with self._lock:
            self._kept.pop(batch, None)
            self._kept[batch] = state, course
            while len(self._kept) > _MOST:
                del self._kept[next(iter(self._kept))]


class HeatLook:
    """One look at heaps: its instant, its time left for working some out, and those that it leaves to the child."""

    def __init__(self, now: int, budget_s: float = BUDGET_S) -> None:
        """Begin.

        Args:
            now: The present, UTC ms.
            budget_s: The time of the processor that may be spent, s.
        """
        self.now, self.left = now, Left()
        self._until = time.thread_time() + budget_s
        self._begun = False

    def has_time(self) -> bool:
        """Return whether another heap may be worked out; the first always may."""
        if self._begun and time.thread_time() >= self._until:
            return False
        self._begun = True
        return True


def _of(view: YardView, configuration: Configuration, batch: Batch, works: Sequence[Work]) -> tuple[object, ...]:
    marks = tuple(view.store.last_of(kind) for kind in _RULED_ANEW)
    # Where another heap came in, any entry may change the past of that one.
    others = next(iter(relatives(Core(view.engine.state), batch.batch)), None)
    brought = None if others is None else view.store.last_of(EventKind.WORK)
    return marks, brought, tuple(works), batch.built, batch.ended, id(configuration)


def _serves(state: _State, batch: Batch, view: YardView, now: int) -> bool:
    if batch.ended is None:
        return state.made <= now < state.made + _KEPT_MS
    return not view.store.arrived_after(state.until, batch.built, batch.ended)
