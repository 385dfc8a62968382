"""Gathers the case of a batch from the journal, as it stands now; also while the daemon runs.

Rules:
1. Service of probes, turnings and restarts are the engine's (`engine.batch_record`). Calibrations and names come from the
   settings in force, flags from the journal.
2. Readings by hand prove while no core probe is in (`BatchRecord.rounds`), or all the time if only they are asked for by name.
3. The default of the longest gaps is the pile's own, at most that of rules (`RULE_GAP_MS`, `RULE_HAND_GAP_MS`), as in the
   engine; so certificate and `status` agree.
4. The verdict is that of the batch's end, of the present if it has none, or of the instant asked for.
"""

from collections.abc import Iterator
from dataclasses import replace
from functools import cached_property

from monitor.app.cases.as_of import came_after, probe_as_of, record_as_of, verdict_since
from monitor.app.cases.asked import Asked
from monitor.app.cases.case_columns import StoredReadings, stored_columns, unsettled
from monitor.app.cases.clashes import SHOWN, Clash, held_against, told_of_clashes, without_clashes
from monitor.app.cases.coming_in import with_what_came_in
from monitor.app.cases.failed_probes import with_failed
from monitor.app.cases.hand_spots import read_by_hand, said_of_spots
from monitor.app.cases.impossible import asked_about, too_hot_to_be_so
from monitor.app.cases.lineage import Telling, end_of, remarks
from monitor.app.cases.services import closed, counts, with_retired, with_service
from monitor.app.cases.shared_case import assumed, shared_case
from monitor.app.cases.taken_back import entries_taken_back, readings_taken_back
from monitor.app.cases.which_rule import KnownRule
from monitor.app.console.refusals import ended, near
from monitor.app.entries.work_log import work_log
from monitor.app.yard.yard_view import YardView
from monitor.certificate import Case, CaseProbe, CaseWork, accepted, judge_case, rounds_by_hand
from monitor.conditioning import temperature_of
from monitor.engine import (
    AMBIENT_BEFORE_MS,
    BatchRecord,
    BatchRun,
    Core,
    ambients_of,
    batch_record,
    load_state,
    run_of,
    whole_record,
)
from monitor.journal import FOREVER
from monitor.material import relatives
from monitor.model.errors import MisuseError
from monitor.model.events import EventKind
from monitor.model.flags import FlagReason
from monitor.model.readings import hand_spot
from monitor.model.settings import Probe
from monitor.model.thresholds import RULE_GAP_MS, RULE_HAND_GAP_MS

_KINDS = (EventKind.SETTINGS, EventKind.WORK, EventKind.CORRECTION, EventKind.IMPORTED)


def batch_named(view: YardView, name: str) -> str:
    """Return the id of a batch: `name` itself, or the newest batch of a pile of that id.

    Raises:
        MisuseError: There is no such batch.
    """
    book = view.engine.state.batches.batches
    if name in book:
        return name
    lay = [(span.start, one.batch) for one in book.values() for span in one.spans if span.pile == name]
    if lay:
        return max(lay)[1]
    right = near(name, book) if book else "there is none yet: a batch begins with `heaptender log built PILE`"
    raise MisuseError(ended(f'There is no batch "{name}"; {right}'))


def rule_of_batch(view: YardView, batch: str) -> tuple[str, dict[str, str]]:
    """Return the id of a batch's rule, and the texts of the site's own rules that batches keep."""
    state = view.engine.state
    kept = dict(state.settings.rules)
    kept.update({run.rule_id: run.rule_text for run in state.runs.values() if run.rule_text})
    return state.batches.batches[batch].rule, kept


class WholeRecord:
    """The work of all batches, also of those whose data the engine has dropped; gathered once for all cases of a view."""

    def __init__(self, view: YardView) -> None:
        """Take the journal and the engine beside it."""
        self._view = view

    @cached_property
    def core(self) -> Core:
        """The engine's memory with all of them."""
        checkpoint = self._view.store.checkpoint()
        base = load_state(checkpoint.state) if checkpoint is not None else None
        after = checkpoint.at if checkpoint is not None else -FOREVER
        events = (event for event in self._view.store.events_of(*_KINDS) if event.at > after)
        return whole_record(self._view.engine.state, events, base)


