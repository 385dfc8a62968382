"""Works a batch's record out again, in order of its own time, when something touched an instant already examined.

Nothing that was decided is taken back: where the outcome differs, one change is told, with the reason *record changed*.
The whole record is walked under the settings in force now; a calibration still applies from its own start.
"""

from monitor.conditioning import Conditioner, ConditioningState, comparable
from monitor.engine.core import Core
from monitor.engine.heap import Heap
from monitor.engine.runs import BatchRun, open_walk
from monitor.model.flags import ACCEPTED, Flag, Verdict
from monitor.model.settings import AMBIENT
from monitor.model.times import DAY_MS
from monitor.model.units import Quantity
from monitor.model.words import Role
from monitor.model.work import Work, WorkKind
from monitor.piles import OutingState, Walk, WalkState

AMBIENT_BEFORE_MS = 8 * DAY_MS
"""How much of ambient before the building is looked at: the seven days of *ready for worms*, and a margin."""

_VERDICTS_BEFORE_MS = 2 * DAY_MS


def rework(core: Core, run: BatchRun) -> Walk:
    """Work a batch out anew from the record; return its walk, advanced as far as the record goes."""
    thresholds = core.thresholds_of(run)
    touched = run.touched or 0
    run.walk, run.hold, run.touched = WalkState.fresh(run.built), None, None
    walk = open_walk(run, thresholds)
    core.walks[run.batch] = walk
    probes = core.probes_ever(run)
    outings: dict[str, OutingState] = {}
    heap = Heap(walk, outings, thresholds)
    ambient = [p for p, c in core.probes_of(AMBIENT) if c.quantity is Quantity.TEMPERATURE]
    feed = _Feed(core, heap, set(probes), set(ambient), touched - _VERDICTS_BEFORE_MS)
    actions = _actions(core, run, probes)
    step = 0
    everyone = sorted({*probes, *ambient, *core.company_of(run)})
    if core.history is not None and everyone:
        start = run.built - AMBIENT_BEFORE_MS
        for reading in core.history.readings(everyone, start, core.latest_time()):
            if reading.probe not in feed.ambient and reading.time < run.built:
                continue
            while step < len(actions) and actions[step][0] <= reading.time:
                feed.act(*actions[step])
                step += 1
            for verdict in feed.conditioner.step(reading):
                feed.take(verdict)
    for action in actions[step:]:
        feed.act(*action)
    for verdict in feed.conditioner.expire(core.at):
        feed.take(verdict)
    core.conditioner.adopt(feed.conditioner, [p for p in everyone if p not in feed.ambient])
    core.state.outings.update(outings)
    for probe in probes:
        if probe not in outings:
            core.state.outings.pop(probe, None)
    return walk


_Action = tuple[int, int, str, str]
"""(instant, order among equals, what, probe)."""


def _actions(core: Core, run: BatchRun, probes: list[str]) -> list[_Action]:
    """Return what happened to the batch besides readings, in order."""
    found: list[_Action] = []
    for probe in probes:
        for start, end in core.serving_spans(run, probe):
            found.append((max(start, run.built), 0, "enter", probe))
            if end is not None:
                found.append((end, 1, "leave", probe))
    for work, own in core.works_of(run):
        found += _of_work(work, own, run.built, probes)
    return sorted(found)


def _of_work(work: Work, own: bool, built: int, probes: list[str]) -> list[_Action]:
    if work.time < built:
        return []
    if not own:
        # Another heap, or part of one, was thrown onto this one.
        return [(work.time, 2, "added", "")]
    if work.kind is WorkKind.TURNED or (work.kind is WorkKind.MOVED and "not a turning" not in work.note.casefold()):
        return [(work.time, 2, "turned", "")]
    if work.kind is WorkKind.ADDED and work.time > built:
        return [(work.time, 2, "added", "")]
    if work.kind is WorkKind.PROBE_IN and work.probe in probes:
        return [(work.time, 3, "came in", work.probe)]
    if work.kind is WorkKind.PROBE_OUT and work.probe in probes:
        return [(work.time, 3, "went out", work.probe)]
    return []


class _Feed:
    """Feeds a heap from verdicts and actions; what cannot be taken in order cannot be taken at all and is left out."""

    def __init__(self, core: Core, heap: Heap, cores: set[str], ambient: set[str], verdicts_from: int) -> None:
        self.core = core
        self.heap = heap
        self.cores = cores
        self.ambient = ambient
        self.verdicts_from = verdicts_from
        self.conditioner = Conditioner(ConditioningState(), core.settings)
        self.air: int | None = None

    def act(self, at: int, order: int, what: str, probe: str) -> None:
        """Do what happened at an instant."""
        del order
        heap = self.heap
        if what == "enter":
            heap.enter(probe, at)
        elif what == "leave":
            heap.leave(probe, at)
        elif what == "turned":
            serving = [p for p, line in sorted(heap.walk.state.lines.items()) if line.serving]
            out = [p for p, outing in sorted(heap.outings.items()) if outing.out is not None]
            heap.turned(sorted({*serving, *out}), at)
        elif what == "added":
            heap.added(at)
        elif what == "came in":
            heap.came_in(probe, at)
        else:
            heap.went_out(probe, at)

    def take(self, verdict: Verdict) -> None:
        """Take a final verdict."""
        time, probe, milli, flag, _ = verdict
        if probe in self.cores and (flag is not Flag.PASS or time >= self.verdicts_from):
            self.core.verdicts.append(verdict)
        if flag not in ACCEPTED:
            return
        configured = self.core.settings.probes.get(probe)
        if configured is None or not comparable(configured, time):
            return
        if probe in self.ambient:
            self.air = milli
            self.heap.walk.ambient(time, milli)
        elif probe in self.cores and configured.role is Role.CORE:
            self.heap.reading(probe, time, milli, self.air)
