"""Feeds the record of one batch in order: probes in and out, work, readings. Live feeding and rework share it.

Every method returns whether the walk could take it in; False means that it touches the examined part of the record, so that
the batch must be worked out again.
"""

from collections.abc import Iterator

from monitor.model.thresholds import PileThresholds
from monitor.piles import (
    COLDEST,
    GONE_MS,
    HOTTEST,
    ROUND_LINES,
    OutingState,
    ProbeLine,
    RoundPoint,
    Walk,
    come_in,
    go_out,
    weigh,
)


class Heap:
    """Feeds one batch's walk; the outings of the probes are looked after here, for both ways of feeding."""

    def __init__(
        self,
        walk: Walk,
        outings: dict[str, OutingState],
        thresholds: PileThresholds,
        falls: dict[int, int] | None = None,
    ) -> None:
        """Keep the parts.

        Args:
            walk: The batch's walk.
            outings: Of the probes of the yard.
            thresholds: Those of the pile where the batch was built.
            falls: Where the fall began that belongs to a turning, by when that was logged; kept up to date here.
        """
        self.walk = walk
        self.falls = {} if falls is None else falls
        self.felt: int | None = None
        """The earliest instant at which the falls turned out to be others than was known, or None."""
        self.outings = outings
        self.thresholds = thresholds

    def enter(self, probe: str, at: int) -> bool:
        """Put a probe into service."""
        if self.walk.service_touches_past(probe, at):
            return False
        self._recover(at)
        self.walk.probe_in(probe, at)
        return True

    def leave(self, probe: str, at: int) -> bool:
        """Take a probe out of service for good (it was carried elsewhere)."""
        self.outings.pop(probe, None)
        line = self.walk.state.lines.get(probe)
        if line is not None and line.failed:
            line.failed = False
        if not self._serves(probe):
            return True
        if self.walk.service_touches_past(probe, at):
            return False
        self.walk.probe_out(probe, at)
        return True

    def turned(self, probes: list[str], at: int) -> bool:
        """Take in a turning: all probes of the place are out until they are back."""
        if self.walk.work_touches_past(at):
            return False
        fine = self._knows_fall(at)
        for probe in probes:
            if self._read_since(probe, at) or (self._serves(probe) and self.walk.service_touches_past(probe, at)):
                fine = False
                continue
            go_out(self.outings.setdefault(probe, OutingState()), at)
            self.walk.probe_out(probe, at)
        self.walk.turned(at)
        return fine

    def opened(self, at: int, turning: int) -> bool:
        """Take in that the probes felt the air from `at` on, for a turning that was logged at `turning`."""
        if self.walk.work_touches_past(at):
            return False
        self.walk.opened(at, turning)
        return True

    def _knows_fall(self, turning: int) -> bool:
        """Return whether the known beginning of a turning's fall is right; a corrected one touches the examined record."""
        known, begun = self.falls.get(turning), self.walk.felt_before(turning)
        if known == begun:
            return True
        self.felt = min(at for at in (known, begun, self.felt) if at is not None)
        if begun is None:
            del self.falls[turning]
        else:
            self.falls[turning] = begun
        return False

    def added(self, at: int) -> bool:
        """Take in that new material was added."""
        if self.walk.work_touches_past(at):
            return False
        self.walk.added(at)
        return True

    def joined(self, at: int) -> bool:
        """Take in that material came in that had met the rule."""
        if self.walk.work_touches_past(at):
            return False
        self.walk.joined(at)
        return True

    def came_in(self, probe: str, at: int) -> bool:
        """Take in that somebody put a probe back."""
        outing = self.outings.setdefault(probe, OutingState())
        if self._serves(probe) and outing.out is None:
            # Readings may have shown since that it was back; in order of time this entry comes before them.
            return not self.walk.service_touches_past(probe, at)
        if self.walk.service_touches_past(probe, at):
            return False
        if self._read_since(probe, at):
            return False
        line = self.walk.state.lines.get(probe)
        silent = line is not None and line.failed
        if not silent:
            self._recover(at)
        if outing.out is not None:
            come_in(outing, at, self.thresholds)
        if not silent:
            # One that fell silent before measures nothing until it speaks, whatever is logged or presumed of it.
            self.walk.probe_in(probe, at)
        return True

    def went_out(self, probe: str, at: int) -> bool:
        """Take in that somebody took a probe out."""
        if self._read_since(probe, at):
            return False
        fine = self.leave(probe, at)
        if fine:
            outing = self.outings.setdefault(probe, OutingState())
            go_out(outing, at)
            outing.taken = True
        return fine

    def begin_rounds(self, at: int) -> None:
        """Let rounds by hand prove from `at` on."""
        for line in ROUND_LINES:
            self.walk.probe_in(line, at)

    def end_rounds(self, at: int) -> None:
        """Let rounds prove no longer, from `at` (UTC ms) on."""
        for line in ROUND_LINES:
            self.walk.probe_out(line, at)

    @property
    def rounds_serve(self) -> bool:
        """Whether rounds by hand prove at present."""
        return self._serves(COLDEST)

    def round(self, point: RoundPoint) -> bool:
        """Take in a round by hand; one taken while a probe proves counts for nothing. False where it touches the past."""
        if not self._serves(COLDEST):
            return True
        if self.walk.touches_past(COLDEST, point.time):
            return False
        self.walk.reading(COLDEST, point.time, point.low)
        self.walk.reading(HOTTEST, point.time, point.high)
        return True

    def reading(self, probe: str, time: int, milli: int, ambient: int | None) -> bool | None:
        """Take in a reading of a core probe that passed its checks.

        Args:
            probe: The probe.
            time: When it was measured, UTC ms.
            milli: The temperature, thousandths of °C.
            ambient: The air's newest temperature, thousandths of °C, or None.

        Returns:
            True if it was accepted, None if it was not (the probe lies out), False if it touches the past.
        """
        outing = self.outings.get(probe)
        if outing is not None and (outing.out is not None or outing.accepted_from != 0):
            moved = outing.returned if outing.out is None else outing.out
            if moved is not None and time < moved:
                return False
            verdict = weigh(outing, time, milli, ambient, self.thresholds)
            if verdict.returned_at is not None:
                if self.walk.service_touches_past(probe, verdict.returned_at):
                    return False
                self._recover(verdict.returned_at)
                self.walk.probe_in(probe, verdict.returned_at)
            if not verdict.accepted:
                return None
        line = self.walk.state.lines.get(probe)
        if line is not None and line.failed:
            if self.walk.service_touches_past(probe, time):
                return False
            self._recover(time)
        if self.walk.touches_past(probe, time):
            return False
        self.walk.reading(probe, time, milli)
        return True

    def unread(self, probe: str, time: int) -> None:
        """Take in that a core probe has values at an instant (UTC ms) of which none counts."""
        outing = self.outings.get(probe)
        settling = outing is not None and (outing.accepted_from is None or time < outing.accepted_from)
        if outing is None or (outing.out is None and not settling):
            self.walk.unread(probe, time)

    def round_unread(self, time: int) -> None:
        """Take in that what was read by hand at an instant (UTC ms) does not count."""
        for line in ROUND_LINES:
            self.walk.unread(line, time)

    def _read_since(self, probe: str, at: int) -> bool:
        """Return whether a probe that is out was read at `at` or later, and judged as if nothing had happened at `at`."""
        outing = self.outings.get(probe)
        return outing is not None and outing.out is not None and outing.newest is not None and outing.newest >= at

    @property
    def failed(self) -> bool:
        """Whether rounds prove because the probes fell silent."""
        return any(line.failed for line in self.walk.state.lines.values())

    def spoke_since(self, at: int) -> bool:
        """Return whether a probe that is in was read at `at` or later, so that a rework must see if it was silent before."""
        lines = self.walk.state.lines.items()
        return any(line.heard and line.time >= at for name, line in lines if line.serving and name not in ROUND_LINES)

    def silent_since(self, at: int) -> int | None:
        """Return since when (UTC ms) all probes that are in have been silent if that exceeds the lag at `at`; else None.

        Those that a turning took out and nobody put back are silent, too, since the turning.
        """
        known = [line.time if line.serving else self.outings[name].out or 0 for name, line in self._awaited()]
        if not known or self.rounds_serve or max(known) >= at - self.thresholds.lag_ms:
            return None
        return max(known) + GONE_MS

    def fail(self, since: int) -> None:
        """Let rounds prove in place of the probes, which have been silent since an instant."""
        for name, line in [*self._awaited()]:
            line.failed = True
            if line.serving:
                self.walk.probe_out(name, since)
        self.begin_rounds(since)

    def _awaited(self) -> Iterator[tuple[str, ProbeLine]]:
        """Yield the probes that prove, or should again once a turning is done: those that are in, or out for it."""
        for name, line in self.walk.state.lines.items():
            outing = self.outings.get(name)
            turned_out = outing is not None and outing.out is not None and not outing.taken
            if name not in ROUND_LINES and (line.serving or turned_out):
                yield name, line

    def _recover(self, at: int) -> None:
        """Put the probes that had fallen silent back into service, since a probe speaks again."""
        failed = [name for name, line in self.walk.state.lines.items() if line.failed]
        if not failed:
            return
        self.end_rounds(at)
        for name in failed:
            self.walk.state.lines[name].failed = False
            outing = self.outings.get(name)
            if outing is None or outing.out is None:
                self.walk.probe_in(name, at)

    def _serves(self, probe: str) -> bool:
        line = self.walk.state.lines.get(probe)
        return line is not None and line.serving