def store_case(view: YardView, batch: str, known: KnownRule, asked: Asked, at_hand: WholeRecord | None = None) -> Case:
    """Return the case of a batch.

    Args:
        view: The journal and the engine beside it.
        batch: The batch's id.
        known: The rule.
        asked: How to judge it.
        at_hand: The work of all batches of the same view, if several cases are asked for; else it is gathered where needed.

    Raises:
        MisuseError: The request does not fit the batch.
    """
    gathered = _Gathered(view, batch, known, asked, whole=at_hand)
    ended = gathered.record.batch.ended
    last = ended if ended is not None else max(asked.now, gathered.last)
    whole = _case(gathered, gathered.record, known, asked.until(last))
    if asked.instant is None or asked.instant >= last:
        if ended is None and asked.as_of is not None and asked.as_of > last:
            raise MisuseError("--as-of lies ahead; name an instant that is past.")
        return replace(whole, came_after=tuple(end_of(gathered.record, gathered.telling)))
    at = asked.instant
    record = record_as_of(gathered.record, at)
    earlier = _case(gathered, record, known, asked.until(at))
    after = [*came_after(gathered.record, at, gathered.telling), *end_of(gathered.record, gathered.telling)]
    whole = replace(
        _case(gathered, gathered.record, known, replace(asked, as_of=last, end=None)), came_after=tuple(after)
    )
    return replace(earlier, came_after=(*after, *verdict_since(whole, at)))


def _case(gathered: "_Gathered", record: BatchRecord, known: KnownRule, asked: Asked) -> Case:
    """Return the case of a batch's record, whole or as of an instant (`asked.as_of`)."""
    view, batch = gathered.view, gathered.run.batch
    settings, telling = view.engine.state.settings, gathered.telling
    pile = record.spans[-1][0]
    thresholds = gathered.core.thresholds_of(gathered.run)
    probes = gathered.probes(record, asked)
    own_gap_ms = min(thresholds.max_gap_ms, RULE_GAP_MS), min(thresholds.hand_gap_ms, RULE_HAND_GAP_MS)
    max_gap_ms = asked.max_gap_ms if asked.max_gap_ms is not None else own_gap_ms[0]
    gaps_ms = max_gap_ms, asked.hand_gap_ms if asked.hand_gap_ms is not None else own_gap_ms[1]
    spots = settings.piles[pile].spots if pile in settings.piles else ()
    said = [
        *remarks(record, telling, thresholds.settle_ms),
        *gathered.remarks(record, probes, asked, known),
        *asked_about(probes),
        *assumed(probes, gaps_ms),
        *said_of_spots(probes, spots, [pile for pile, _, _ in record.spans]),
    ]
    case = shared_case(
        asked, known, settings, (record, telling), probes, pile=pile, gaps_ms=gaps_ms, origin="the yard's journal"
    )
    case = replace(
        case,
        batch=batch,
        method=asked.method if asked.method is not None else record.batch.method,
        work=tuple(gathered.work(record)),
        left_out=" ".join(
            filter(
                None,
                (
                    too_hot_to_be_so(probes),
                    gathered.clashes(probes),
                    gathered.left_out(record, probes, asked),
                    case.left_out,
                ),
            )
        ),
        remarks=tuple(dict.fromkeys(said)),
        chain_head=next((link.head.hex() for link in reversed(view.store.chain())), ""),
    )
    return with_what_came_in(case, record, telling)


