"""The record of one batch for a certificate: which probes served when and why, its turnings, restarts and work.

Rules:
1. It agrees with a rework of the batch: the places of probes come from `Core`, the actions from `recompute.actions_of`, and
   outings from `Heap` and `piles.outing`. Only the walk is left out; a notebook takes its place.
2. Only readings that an outing can concern are looked at one by one, so that years of readings are cheap.
3. A reading that is stored but not accepted although its probe is in (for 60 min after its return) lies in `settling`.
4. With bare files nothing is guessed: the probes named belong to the batch for as long as it lay anywhere; only `probe out`
   and `probe in` change that, and every reading of a probe that is in is accepted. A probe that is logged in before any
   turning was not in before; one that is logged in after a turning was taken out by it.
"""

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple, Protocol, cast

from monitor.engine.batches.hand_rounds import proving_spans
from monitor.engine.batches.recompute import AMBIENT_BEFORE_MS, actions_of, ambients_of, put_back
from monitor.engine.context.batch_deeds import Action, Deed
from monitor.engine.context.batch_feeder import Heap
from monitor.engine.context.batch_runs import BatchRun
from monitor.engine.context.core import Core
from monitor.engine.context.places import FOREVER
from monitor.engine.context.state import Logged
from monitor.material import CameIn, WasMet, incoming, never_met
from monitor.model.settings import AMBIENT, Probe
from monitor.model.turnings import begins_group
from monitor.model.work import WorkKind
from monitor.model.work_kinds import GOING, PROBE_WORK
from monitor.piles import Batch, OutingState, Walk

TURNING = "turning"
BACK_BY_ITSELF = "back by itself"
CONFIGURATION = "configuration"
PUT_IN, TAKEN_OUT = WorkKind.PROBE_IN.value, WorkKind.PROBE_OUT.value


class Readings(Protocol):
    """Accepted temperatures by probe: flag 1 or 2, calibrated."""

    def between(self, probe: str, start: int, end: int) -> Iterable[tuple[int, int]]:
        """Return the readings of a span.

        Args:
            probe: The probe.
            start: The first instant, UTC ms.
            end: The last instant, UTC ms.

        Returns:
            (time in UTC ms, thousandths of °C), in order of time.
        """

    def before(self, probe: str, time: int) -> tuple[int, int] | None:
        """Return the newest reading before an instant (UTC ms), or None."""


class ServiceChange(NamedTuple):
    """A probe came into service or went out of it.

    Attributes:
        time: When it did, UTC ms.
        into: Whether it came in; False: it went out.
        how: `built`, `moved`, `probe in`, `probe out`, `turning`, `back by itself`, `configuration`, `end of the batch`.
        logged: The entry that says so, or None.
    """

    time: int
    into: bool
    how: str
    logged: Logged | None


@dataclass(slots=True)
class ServiceRecord:
    """A probe's service in a batch.

    Attributes:
        changes: Each coming in and going out, in order.
        settling: (from, to) of times in which it was in but its readings were not yet accepted; one at `to` is.
    """

    changes: list[ServiceChange] = field(default_factory=list)
    settling: list[tuple[int, int]] = field(default_factory=list)

    def spans(self) -> list[tuple[int, int | None]]:
        """Return the spans of its service: (from, to or None), UTC ms."""
        found: list[tuple[int, int | None]] = []
        for change in self.changes:
            if change.into:
                found.append((change.time, None))
            elif found and found[-1][1] is None:
                found[-1] = (found[-1][0], change.time)
        return found


@dataclass(frozen=True, slots=True)
class BatchRecord:
    """A batch's record apart from temperatures; instants in UTC ms.

    Attributes:
        batch: The batch's entry in the book.
        spans: (pile, from, to or None) of its places, oldest first; a part split off lay where the whole did.
        probes: Its core probes, with their settings, by id.
        service: Their service, by id.
        turnings: When it was turned, in order.
        restarts: When it was built and when raw material came in, in order.
        joins: When much material came in that had met the rule; the count restarts there unless this batch had met it too.
        came_in: (material, whether it had met the rule) of all that came in, in order.
        works: (entry, whether it is about this heap; else about one thrown onto it), in order.
        rounds: (from, to or None) of times in which rounds by hand prove, since no core probe is in.
    """

    batch: Batch
    spans: tuple[tuple[str, int, int | None], ...]
    probes: Mapping[str, Probe]
    service: Mapping[str, ServiceRecord]
    turnings: tuple[int, ...]
    restarts: tuple[int, ...]
    joins: tuple[int, ...]
    came_in: tuple[tuple[CameIn, bool], ...]
    works: tuple[tuple[Logged, bool], ...]
    rounds: tuple[tuple[int, int | None], ...] = ()


