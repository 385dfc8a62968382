"""Works a batch's record out again, in order of its own time, when something touched an instant already examined.

Nothing that was decided is taken back: where the outcome differs, one change is told, with the reason *record changed*.
The whole record is walked under the settings in force now; a calibration still applies from its own start.
"""

from bisect import bisect_left
from dataclasses import replace

from monitor.conditioning import GAP_MS, Conditioner, ConditioningState, comparable, flag_by_hand
from monitor.engine.batches.clashing_values import Rivals, rivals_of
from monitor.engine.batches.hand_rounds import rounds_of, with_rounds
from monitor.engine.context.batch_deeds import Action, Deed
from monitor.engine.context.batch_feeder import Heap
from monitor.engine.context.batch_runs import BatchRun, has_upper_limit, open_walk, rule_of, run_from_book
from monitor.engine.context.checkpoints import Mark
from monitor.engine.context.core import Core
from monitor.engine.context.places import FOREVER, Places, is_core
from monitor.material import Change, WasMet, incoming
from monitor.model.flags import ACCEPTED, Verdict
from monitor.model.settings import AMBIENT
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.model.units import Quantity
from monitor.model.words import RuleState
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import PROBE_WORK, is_turning
from monitor.piles import ROUND_LINES, OutingState, WalkChange, WalkState

AMBIENT_BEFORE_MS = 8 * DAY_MS
"""How much before the building is looked at: the seven days of ambient for *ready for worms*, and what flags look back
on (`conditioning.RUN_IN_MS`), with a margin."""

_MARK_BEFORE_MS = 3 * HOUR_MS
"""How long before the newest reading a mark is left: what comes a little out of order costs no more than that."""

_CHUNK = 4096


def rework(core: Core, run: BatchRun) -> list[WalkChange]:
    """Work a batch out anew from the record, as far as it goes; return all that its walk has to say since it was built."""
    touched = run.built if run.touched is None else run.touched
    if run.by_reading and touched < run.built:
        _begin_earlier(core, run, touched)
        core.marks.clear()
    run.touched = None
    probes, ambient = core.probes_ever(run), ambients_of(core)
    everyone = sorted({*probes, *ambient, *core.company_of(run)})
    touched = _forget_falls(core, run, probes, touched)
    verdicts = len(core.verdicts)
    feed = _walked(core, run, (probes, ambient, everyone), touched)
    if feed.heap.felt is not None:
        # Only at a turning shows where its recovery began: now that it is known, once more from there.
        del core.verdicts[verdicts:]
        feed = _walked(core, run, (probes, ambient, everyone), min(touched, feed.heap.felt))
    core.conditioner.adopt(feed.conditioner, everyone)
    _take_over(core, run, feed.heap.outings, probes)
    return feed.changes


def _walked(core: Core, run: BatchRun, who: tuple[list[str], list[str], list[str]], touched: int) -> "_Feed":
    """Walk through the record anew from an instant on; `who`: core probes, ambient ones, all that bear on flags."""
    probes, ambient, everyone = who
    core.marks.drop(touched)
    start = core.marks.before(run.batch, touched)
    actions = actions_of(core, run, probes, was_met(core, run))
    feed = _Feed(core, run, actions, probes, ambient, start)
    core.walks[run.batch] = feed.walk
    feed.verdicts_from = max(run.built, touched - GAP_MS)
    latest = core.latest_time()
    marks = [touched - 1, latest - _MARK_BEFORE_MS]
    if core.history is not None and everyone:
        since = run.built - AMBIENT_BEFORE_MS if start is None else start.time + 1
        feed.run(everyone, since, latest, sorted(marks))
    feed.finish(core.at)
    return feed


def _forget_falls(core: Core, run: BatchRun, probes: list[str], touched: int) -> int:
    """Forget falls of turnings that are no more, and return the earliest instant that is touched."""
    if not run.falls:
        return touched
    turned = {at for at, _, what, _ in actions_of(core, run, probes, was_met(core, run)) if what == Deed.TURNED}
    for turning in [one for one in run.falls if one not in turned]:
        touched = min(touched, run.falls.pop(turning))
    return touched


