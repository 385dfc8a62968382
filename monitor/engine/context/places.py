"""The yard in the engine's memory, and where things are in it: the port of functions that only ask."""

from itertools import pairwise

from monitor.bins import Bed, BinState
from monitor.engine.context.batch_runs import BatchRun
from monitor.engine.context.dangerous_heat import Danger, DangerState
from monitor.engine.context.probe_watch import ProbeWatch
from monitor.engine.context.state import EngineState
from monitor.material import PlacesOfHeaps
from monitor.model.readings import is_hand
from monitor.model.settings import Pile, Probe, Settings
from monitor.model.thresholds import PileThresholds
from monitor.model.units import Quantity
from monitor.model.words import Role
from monitor.model.work import Work
from monitor.piles import Batch, BatchBook

FOREVER = 1 << 60


class Places:
    """The engine's memory at the instant being served.

    Attributes:
        state: The whole state.
        at: The instant being served, UTC ms; names the effects.
        beds: The beds by bin, made again with the settings.
        batches: The book of which batch lies where.
    """

    def __init__(self, state: EngineState) -> None:
        self.state = state
        self.at = state.last
        self.renew()

    def renew(self) -> None:
        """Prepare again everything that depends on the settings."""
        settings = self.state.settings
        self.beds: dict[str, Bed] = {}
        self._probes_by_id = sorted(settings.probes.items())
        self._configured: dict[str, list[tuple[str, Probe]]] = {}
        for name, configured in self._probes_by_id:
            self._configured.setdefault(configured.place, []).append((name, configured))
        self.batches = BatchBook(self.state.batches, settings.piles, settings.bins, settings.site.time_zone)

    @property
    def settings(self) -> Settings:
        """The settings in force."""
        return self.state.settings

    @property
    def true_now(self) -> int:
        """The true time as far as it is known: `at` less the known lead of the computer's clock, UTC ms."""
        return self.at + self.state.clock_off_ms

    @property
    def late_before(self) -> int:
        """The instant (UTC ms) before which a reading's own time makes it late."""
        return self.true_now - self.settings.probe_thresholds.late_ms

    def pile(self, place: str) -> Pile | None:
        """Return a pile's settings, or None if the place is no pile."""
        return self.settings.piles.get(place)

    def bed(self, place: str) -> Bed:
        """Return a bin's bed."""
        found = self.beds.get(place)
        if found is None:
            state = self.state.bins.setdefault(place, BinState())
            found = self.beds[place] = Bed(state, self.settings.bins[place].thresholds)
        return found

    def danger(self, place: str) -> Danger:
        """Return a pile's watch for dangerous heat."""
        pile = self.settings.piles[place]
        return Danger(self.state.dangers.setdefault(place, DangerState()), pile.thresholds)

    def measured_at(self, pile: str, series: str) -> int:
        """Return when the value that decides a pile's danger was measured, UTC ms; 0 if that is not known."""
        state = self.state.dangers.get(pile)
        came = state.brought.get(series) if state is not None else None
        hand, watch = self.state.hands.get(series), self.state.watches.get(series)
        if came is not None:
            return came.measured
        if hand is not None:
            return hand.time
        return watch.accepted_time or 0 if watch is not None else 0

    def watch(self, probe: str) -> ProbeWatch:
        """Return a series' watch, which is made if missing."""
        found = self.state.watches.get(probe)
        if found is None:
            found = self.state.watches[probe] = ProbeWatch(heard_from=self.at)
        return found

    def in_time_by_hand(self, place: str, series: str) -> bool:
        """Return whether a series is read by hand, and its newest reading was entered in time and is still held.

        A batch's rounds, which are no series, are as timely as any reading of the place.
        """
        if not is_hand(series):
            return False
        known = self.state.hands.get(series)
        every = [known] if known is not None else [one for one in self.state.hands.values() if one.place == place]
        return any(one.held and one.on_time for one in every)

    def link_lives(self, source: str) -> bool:
        """Return whether a source is not known to be down; "" asks about all sources, of which none may be down."""
        if source:
            link = self.state.links.get(source)
            return link is None or link.up
        return all(link.up for link in self.state.links.values() if link.what == "source")

    def link_up_since(self, source: str) -> int:
        """Return when a source ("": any source) last came up, UTC ms; 0 if it never was down."""
        links = [self.state.links.get(source)] if source else list(self.state.links.values())
        return max((link.since for link in links if link is not None and link.up and link.what == "source"), default=0)

    # Where things are ------------------------------------------------------------------------------------------

    def place_of(self, probe: str) -> str:
        """Return where a probe is now; "" if nowhere."""
        return self.place_at(probe, FOREVER)

    def place_at(self, probe: str, time: int) -> str:
        """Return where a probe was at an instant: as it was carried, else as configured."""
        if self.state.carried:
            for carried in reversed(self.state.carried):
                if carried.probe == probe and carried.time <= time:
                    return carried.place
        configured = self.settings.probes.get(probe)
        return configured.place if configured is not None else ""

    def probes_of(self, place: str) -> list[tuple[str, Probe]]:
        """Return the probes that are at a place now, by id."""
        if not self.state.carried:
            return list(self._configured.get(place, ()))
        return [(p, probe) for p, probe in self._probes_by_id if self.place_of(p) == place]

    def cores_of(self, place: str) -> list[str]:
        """Return the core temperature probes that are at a pile now, by id."""
        return [p for p, c in self.probes_of(place) if is_core(c)]

    def in_service(self, probe: str) -> bool:
        """Return whether a probe is where it should be and not out for a turning."""
        if not self.place_of(probe):
            return False
        outing = self.state.outings.get(probe)
        return outing is None or outing.out is None

    # Batches ---------------------------------------------------------------------------------------------------

    def batch_at(self, place: str) -> str | None:
        """Return the id of the batch that lies on a pile now."""
        batch = self.batches.on(place)
        return batch.batch if batch is not None else None

    def run_at(self, place: str) -> BatchRun | None:
        """Return the batch under watch on a pile now."""
        batch = self.batches.on(place)
        return self.state.runs.get(batch.batch) if batch is not None else None

    def nothing_lies(self, place: str) -> bool:
        """Return whether a pile or bin is empty by the log."""
        if place in self.settings.bins:
            return self.bed(place).state.emptied_at is not None
        return place in self.settings.piles and self.run_at(place) is None

    def was_cleared(self, place: str) -> bool:
        """Return whether a place was emptied by the log; a pile that never held a heap does not count as emptied."""
        return self.nothing_lies(place) and (place in self.settings.bins or place in self.state.batches.settled)

    def pile_of(self, run: BatchRun) -> str:
        """Return the pile where a batch lies now."""
        return self.state.batches.batches[run.batch].spans[-1].pile

    def thresholds_of(self, run: BatchRun) -> PileThresholds:
        """Return the thresholds that a batch is walked under: those of the pile where it was built."""
        pile = self.settings.piles.get(run.home)
        return pile.thresholds if pile is not None else PileThresholds()

    @property
    def laid(self) -> PlacesOfHeaps:
        """Return who tells which heap lay where, by the book as it is now."""
        return PlacesOfHeaps(self.state.batches.batches)

    def spans_of(self, which: BatchRun | str) -> list[tuple[str, int, int]]:
        """Return where a batch lay: (pile, from, to), ends not included; a part split off lay where the whole did."""
        book = self.state.batches.batches
        batch: Batch | None = book[which if isinstance(which, str) else which.batch]
        found: list[tuple[str, int, int]] = []
        until = FOREVER
        while batch is not None:
            found += [
                (span.pile, span.start, min(until, FOREVER if span.end is None else span.end))
                for span in batch.spans
                if span.start < until
            ]
            until = batch.spans[0].start
            batch = book.get(batch.parent) if batch.parent else None
        return sorted(found, key=lambda span: span[1])

    def serving_spans(self, which: BatchRun | str, probe: str) -> list[tuple[int, int | None]]:
        """Return when a core probe was where the batch was, by where probes were carried: (from, to or None), UTC ms."""
        moves = sorted(c.time for c in self.state.carried if c.probe == probe)
        found: list[tuple[int, int | None]] = []
        for pile, start, end in self.spans_of(which):
            edges = [start, *(t for t in moves if start < t < end), end]
            for begin, stop in pairwise(edges):
                if self.place_at(probe, begin) != pile:
                    continue
                if found and found[-1][1] == begin:
                    found[-1] = (found[-1][0], stop)
                else:
                    found.append((begin, stop))
        return [(begin, None if stop is None or stop >= FOREVER else stop) for begin, stop in found]

    def probes_ever(self, which: BatchRun | str) -> list[str]:
        """Return the core probes that were in a batch at any time, by id."""
        piles, carried = {pile for pile, _, _ in self.spans_of(which)}, {one.probe for one in self.state.carried}
        near = ((p, c) for p, c in sorted(self.all_probes().items()) if c.place in piles or p in carried)
        return [p for p, c in near if is_core(c) and self.serving_spans(which, p)]

    def all_probes(self) -> dict[str, Probe]:
        """Return the probes of the settings, and former ones that a batch's record still has."""
        return {**self.state.retired, **self.settings.probes}

    def company_of(self, run: BatchRun) -> list[str]:
        """Return the other temperature probes of the pile where a batch lies, whose record bears on its flags."""
        return [p for p, c in self.probes_of(self.pile_of(run)) if c.quantity is Quantity.TEMPERATURE]

    def works_of(self, which: BatchRun | str) -> list[tuple[Work, bool]]:
        """Return (work, whether it is about this heap) in order of time; False: it is about one thrown onto it."""
        batch = which if isinstance(which, str) else which.batch
        spans = self.spans_of(batch)
        found: list[tuple[int, int, Work, bool]] = []
        laid: PlacesOfHeaps | None = None
        family = self._wholes_of(batch)
        for logged in self.state.works:
            work = logged.work
            for pile, start, end in spans:
                if work.place == pile and start <= work.time <= end:
                    found.append((work.time, logged.at, work, True))
                    break
                if work.to != pile or work.place == pile or not start <= work.time <= end:
                    continue
                laid = self.laid if laid is None else laid
                if not family.isdisjoint(laid.takers(work.place, work.to, work.time)):
                    found.append((work.time, logged.at, work, False))
                    break
        return [(work, own) for _, _, work, own in sorted(found, key=lambda item: (item[0], item[1]))]

    def _wholes_of(self, batch: str) -> set[str]:
        """Return a batch and those that it was split off from, one after the other."""
        book, found = self.state.batches.batches, set[str]()
        while batch in book and batch not in found:
            found.add(batch)
            batch = book[batch].parent
        return found

    def latest_time(self) -> int:
        """Return the newest own time of any series."""
        newest = [w.newest for w in self.state.watches.values() if w.newest is not None]
        return max(newest, default=self.at)


def is_core(probe: Probe) -> bool:
    """Return whether a probe measures the temperature in the core of a heap."""
    return probe.role is Role.CORE and probe.quantity is Quantity.TEMPERATURE