def batch_record(
    core: Core, run: BatchRun, readings: Readings, *, bare: bool = False, was_met: WasMet = never_met
) -> BatchRecord:
    """Return the record of a batch.

    Args:
        core: The engine's state and settings.
        run: The batch.
        readings: The readings of its probes and of ambient probes.
        bare: Whether the record is made from bare files (rule 4).
        was_met: Returns whether another batch that came into it had met this batch's rule.
    """
    probes = core.probes_ever(run)
    notes = _Notes(run.built, core.state.works, core.state.batches.batches[run.batch].ended)
    actions = actions_of(core, run, probes, was_met)
    _Feed(core, run, actions, readings, notes, bare=bare).run()
    known = core.all_probes()
    entries = {id(logged.work): logged for logged in core.state.works}
    return BatchRecord(
        batch=core.state.batches.batches[run.batch],
        spans=tuple((pile, start, None if end >= FOREVER else end) for pile, start, end in core.spans_of(run)),
        probes={probe: known[probe] for probe in probes},
        service=notes.service,
        turnings=tuple(sorted(notes.turnings)),
        restarts=tuple(sorted({run.built, *notes.restarts})),
        joins=tuple(sorted(set(notes.joins))),
        came_in=tuple(
            (came, bool(came.batch) and was_met(came.batch, came.work.time)) for came in incoming(core, run.batch)
        ),
        works=tuple((entries[id(work)], own) for work, own in core.works_of(run)),
        rounds=tuple((start, None if end >= FOREVER else end) for start, end in proving_spans(actions, run.built)),
    )


@dataclass(slots=True)
class _Line:
    serving: bool = False
    failed: bool = False


class _Lines:
    def __init__(self) -> None:
        self.lines: dict[str, _Line] = {}


class _Notes:
    """Takes the walk's place and notes each call; it has examined nothing, so nothing touches the past."""

    def __init__(self, built: int, works: Iterable[Logged], ended: int | None) -> None:
        self.state = _Lines()
        self.service: dict[str, ServiceRecord] = {}
        self.turnings: list[int] = []
        self.restarts: list[int] = []
        self.joins: list[int] = []
        self.why = ""
        self._built = built
        self._ended = ended
        self._by_time: dict[int, list[Logged]] = {}
        for logged in works:
            self._by_time.setdefault(logged.work.time, []).append(logged)

    def work_touches_past(self, at: int) -> bool:
        del at
        return False

    def service_touches_past(self, probe: str, at: int) -> bool:
        del probe, at
        return False

    def touches_past(self, probe: str, time: int) -> bool:
        del probe, time
        return False

    def reading(self, probe: str, time: int, milli: int) -> None:
        del probe, time, milli

    def probe_in(self, probe: str, at: int) -> None:
        line = self.state.lines.setdefault(probe, _Line())
        if not line.serving:
            line.serving = True
            self._note(probe, at, into=True)

    def probe_out(self, probe: str, at: int) -> None:
        line = self.state.lines.get(probe)
        if line is not None and line.serving:
            line.serving = False
            self._note(probe, at, into=False)

    def turned(self, at: int) -> None:
        self.turnings.append(at)

    def felt_before(self, turning: int) -> None:
        del turning

    def added(self, at: int) -> None:
        self.restarts.append(at)

    def joined(self, at: int) -> None:
        self.joins.append(at)

    def _note(self, probe: str, at: int, *, into: bool) -> None:
        record = self.service.setdefault(probe, ServiceRecord())
        how, logged = self._source(probe, at, into=into)
        if record.changes and not into and record.changes[-1].into and record.changes[-1].time == at:
            record.changes.pop()
            return
        record.changes.append(ServiceChange(at, into, how, logged))

    def _source(self, probe: str, at: int, *, into: bool) -> tuple[str, Logged | None]:
        """Return how a change came about, and the entry that says so, or None."""
        if self.why == BACK_BY_ITSELF:
            return self.why, None
        here = self._by_time.get(at, [])
        for logged in here:
            if logged.work.probe == probe and logged.work.kind in PROBE_WORK:
                return (PUT_IN if into else TAKEN_OUT), logged
        moved = next((one for one in here if one.work.kind in GOING), None)
        if self.why == Deed.TURNED:
            return TURNING, next((one for one in here if one.work.kind is WorkKind.TURNED), moved)
        if into and at == self._built:
            return WorkKind.BUILT.value, next(
                (one for one in here if one.work.kind in (WorkKind.BUILT, WorkKind.ADDED)), None
            )
        if not into and at == self._ended:
            return "end of the batch", next(iter(here), None)
        return (WorkKind.MOVED.value if moved is not None else CONFIGURATION), moved