def was_met(core: Core, taker: BatchRun) -> WasMet:
    """Return how to ask whether a batch that came into another had met that one's rule, by its own record until then."""

    def found(batch: str, at: int) -> bool:
        key = (batch, at, taker.rule_id)
        if key not in core.met_known:
            core.met_known[key] = False  # a heap that came into itself by way of others proves nothing by that
            core.met_known[key] = _had_met(core, batch, at, taker)
        return core.met_known[key]

    return found


def _had_met(core: Core, batch: str, at: int, taker: BatchRun) -> bool:
    book = core.state.batches.batches
    if batch not in book or book[batch].rule != taker.rule_id or core.history is None:
        return False
    run = run_from_book(book, batch, taker.rule_text)
    if rule_of(run) is None:
        return False
    probes, ambient = core.probes_ever(run), ambients_of(core)
    everyone = sorted({*probes, *ambient})
    actions = actions_of(core, run, probes, was_met(core, taker), at)
    for _ in range(2):
        feed = _Feed(core, run, actions, probes, ambient, None)
        feed.verdicts_from, feed.until = FOREVER, at
        if everyone:
            feed.run(everyone, run.built - AMBIENT_BEFORE_MS, at + GAP_MS, [])
        feed.finish(core.at)
        if feed.heap.felt is None:
            break
    progress = run.walk.progress
    return progress is not None and progress.state is RuleState.MET and not run.walk.void_told


def ambients_of(core: Places) -> list[str]:
    """Return the probes that measure the air of the yard, or did for a while."""
    there = {p for p, _ in core.probes_of(AMBIENT)}
    there |= {one.probe for one in core.state.carried if one.place == AMBIENT}
    probes = core.all_probes()
    return sorted(p for p in there if p in probes and probes[p].quantity is Quantity.TEMPERATURE)


def _take_over(core: Places, run: BatchRun, outings: dict[str, OutingState], probes: list[str]) -> None:
    """Put the outings found in place of those known; a reminder that was given is not given again."""
    here = set(core.cores_of(core.pile_of(run)))
    for probe in probes:
        if probe not in here:
            continue
        known, found = core.state.outings.pop(probe, None), outings.get(probe)
        if found is not None:
            found.reminded = known.reminded if known is not None and known.out == found.out else 0
            core.state.outings[probe] = found


def _begin_earlier(core: Core, run: BatchRun, touched: int) -> None:
    """Let a batch that began with its first accepted reading begin with an earlier one that came late."""
    if core.history is None:
        return
    batch = core.state.batches.batches[run.batch]
    cores = [p for p, c in core.settings.probes.items() if is_core(c) and core.place_at(p, touched) == run.home]
    feed = Conditioner(ConditioningState(places=dict(core.state.conditioning.places)), core.settings, few=True)
    first = run.built
    for reading in core.history.readings(sorted(cores), touched - DAY_MS, run.built + 2 * HOUR_MS):
        if reading.time > first + 2 * HOUR_MS:
            break
        for verdict in feed.step(reading):
            if touched <= verdict.time < first and verdict.flag in ACCEPTED:
                first = verdict.time
    if not cores:
        first = min([first, *_read_earlier(core, run, touched)])
    run.built = batch.built = batch.spans[0].start = first


def _read_earlier(core: Core, run: BatchRun, touched: int) -> list[int]:
    """Return when a heap without probes was read by hand from `touched` on, before it is known to have been built."""
    series = [name for name, one in core.state.hands.items() if one.place == run.home]
    if core.history is None or not series:
        return []
    return [
        reading.time
        for reading in core.history.readings(series, touched, run.built)
        if reading.time not in core.state.withdrawn.get(reading.probe, ())
        and flag_by_hand(reading, core.settings.probe_thresholds).flag in ACCEPTED
    ]


def actions_of(core: Places, run: BatchRun, probes: list[str], was_met: WasMet, until: int = FOREVER) -> list[Action]:
    """Return the batch's deeds, which is everything besides readings, in order.

    Args:
        core: Where things are.
        run: The batch.
        probes: Its core probes.
        was_met: Whether another batch, that came into it, had met its rule.
        until: What happened later (UTC ms) is left out.
    """
    found: list[Action] = []
    for probe in probes:
        for start, end in core.serving_spans(run, probe):
            found.append((max(start, run.built), 0, Deed.ENTER, probe))
            if end is not None:
                found.append((end, 1, Deed.LEAVE, probe))
    for work, own in core.works_of(run):
        if work.kind in PROBE_WORK and core.place_at(work.probe, work.time) != work.place:
            continue
        found += _of_work(work, own, run.built, probes)
    came = ((one.work.time, _COMES_IN.get(one.change(was_met))) for one in incoming(core, run.batch, until))
    found += dict.fromkeys((at, 2, what, "") for at, what in came if what is not None)
    return sorted(one for one in found if one[0] <= until)


