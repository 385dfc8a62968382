"""Copies readings and effects to a server, over days of outage, without a gap and without slowing anything.

Rules:
1. A cursor over the journal is the only store: while the server is away nothing is held in memory, and afterwards the
   mirror goes on from its cursor.
2. On each new connection it goes back a little (see `mirror_progress`), because a server that crashed forgets its newest
   points.
3. Lines that the server refuses are found by halving, set aside and reported; the rest goes on. Before the first is
   set aside, a line that is certainly right is tried: if that fails too, not the lines are wrong but the access.
4. Everything happens on the mirror's own thread; a failure costs it a growing pause, and others nothing.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from monitor.mirror.line_protocol import effect_lines, reading_line
from monitor.mirror.mirror_progress import Progress
from monitor.mirror.source import Cursor, CursorStore, MirrorSource
from monitor.mirror.write_api import Server, Trouble, WriteError

BATCH = 2_000
IDLE_S = 5.0
FIRST_PAUSE_S = 1.0
LONGEST_PAUSE_S = 300.0
LONGEST_ASKED_S = 3_600.0
PROBE_LINE = "heaptender_mirror alive=1i"
"""A line that every server accepts; it has no time, so the server adds its own."""

LinkChanged = Callable[[bool, str], None]
"""Receives (up, why) when the server went away or came back; called on the mirror's thread, once each."""

SetAside = Callable[[str, str], None]
"""Receives (line, why) of each line that the server refuses; called on the mirror's thread."""


@dataclass(slots=True)
class Tally:
    """The mirror's counts since it started."""

    points: int = 0
    set_aside: int = 0
    failures: int = 0


class Mirror:
    """One server's mirror; all methods are for one thread."""

    def __init__(
        self,
        source: MirrorSource,
        store: CursorStore,
        server: Server,
        *,
        link_changed: LinkChanged,
        set_aside: SetAside,
        batch: int = BATCH,
        down: bool = False,
        reach: int | None = None,
    ) -> None:
        """Take the journal, the store of the cursor, and the server.

        Args:
            source: The journal.
            store: Keeps the cursor between starts.
            server: The server.
            link_changed: Called when the server goes away or comes back.
            set_aside: Receives the lines that the server refuses.
            batch: Points in one write.
            down: Whether the server was reported away before this start, so that its return is reported.
            reach: How far the record reaches, UTC ms: a cursor beyond it is of another record, whose place a backup has taken.
                None: the cursor is of this record.
        """
        self._source, self._store, self._server = source, store, server
        self._link_changed, self._set_aside = link_changed, set_aside
        self._batch = batch
        kept = store.load_cursor()
        self._kept = kept if kept is not None else Cursor()
        known = self._kept if reach is None else Cursor(*(min(part, reach) for part in self._kept))
        self._progress = Progress(known)
        self._up: bool | None = False if down else None
        self._pause_s = 0.0
        self._not_before_s = 0.0
        self._connections: int | None = None
        """The server's count of connections at the latest success; None before the first."""
        self.tally = Tally()
        self._keep()

    @property
    def cursor(self) -> Cursor:
        """The mirror's present cursor."""
        return self._progress.cursor

    @property
    def is_kept(self) -> bool:
        """Whether the next start would go on from what is safe now."""
        return self._kept == self._progress.safe

    def step(self, now_s: float) -> float:
        """Send one batch.

        Args:
            now_s: Monotonic seconds.

        Returns:
            Seconds until the next step is useful (0: at once).
        """
        if now_s < self._not_before_s:
            return self._not_before_s - now_s
        # It may not have been kept yet: the disk was full, and the server away ever since.
        self._keep()
        cursor = self._progress.cursor
        readings = self._source.readings_after(cursor.readings, self._batch)
        effects = self._source.effects_after(cursor.effects, self._batch)
        lines = [reading_line(reading) for reading in readings.rows] + effect_lines(effects.rows)
        reached = Cursor(max(readings.cursor, cursor.readings), max(effects.cursor, cursor.effects))
        try:
            for start in range(0, len(lines), self._batch):
                self.deliver(lines[start : start + self._batch])
        except WriteError as fault:
            return self._failed(fault, now_s)
        if reached != cursor:
            self._progress.reached(reached, now_s)
        if lines:
            self._succeeded(now_s)
        self._keep()
        full = len(readings.rows) >= self._batch or len(effects.rows) >= self._batch
        return 0.0 if full or self._progress.cursor != reached else IDLE_S

    def deliver(self, lines: Sequence[str]) -> None:
        """Write lines, setting aside those that the server refuses.

        Raises:
            WriteError: The server could not be written to.
        """
        if not lines:
            return
        try:
            self._write(lines)
        except WriteError as fault:
            if fault.trouble not in {Trouble.DATA, Trouble.LARGE}:
                raise
            if fault.trouble is Trouble.DATA:
                self._make_sure(fault)
            self._halve(lines, fault)
        else:
            self.tally.points += len(lines)

    def _write(self, lines: Sequence[str]) -> None:
        self._server.write(lines)
        if self._connections is None:
            # Not at the step's end: if the server crashes between two of its writes, the first is lost.
            self._connections = self._server.connections()

    def _make_sure(self, fault: WriteError) -> None:
        """Find out whether the lines are wrong or the access is (some gateways answer 400 to a wrong token)."""
        try:
            self._write([PROBE_LINE])
        except WriteError as other:
            trouble = Trouble.REFUSED if other.trouble in {Trouble.DATA, Trouble.LARGE} else other.trouble
            raise WriteError(trouble, str(fault), other.retry_after_s) from fault

    def _halve(self, lines: Sequence[str], fault: WriteError) -> None:
        if len(lines) == 1:
            self.tally.set_aside += 1
            self._set_aside(lines[0], str(fault))
            return
        middle = len(lines) // 2
        for part in (lines[:middle], lines[middle:]):
            try:
                self._write(part)
            except WriteError as inner:
                if inner.trouble not in {Trouble.DATA, Trouble.LARGE}:
                    raise
                self._halve(part, inner)
            else:
                self.tally.points += len(part)

    def _failed(self, fault: WriteError, now_s: float) -> float:
        self.tally.failures += 1
        if self._up is not False:
            self._up = False
            self._link_changed(False, str(fault))
        self._pause_s = min(max(self._pause_s * 2, FIRST_PAUSE_S), LONGEST_PAUSE_S)
        pause = max(self._pause_s, min(fault.retry_after_s or 0.0, LONGEST_ASKED_S))
        self._not_before_s = now_s + pause
        return pause

    def _succeeded(self, now_s: float) -> None:
        connections = self._server.connections()
        if self._connections is None or connections == self._connections:
            # The first connection needs no going back: the stored cursor is a safe one.
            self._progress.stayed(now_s)
        else:
            # A restart of the server and a broken connection look the same, so go back in both cases.
            self._progress.back()
        self._connections = connections
        self._pause_s = 0.0
        if self._up is not True:
            was_told = self._up is False
            self._up = True
            if was_told:
                self._link_changed(True, "")

    def _keep(self) -> None:
        safe = self._progress.safe
        if safe == self._kept:
            return
        try:
            self._store.save_cursor(safe)
        except OSError:
            self.tally.failures += 1  # a full disk only means that some points are sent again after a start
        else:
            self._kept = safe