def _returns(actions: Sequence[Action]) -> dict[int, set[str]]:
    """Return the probes that each turning took out, by the turning's time: those logged in before the next turning.

    Where several entries are one turning, the first of them took the probes out.
    """
    found: dict[int, set[str]] = {}
    since: dict[str, list[int]] = {}
    groups: dict[int, int] = {}
    group: int | None = None
    for at, _, what, probe in actions:
        if what == Deed.TURNED:
            group = at if group is None or begins_group(group, at) else group
            groups[at] = group
            for turnings in since.values():
                turnings.append(at)
        elif what in (Deed.CAME_IN, Deed.WENT_OUT):
            own = since.get(probe, list(groups))
            if what == Deed.CAME_IN and own:
                found.setdefault(next(one for one in own if groups[one] == groups[own[-1]]), set()).add(probe)
            since[probe] = []
    return found


class _Feed:
    """Feeds a heap the actions of a batch in order, and the readings that an outing concerns."""

    def __init__(
        self, core: Core, run: BatchRun, actions: list[Action], readings: Readings, notes: _Notes, *, bare: bool
    ) -> None:
        self._core = core
        self._actions = actions
        self._returns = _returns(self._actions) if bare else {}
        self._notes = notes
        self._bare = bare
        self._readings = readings
        self._ambients = [] if bare else ambients_of(core)
        self._outings: dict[str, OutingState] = {}
        self._built = run.built
        # The notebook has every part of a walk that `Heap` uses.
        self._heap = Heap(cast("Walk", notes), self._outings, core.thresholds_of(run))

    def run(self) -> None:
        """Take in everything."""
        done = self._built
        for at, _, what, probe in self._actions:
            # Work counts before readings of the same instant.
            self._outside(done, at - 1)
            done = max(done, at)
            self._notes.why = what
            if self._bare:
                self._act_bare(at, what, probe)
            else:
                self._act(at, what, probe)
        self._outside(done, FOREVER)

    def _act_bare(self, at: int, what: Deed, probe: str) -> None:
        notes = self._notes
        if what in (Deed.ENTER, Deed.CAME_IN):
            notes.probe_in(probe, at)
        elif what in (Deed.LEAVE, Deed.WENT_OUT):
            notes.probe_out(probe, at)
        elif what == Deed.JOINED:
            notes.joined(at)
        elif what == Deed.TURNED:
            for back in sorted(self._returns.get(at, ())):
                notes.probe_out(back, at)
            notes.turned(at)
        else:
            notes.added(at)

    def _act(self, at: int, what: Deed, probe: str) -> None:
        heap, notes = self._heap, self._notes
        if what == Deed.ENTER:
            heap.enter(probe, at)
        elif what == Deed.LEAVE:
            heap.leave(probe, at)
        elif what == Deed.TURNED:
            serving = [p for p, line in sorted(notes.state.lines.items()) if line.serving]
            out = [p for p, outing in sorted(self._outings.items()) if outing.out is not None]
            heap.turned(sorted({*serving, *out}), at)
            put_back(self._core, heap, at)
            for one in serving:
                self._settles(one)
        elif what == Deed.ADDED:
            heap.added(at)
        elif what == Deed.JOINED:
            heap.joined(at)
        elif what == Deed.CAME_IN:
            heap.came_in(probe, at)
            self._settles(probe)
        else:
            heap.went_out(probe, at)

    def _settles(self, probe: str) -> None:
        """Note the span in which the readings of a probe that is back are not yet accepted."""
        outing = self._outings.get(probe)
        if outing is None or outing.out is not None or outing.returned is None or not outing.accepted_from:
            return
        settling = self._notes.service.setdefault(probe, ServiceRecord()).settling
        span = (outing.returned, outing.accepted_from)
        if outing.accepted_from > outing.returned and span not in settling:
            settling.append(span)

    def _outside(self, start: int, end: int) -> None:
        """Feed the readings of probes that are out between two instants (both included), until they are back."""
        out = [probe for probe, outing in sorted(self._outings.items()) if outing.out is not None]
        if not out or end < start:
            return
        found = sorted(
            (time, probe, milli) for probe in out for time, milli in self._readings.between(probe, start, end)
        )
        air = self._air(start, found[-1][0]) if found else []
        left = set(out)
        self._notes.why = BACK_BY_ITSELF
        for time, probe, milli in found:
            if probe not in left:
                continue
            place = bisect_left(air, (time, probe))
            self._heap.reading(probe, time, milli, air[place - 1][2] if place else None)
            if self._outings[probe].out is None:
                left.discard(probe)
                self._settles(probe)

    def _air(self, start: int, end: int) -> Sequence[tuple[int, str, int]]:
        """Return ambient readings as (time, probe, thousandths), beginning with the last one before `start`."""
        found: list[tuple[int, str, int]] = []
        for probe in self._ambients:
            before = self._readings.before(probe, start)
            own = [before] if before is not None and before[0] >= self._built - AMBIENT_BEFORE_MS else []
            own += self._readings.between(probe, start, end)
            found += [(time, probe, milli) for time, milli in own if self._core.place_at(probe, time) == AMBIENT]
        return sorted(found)