_COMES_IN = {Change.UNLESS_MET: Deed.JOINED, Change.ANEW: Deed.ADDED}


def _of_work(work: Work, own: bool, built: int, probes: list[str]) -> list[Action]:
    if work.time < built or not own:
        return []
    if is_turning(work):
        return [(work.time, 2, Deed.TURNED, "")]
    if work.kind is WorkKind.PROBE_IN and work.probe in probes:
        return [(work.time, 3, Deed.CAME_IN, work.probe)]
    if work.kind is WorkKind.PROBE_OUT and work.probe in probes:
        return [(work.time, 3, Deed.WENT_OUT, work.probe)]
    return []


def put_back(core: Places, heap: Heap, turning: int) -> None:
    """Put probes that a turning took out back at once where their return is presumed; not one that lay out before.

    Args:
        core: The engine's state.
        heap: Feeds the batch's walk.
        turning: When the heap was turned, UTC ms.
    """
    for probe, at in core.state.presumed_back:
        outing = heap.outings.get(probe) if at == turning else None
        if outing is not None and outing.out == turning and not outing.taken:
            heap.came_in(probe, turning)


class _Feed:
    """Feeds a heap from the record and from actions; what cannot be taken in order cannot be taken and is left out."""

    def __init__(
        self, core: Core, run: BatchRun, actions: list[Action], cores: list[str], ambient: list[str], start: Mark | None
    ) -> None:
        self.core = core
        self.batch = run
        self.cores = set(cores)
        self.ambient = set(ambient)
        points, unread = rounds_of(core, run)
        self.rounds = {point.time: point for point in points}
        opened = [(max(at, run.built), 2, Deed.OPENED, str(turning)) for turning, at in run.falls.items()]
        actions = sorted([*actions, *opened])
        self.actions = with_rounds(actions, run.built, points, unread) if points else actions
        self.probes = core.all_probes()
        self.rivals: dict[tuple[int, str], Rivals] = {}
        self.upper = has_upper_limit(run)
        self.verdicts_from, self.until = run.built, FOREVER
        if start is None:
            conditioning = ConditioningState(places=dict(core.state.conditioning.places))
            start = Mark(run.built, WalkState.fresh(run.built), None, {}, conditioning, [], None, 0, [])
        run.walk, run.hold = start.walk, start.hold
        thresholds = core.thresholds_of(run)
        self.walk = open_walk(run, thresholds)
        self.heap = Heap(self.walk, start.outings, thresholds, run.falls)
        self.conditioner = Conditioner(start.conditioning, replace(core.settings, probes=self.probes), few=True)
        self.waiting, self.air, self.step, self.changes = start.waiting, start.air, start.step, start.changes

    def run(self, series: list[str], start: int, end: int, marks: list[int]) -> None:
        """Take in the record of some series, and leave marks.

        Args:
            series: The probes.
            start: First instant, UTC ms.
            end: Last instant, included, UTC ms.
            marks: Where marks are left, UTC ms, in order.
        """
        assert self.core.history is not None
        readings = self.core.history.readings(series, start, end)
        self.rivals = rivals_of(self.core, series, start - 2 * GAP_MS, end, self.probes)
        waiting = self.waiting
        left = iter((*marks, FOREVER))
        mark_at = next(left)
        seen: int | None = None
        for reading in readings:
            time = reading.time
            while time > mark_at:
                if seen is not None:
                    self._mark(seen)
                mark_at = next(left)
            seen = time
            waiting += self.conditioner.step(reading)
            if len(waiting) >= _CHUNK:
                self._hand_on(time - GAP_MS)

    def finish(self, at: int) -> None:
        """Take in what still waits at `at` (UTC ms), and examine all."""
        self.waiting += self.conditioner.expire(at)
        self._hand_on(FOREVER)
        for action in self.actions[self.step :]:
            self.act(*action)
        self.changes += self.walk.advance()
        self.walk.forget()

    def _mark(self, time: int) -> None:
        """Leave a mark behind the last reading, whose time is `time`."""
        if time < self.batch.built:
            return
        self._hand_on(time - GAP_MS)
        if any(outing.out is not None and outing.warm_from is not None for outing in self.heap.outings.values()):
            # It may yet show that the probe has been back for a while: that must not have been examined without it.
            return
        self.changes += self.walk.advance()
        mark = Mark(
            time, self.batch.walk, self.batch.hold, self.heap.outings, self.conditioner.state, self.waiting, self.air,
            self.step, self.changes,
        )  # fmt: skip
        self.core.marks.keep(self.batch.batch, mark.copy())

    def _hand_on(self, until: int) -> None:
        """Hand on the verdicts of readings before `until`: one that had to wait comes before what happened meanwhile."""
        self.waiting.sort()
        settled = bisect_left(self.waiting, (until,))
        actions = self.actions
        for verdict in self.waiting[:settled]:
            while self.step < len(actions) and actions[self.step][0] <= verdict.time:
                self.act(*actions[self.step])
                self.step += 1
            self.take(verdict)
        del self.waiting[:settled]

    def act(self, at: int, order: int, what: Deed, probe: str) -> None:
        """Do what happened at an instant."""
        del order
        heap = self.heap
        if what == Deed.ENTER:
            heap.enter(probe, at)
        elif what == Deed.LEAVE:
            heap.leave(probe, at)
        elif what == Deed.TURNED:
            lines = sorted(heap.walk.state.lines.items())
            serving = [p for p, line in lines if (line.serving or line.failed) and p not in ROUND_LINES]
            out = {p: outing.out for p, outing in heap.outings.items() if outing.out is not None}
            self.core.stuck.update((p, at) for p, at in out.items() if not heap.outings[p].taken)
            heap.turned(sorted({*serving, *out}), at)
            put_back(self.core, heap, at)
        elif what == Deed.OPENED:
            heap.opened(at, int(probe))
        elif what in (Deed.ADDED, Deed.JOINED):
            # Where the walk stands when material comes in shows in what is told at once.
            self.changes += self.walk.advance()
            (heap.added if what == Deed.ADDED else heap.joined)(at)
            self.changes += self.walk.advance()
        elif what == Deed.CAME_IN:
            heap.came_in(probe, at)
        elif what == Deed.WENT_OUT:
            heap.went_out(probe, at)
        else:
            self._by_hand(at, what)

    def _by_hand(self, at: int, what: Deed) -> None:
        """Do what concerns rounds by hand."""
        heap = self.heap
        if what == Deed.UNREAD:
            heap.round_unread(at)
        elif what == Deed.ROUND:
            self._round(at)
        elif what == Deed.ROUNDS_BEGIN:
            heap.begin_rounds(at)
        else:
            heap.end_rounds(at)

    def _round(self, at: int) -> None:
        """Take in a round; where the probes have been silent for long, with those that were taken since."""
        since = self.heap.silent_since(at)
        if since is not None:
            self.heap.fail(since)
            for time, point in self.rounds.items():
                if since <= time < at:
                    self.heap.round(point)
        self.heap.round(self.rounds[at])

    def take(self, verdict: Verdict) -> None:
        """Take a final verdict."""
        time, probe, milli, flag, _ = verdict
        if time > self.until:
            return
        if probe in self.cores and time >= self.verdicts_from:
            self.core.verdicts.append(verdict)
        counted, broken = milli if flag in ACCEPTED else None, False
        if self.rivals and (rival := self.rivals.get((time, probe))) is not None:
            counted, broken = rival.counted(milli, accepted=flag in ACCEPTED, upper=self.upper)
        configured = self.probes.get(probe)
        if (counted is None and not broken) or configured is None or not comparable(configured, time):
            return
        if probe in self.ambient and self.core.place_at(probe, time) == AMBIENT:
            if counted is not None:
                self.air = counted
                self.heap.walk.ambient(time, counted)
        elif probe in self.cores and time >= self.batch.built:
            if counted is not None:
                self.heap.reading(probe, time, counted, self.air)
            else:
                self.heap.unread(probe, time)