class _Gathered:
    """A batch's record from the journal, and its probes with their readings."""

    def __init__(
        self,
        view: YardView,
        batch: str,
        known: KnownRule,
        asked: Asked,
        taker: "_Gathered | None" = None,
        whole: WholeRecord | None = None,
    ) -> None:
        """Gather the record and the readings.

        Args:
            view: The journal and the engine beside it.
            batch: The batch's id.
            known: The rule.
            asked: How to judge it.
            taker: The batch that this one came into, if it is judged for that; else None.
            whole: The work of all batches, if it is at hand.
        """
        self.view = view
        self._rule, self._asked = known, asked
        self.met_known: dict[tuple[str, int], bool] = {} if taker is None else taker.met_known
        settings = view.engine.state.settings
        self.telling = Telling(settings, settings.site.time_zone)
        state = view.engine.state
        core: Core = Core(state) if taker is None else taker.core
        if taker is None and any(one not in state.runs for one in (batch, *(o for o, _, _ in relatives(core, batch)))):
            # The engine has dropped the data of a used-up batch, but the journal still has it.
            core = (whole or WholeRecord(view)).core
        self.core: Core = core
        self.run: BatchRun = run_of(core, batch)
        self.last = max(core.latest_time(), state.last)
        self._known: dict[str, CaseProbe] = {}
        self._clashes: dict[str, list[Clash]] = {}
        self._mixed: dict[str, int] = {}
        self._load()
        self.record: BatchRecord = batch_record(core, self.run, StoredReadings(self._known), was_met=self._was_met)
        self.record = self._with_failed()

    def _was_met(self, batch: str, at: int) -> bool:
        """Return whether a batch that came into this one had, by its own record, met the rule by then."""
        book = self.core.state.batches.batches
        if (batch, at) not in self.met_known:
            self.met_known[batch, at] = False  # ends the recursion for a heap that came back into itself
            # If neither batch was watched under this rule, both are judged by it anew.
            watched = book[self.run.batch].rule == self._rule.rule.id
            if not watched or book[batch].rule == self._rule.rule.id:
                asked = replace(
                    self._asked, probes=(), start=None, end=None, as_of=at, method=None, declared={}, measures={}
                )
                other = _Gathered(self.view, batch, self._rule, asked, self)
                try:
                    found = judge_case(_case(other, record_as_of(other.record, at), self._rule, asked))
                    self.met_known[batch, at] = found.met and not found.only_as_asked
                except MisuseError:
                    pass  # the rule does not allow its method, or it has no readings
        return self.met_known[batch, at]

    def _load(self) -> None:
        spans = self.core.spans_of(self.run)
        first, last = spans[0][1], min(spans[-1][2], self.last)
        configured = self.core.all_probes()
        for probe in self.core.probes_ever(self.run):
            self._known[probe] = self._read(probe, configured[probe], first, last)
        for probe in ambients_of(self.core):
            self._known[probe] = self._read(probe, configured[probe], first - AMBIENT_BEFORE_MS, last)

    def _with_failed(self) -> BatchRecord:
        """Return the record in which rounds also prove while all probes were silent."""
        hands = [self._by_hand(self.record, name, alone=True) for name in self._hands()]
        if not hands or not self.record.service:
            return self.record
        counted = {
            name: accepted(unsettled(self._known[name], service.settling)).times.tolist()
            for name, service in self.record.service.items()
        }
        times = [one.time for one in rounds_by_hand([accepted(one) for one in hands])]
        return with_failed(self.record, counted, times, self.core.thresholds_of(self.run).lag_ms)

    def _read(self, probe: str, configured: Probe | None, first: int, last: int) -> CaseProbe:
        waits = self.view.engine.state.conditioning.probes.get(probe)
        pending = waits.pending.time if waits is not None and waits.pending is not None else None
        columns = stored_columns(self.view.store, probe, first, last, pending)
        calibrations = configured.calibrations if configured is not None else ()
        gone = self._withdrawn(probe, first, last) if configured is None else frozenset()
        further = [one for one in self.view.store.further([probe], first, last) if one.time not in gone]
        limits = self.view.engine.state.settings.probe_thresholds
        fit = [temperature_of(one, configured, limits) is not None for one in further]
        columns, clashes = held_against(columns, further, fit, calibrations)
        self._clashes[probe], self._mixed[probe] = clashes, len(columns.mixed)
        known = columns.probe(probe, calibrations)
        return without_clashes(known, [one.time for one in clashes], self._rule.rule)

    def _withdrawn(self, series: str, first: int = -FOREVER, last: int = FOREVER) -> frozenset[int]:
        """Return the times (UTC ms) from `first` to `last` of readings by hand that were taken back."""
        flags = self.view.store.flags(series, first, last)
        return frozenset(kept.time for kept in flags if kept.reason is FlagReason.WITHDRAWN)

    def probes(self, record: BatchRecord, asked: Asked) -> tuple[CaseProbe, ...]:
        """Return the probes to judge by: those asked for, else the core probes and readings by hand while none was in."""
        cores, hands = list(self.record.probes), self._hands()
        alone = bool(asked.probes) and all(name in hands for name in asked.probes)
        chosen = asked.probes or (*cores, *hands)
        for name in chosen:
            if name not in cores and name not in hands:
                right = near(name, [*cores, *hands])
                raise MisuseError(ended(f'batch {self.run.batch} has no core probe "{name}"; {right}'))
        found = tuple(
            self._core_probe(record, name) if name in cores else self._by_hand(record, name, alone=alone)
            for name in chosen
        )
        if not asked.probes:
            # Readings by hand taken while a probe was in are no part of the proof.
            found = tuple(one for one in found if not one.by_hand or counts(one)) or found
        if asked.as_of is not None:
            found = tuple(probe_as_of(one, asked.as_of) for one in found)
        return with_retired(found, dict(record.service))

    def _hands(self) -> list[str]:
        spoke = set(self.view.store.probes())
        piles = list(dict.fromkeys(pile for pile, _, _ in self.record.spans))
        return sorted(name for name in spoke if any(hand_spot(name, (pile,)) for pile in piles))

    def _core_probe(self, record: BatchRecord, name: str) -> CaseProbe:
        configured, service = record.probes[name], record.service.get(name)
        known = unsettled(self._known[name], service.settling if service is not None else ())
        return replace(
            with_service(known, service),
            name=configured.name,
            depth_milli_m=configured.depth_milli_m,
            uncertainty_milli_k=configured.uncertainty_milli_k,
        )

    def _by_hand(self, record: BatchRecord, name: str, *, alone: bool) -> CaseProbe:
        lay = closed((start, end) for pile, start, end in self.record.spans if hand_spot(name, (pile,)) is not None)
        last = min(self.last, max(end for _, end in lay))
        known = self._read(name, None, lay[0][0], max(last, lay[0][0]))
        spot = next(where[1] for pile, _, _ in self.record.spans if (where := hand_spot(name, (pile,))) is not None)
        return read_by_hand(known, spot, lay, lay if alone else closed(record.rounds))

    def work(self, record: BatchRecord) -> Iterator[CaseWork]:
        """Yield the batch's entries with corrections applied."""
        entered = {(one.at, one.work): one for one in work_log(self.view.store) if one.work is not None}
        for logged, _ in record.works:
            found = entered.get((logged.at, logged.work))
            when = logged.work.entered if logged.work.entered is not None else logged.at
            yield CaseWork(
                work=logged.work,
                entered=when,
                imported=found is not None and found.imported,
                corrected=found.corrected if found is not None else None,
            )

    def clashes(self, probes: tuple[CaseProbe, ...]) -> str:
        """Return page 1's sentence about clashing values of the same instant."""
        found = [clash for one in probes for clash in self._clashes.get(one.probe, ())]
        shown = [clash.told(self.telling) for clash in found[:SHOWN]]
        mixed = sum(self._mixed.get(one.probe, 0) for one in probes)
        return told_of_clashes(len(found), mixed, shown, self._rule.rule)

    def left_out(self, record: BatchRecord, probes: tuple[CaseProbe, ...], asked: Asked) -> str:
        """Return page 1's sentences on requests that differ from the record: core probes left out, another method."""
        left = [name for name in record.probes if name not in {one.probe for one in probes}]
        said = []
        if asked.probes and left:
            said.append(
                f"Whoever asked for this certificate chose the probes {', '.join(asked.probes)}; the batch's core "
                f"{'probes' if len(left) > 1 else 'probe'} {', '.join(left)} {'were' if len(left) > 1 else 'was'} left out."
            )
        said += entries_taken_back(work_log(self.view.store), record, self.telling, asked.as_of)
        if any(one.by_hand for one in probes):
            said += readings_taken_back(self._taken_back(record, asked), self.telling)
        if asked.method is not None and asked.method is not record.batch.method:
            method = record.batch.method.value
            said.append(f"The method {asked.method.value} was stated for this certificate; the record says {method}.")
        return " ".join(said)

    def _taken_back(self, record: BatchRecord, asked: Asked) -> Iterator[tuple[CaseProbe, list[int]]]:
        """Yield each hand series with the times (UTC ms) of its readings that were taken back."""
        until = FOREVER if asked.as_of is None else asked.as_of
        for name in self._hands():
            gone = self._withdrawn(name, last=until)
            if gone:
                yield self._by_hand(record, name, alone=True), sorted(gone)

    def remarks(
        self, record: BatchRecord, probes: tuple[CaseProbe, ...], asked: Asked, known: KnownRule
    ) -> Iterator[str]:
        """Yield remarks on the request, and on what the journal no longer has."""
        if left := self.left_out(record, probes, asked):
            yield left
        own = record.batch.rule
        if known.rule.id != own:
            held = "with no rule" if own == "none" else f"under rule {own}"
            yield f"While it was watched, the batch was {held}; this certificate holds it against {known.rule.id}."
        checkpoint = self.view.store.checkpoint()
        if checkpoint is not None and checkpoint.at > record.batch.built:
            yield f"What was recorded before {self.telling.when(checkpoint.at)} is no longer kept."
