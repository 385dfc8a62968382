"""Laws of the graph: dry matter is conserved through every order of work, and certain ways up are certain ways down."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from monitor.material import MaterialRecord, Node, NodeKind, inputs_of, outcomes_of
from monitor.model.times import HOUR_MS
from monitor.model.work import Work, WorkKind
from tests.unit.material.material_yard import BINS, NaiveHeaps, record_of

D = WorkKind
PILES = ("p1", "p2", "p3")
KG = st.integers(1, 60)


@st.composite
def stories(draw: st.DrawFn) -> list[Work]:
    """Make up the work of a yard; every amount is known, so that all can be checked."""
    works: list[Work] = []
    for step in range(draw(st.integers(1, 25))):
        kind = draw(st.sampled_from([D.DELIVERY, D.COUNTED, D.BUILT, D.ADDED, D.SPLIT, D.MOVED, D.MERGED, D.BEDDED, D.FED,
                                     D.HARVESTED, D.SCREENED, D.EMPTIED]))  # fmt: skip
        time = step * HOUR_MS * 7
        what = draw(st.sampled_from(["leaves", "litter"]))
        amount = {"amount": str(draw(KG)), "measure": "kg", "unit": "kg"}
        if kind in (D.DELIVERY, D.COUNTED):
            works.append(Work(time=time, place="yard", kind=kind, what=what, **amount))
        elif kind in (D.BUILT, D.ADDED):
            works.append(Work(time=time, place=draw(st.sampled_from(PILES)), kind=kind, what=what, **amount))
        elif kind in (D.BEDDED, D.FED):
            works.append(Work(time=time, place=draw(st.sampled_from(BINS)), kind=kind, what=what, **amount))
        elif kind is D.EMPTIED:
            works.append(Work(time=time, place=draw(st.sampled_from(PILES + BINS)), kind=kind))
        elif kind is D.HARVESTED:
            works.append(Work(time=time, place=draw(st.sampled_from(BINS)), kind=kind, moisture="75", **amount))
        elif kind is D.SCREENED:
            works.append(
                Work(time=time, place=draw(st.sampled_from(BINS)), kind=kind, moisture="50", fines="1 kg", overs="2 kg")
            )
        else:
            here, there = draw(st.sampled_from(PILES)), draw(st.sampled_from(PILES + BINS))
            if here != there:
                works.append(Work(time=time, place=here, kind=kind, to=there, **(amount if kind is D.SPLIT else {})))
    return works


@dataclass
class Tub:
    wet: Fraction = Fraction(0)
    dry: Fraction = Fraction(0)


@dataclass
class NaiveYard:
    """The same yard kept by simple sums, without a graph: what lies on each place, in stock, in harvests, and gone."""

    stock: dict[str, Tub] = field(default_factory=dict)
    places: dict[str, Tub] = field(default_factory=dict)
    gone: Fraction = Fraction(0)

    def run(self, works: Sequence[Work]) -> "NaiveYard":
        heaps = NaiveHeaps(list(works))
        for work in works:
            getattr(self, f"_{work.kind.value}")(work, heaps)
        return self

    def _take(self, what: str, grams: Fraction) -> Fraction:
        shelf = self.stock.setdefault(what, Tub())
        there = min(shelf.wet, grams)
        shelf.wet, shelf.dry = shelf.wet - there, shelf.dry - there / 2
        return grams / 2

    def _put(self, place: str, wet: Fraction, dry: Fraction) -> None:
        tub = self.places.setdefault(place, Tub())
        tub.wet, tub.dry = tub.wet + wet, tub.dry + dry

    def _delivery(self, work: Work, heaps: NaiveHeaps) -> None:
        del heaps
        shelf, grams = self.stock.setdefault(work.what, Tub()), Fraction(int(work.amount) * 1000)
        shelf.wet, shelf.dry = shelf.wet + grams, shelf.dry + grams / 2

    def _counted(self, work: Work, heaps: NaiveHeaps) -> None:
        del heaps
        shelf, grams = self.stock.setdefault(work.what, Tub()), Fraction(int(work.amount) * 1000)
        if grams < shelf.wet:
            self.gone += (shelf.wet - grams) / 2
        shelf.wet, shelf.dry = grams, grams / 2

    def _brought(self, work: Work, heaps: NaiveHeaps) -> None:
        lies = work.place in BINS or heaps.lying(work.place, work.time)
        if lies:
            grams = Fraction(int(work.amount) * 1000)
            self._put(work.place, grams, self._take(work.what, grams))

    _added = _bedded = _fed = _brought

    def _built(self, work: Work, heaps: NaiveHeaps) -> None:
        old = self.places.pop(work.place, Tub())
        self.gone += old.dry  # nobody said where it went
        self._brought(work, heaps)

    def _split(self, work: Work, heaps: NaiveHeaps) -> None:
        grams = Fraction(int(work.amount) * 1000)
        if not heaps.left(work.place, work.time):
            if work.to in BINS or heaps.lying(work.to, work.time):
                self._put(work.to, grams, Fraction(0))
            return
        tub = self.places.get(work.place, Tub())
        dry = tub.dry * min(grams, tub.wet) / tub.wet if tub.wet > 0 else Fraction(0)
        if tub.wet <= 0:
            dry = Fraction(0)  # a part of nothing
        tub.wet, tub.dry = tub.wet - grams, tub.dry - dry
        self._put(work.to, grams, dry)

    def _moved(self, work: Work, heaps: NaiveHeaps) -> None:
        if heaps.left(work.place, work.time):
            tub = self.places.pop(work.place, Tub())
            self._put(work.to, tub.wet, tub.dry)

    _merged = _moved

    def _harvested(self, work: Work, heaps: NaiveHeaps) -> None:
        del heaps
        grams = Fraction(int(work.amount) * 1000)
        self._put(work.place, -grams, -grams / 4)
        self._put(f"harvests {work.place}", grams, grams / 4)

    def _screened(self, work: Work, heaps: NaiveHeaps) -> None:
        """Leave a harvest as it is: its fractions are still in the yard."""

    def _emptied(self, work: Work, heaps: NaiveHeaps) -> None:
        if work.place in BINS or heaps.left(work.place, work.time):
            self.gone += self.places.pop(work.place, Tub()).dry


def _all_known(record: MaterialRecord) -> bool:
    return all(one.dry_g is not None for one in record.graph.movements)


@given(stories())
def test_dry_matter_is_conserved(works: list[Work]) -> None:
    record = record_of(*works)
    if not _all_known(record):
        return
    graph = record.graph
    strange = graph.nodes(NodeKind.UNRECORDED)
    came = sum(one.dry_g or 0 for one in graph.movements if one.source is None)
    came -= sum(graph.dry_left(one) for one in strange if one.id)
    there = sum(graph.dry_left(one) for one in graph.nodes() if one.kind is not NodeKind.UNRECORDED)
    assert there == came
    naive = NaiveYard().run(works)
    used = sum(graph.dry_left(one) for one in graph.nodes() if one.kind not in (NodeKind.UNRECORDED, NodeKind.DELIVERY))
    places = sum(tub.dry for tub in naive.places.values())
    assert abs(used - (places + naive.gone)) <= 2 * len(works)  # each movement is rounded to a gram


@given(stories())
def test_what_lies_where_is_what_simple_sums_say(works: list[Work]) -> None:
    record = record_of(*works)
    if not _all_known(record):
        return
    naive, heaps = NaiveYard().run(works), NaiveHeaps(works)
    for place in PILES:
        batch = heaps.lying(place, works[-1].time) if works else ""
        if batch:
            node = Node(NodeKind.BATCH, batch)
            assert abs(record.graph.dry_left(node) - naive.places.get(place, Tub()).dry) <= 2 * len(works)
    for what, tub in naive.stock.items():
        shelf = record.shelves[what]
        assert sum(one.wet_g or 0 for one in shelf.open) == tub.wet


@given(stories())
def test_what_is_in_by_one_look_is_in_by_the_other(works: list[Work]) -> None:
    graph = record_of(*works).graph
    nodes = [one for one in graph.nodes() if one.kind is not NodeKind.SHELF]
    up = {(found.node, node): found.certain for node in nodes for found in inputs_of(graph, node)}
    down = {(node, found.node): found.certain for node in nodes for found in outcomes_of(graph, node)}
    assert up == down
