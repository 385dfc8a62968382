"""Reads the yard's log as movements of material.

Rules, beside those of `shelf`:
1. What came into a heap or a bed is what its entry names (`parts`, else `what`): a delivery, a heap, a harvest, a
   fraction, a lot, or a material, which is then taken from the stock; unnamed, it is unrecorded.
2. A heap moved onto an empty place stays the same node. One that goes whole takes along all that is left of it; if it was
   weighed then, the difference is gone.
3. A bed runs from the first that is laid into an empty bin until the bin is emptied. A harvest is a part of it, unless
   the bin is emptied within 6 h: then it has all of it. Whatever lay in a bin when its log began may be in all that is
   harvested until it is emptied, unless its bed was begun on the day of its first entry or later.
4. Refused deliveries are in the log and not in the yard.
5. Where more dry matter leaves a harvest, its part or a heap than ever came in, a weighing was wrong or something lay there:
   the rest of it comes from nowhere and is no input of a lot.
6. A part taken by volume or containers from a heap or a bed has no known dry matter: nobody knows its density or
   moisture.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from monitor.material.brought import Brought, amount_of, brought_by, plain_name
from monitor.material.graph import NAMELESS, Graph
from monitor.material.left import Left
from monitor.material.movements import (
    BEFORE_THE_LOG,
    Movement,
    Node,
    NodeKind,
    Weighed,
    at_moisture,
    is_earlier,
    moved,
)
from monitor.material.open_together import OpenTogether
from monitor.material.shelf import OnShelf, Shelf
from monitor.material.yard_of_material import YardOfMaterial
from monitor.model.amounts import Amount
from monitor.model.delivery_risks import risks_of
from monitor.model.harvest_names import harvest_id, harvest_part, material_name
from monitor.model.work import Work, WorkKind
from monitor.model.work_entry import fraction_of
from monitor.model.work_kinds import FRACTIONS, declared

CASTINGS = "castings"
"""The material by whose density a harvest is estimated, if the yard has written down its own."""
_PERCENT = 100
_HOLDS_NO_MORE = frozenset({NodeKind.HARVEST, NodeKind.FRACTION, NodeKind.BATCH})
"""Kinds of nodes out of which no more dry matter comes than went in."""


@dataclass(slots=True)
class LogReading:
    """Reads entries in order; it can go on with later ones.

    Attributes:
        yard: The yard behind the log.
        whole: Numbers of the harvests after which the bin was emptied.
        emptied: When each place was emptied for the first time, UTC ms.
        graph, shelves: What was read so far.
        moves: The movements in the order in which they were read.
    """

    yard: YardOfMaterial
    whole: set[int]
    emptied: dict[str, int]
    graph: Graph = field(default_factory=Graph)
    moves: list[Movement] = field(default_factory=list)
    shelves: dict[str, Shelf] = field(default_factory=dict)
    _beds: dict[str, Node] = field(default_factory=dict)
    _nodes: dict[str, Node] = field(default_factory=dict)
    _shelf_of: dict[Node, Shelf] = field(default_factory=dict)
    _harvests: dict[str, Node] = field(default_factory=dict)
    _pools: dict[str, OpenTogether] = field(default_factory=dict)
    _left: dict[Node, Left] = field(default_factory=dict)

    def take(self, ordered: Iterable[tuple[int, Work]]) -> None:
        """Read entries, which come in order and after those read before."""
        for number, work in ordered:
            for movement in self.movements(number, work):
                self.add(movement)

    def add(self, movement: Movement) -> None:
        """Add a movement to the graph, and count what is left of its ends."""
        self.moves.append(movement)
        self.graph.add(movement)
        for node, goes in ((movement.target, False), (movement.source, True)):
            if node is None or node.kind is NodeKind.SHELF or is_earlier(movement):
                continue  # what is left by the record knows nothing of what was there before
            left = self._left.get(node)
            if left is None:
                left = self._left[node] = self._begun_at(node, movement)
                if node.kind not in NAMELESS:
                    self._nodes.setdefault(node.id.casefold(), node)
            if goes:
                left.take_out(movement)
            else:
                left.take_in(movement)

    def _begun_at(self, node: Node, movement: Movement) -> Left:
        """Return the rest of a node before its first movement."""
        unknown = not self._begins(node, movement)
        return Left(unclear=unknown, undried=unknown, boundless=unknown)

    def _begins(self, node: Node, movement: Movement) -> bool:
        """Return whether the first movement of a node is its beginning; of a heap that nobody built by the log, it is not."""
        if node.kind is not NodeKind.BATCH:
            return True
        part = self.yard.heaps.split_off(node.id)
        begun = self.yard.heaps.built(node.id) if part is None else part[2]
        return node == movement.target and movement.time <= begun

    def movements(self, number: int, work: Work) -> Iterator[Movement]:
        """Yield the movements of an entry."""
        row = declared(work.kind)
        if work.kind is WorkKind.DELIVERY:
            yield from self._delivered(number, work)
        elif work.kind is WorkKind.COUNTED:
            yield from self._counted(number, work)
        elif row.goes_somewhere:
            yield from self._gone_over(number, work)
        elif row.fills or (work.kind is WorkKind.COVERED and self._known(work.what)):
            yield from self._brought(number, work)
        elif work.kind is WorkKind.HARVESTED:
            yield from self._harvested(number, work)
        elif work.kind is WorkKind.SCREENED:
            yield from self._screened(number, work)
        elif work.kind is WorkKind.EMPTIED:
            yield from self._emptied(number, work)
        elif work.kind is WorkKind.LOT:
            yield from self._made_lot(number, work)
        elif work.kind is WorkKind.GIVEN:
            yield from self._given(number, work)

    def _delivered(self, number: int, work: Work) -> Iterator[Movement]:
        if work.refused:
            return
        node = Node(NodeKind.DELIVERY, f"d{number}")
        mass = self._weighed(work.what, amount_of(work))
        if risks := tuple(risks_of(work.risk)):
            self.graph.risks[node] = risks
        self._put_on_shelf(work.what, node, work.time, mass)
        yield moved(number, work, None, node, mass)

    def _counted(self, number: int, work: Work) -> Iterator[Movement]:
        mass = self._weighed(work.what, amount_of(work))
        if mass is None:
            return
        counted = self._shelf(work.what).count(mass)
        for one in counted.missing:
            gone = Node(NodeKind.GONE, str(number))
            yield moved(number, work, one.node, gone, Weighed(one.wet_g or 0, one.dry_g, one.measured))
        if counted.found_g:
            node = Node(NodeKind.UNRECORDED, work.what)
            dry = None if mass.dry_g is None else mass.dry_g * counted.found_g // mass.wet_g
            found = Weighed(counted.found_g, dry, mass.measured)
            self._put_on_shelf(work.what, node, work.time, found)
            yield moved(number, work, None, node, found)

    def _known(self, name: str) -> bool:
        """Return whether a name is of material that the record knows: a tarpaulin is none."""
        return self._node(name) is not None or plain_name(name) in self.shelves

    def _brought(self, number: int, work: Work) -> Iterator[Movement]:
        if work.place in self.yard.bins:
            yield from self._drawn(number, work, self._bed(work.place, work.time))
            return
        heaps = self.yard.heaps
        there = (
            [heaps.lying(work.place, work.time)] if work.kind is WorkKind.BUILT else heaps.there(work.place, work.time)
        )
        nodes = [Node(NodeKind.BATCH, one) for one in there if one]
        if not nodes:
            return
        *others, target = nodes
        yield from self._drawn(number, work, target)
        for other in others:
            # One heap went and another came at this instant: either may have got it.
            yield from self._perhaps(number, work, other)

    def _perhaps(self, number: int, work: Work, target: Node) -> Iterator[Movement]:
        """Yield the sources that an entry names as something that may be in a node; their amounts are counted elsewhere."""
        for one in brought_by(work, self.yard.heaps, own=True):
            source = self._source(one)
            sources = [source] if source is not None else [open_.node for open_ in self._shelf(one.name).open]
            for each in sources or [Node(NodeKind.UNRECORDED, one.name)]:
                if each != target and not one.is_water:
                    yield Movement(
                        time=work.time, entry=number, source=each, target=target, wet_g=0, dry_g=0, certain=False
                    )

    def _drawn(self, number: int, work: Work, target: Node) -> Iterator[Movement]:
        """Yield the movements of what an entry names into a node."""
        for one in brought_by(work, self.yard.heaps, own=True):
            name, amount, source = one.name, one.amount, self._source(one)
            if source == target or one.is_water:
                continue  # its own material, put back; or no dry matter
            if source is not None and source not in self._shelf_of:
                yield from self._taken(number, work, source, target, amount)
                continue
            shelf = self._shelf_of[source] if source is not None else self._shelf(name)
            mass = self._weighed(shelf.material, amount)
            if source is None and len(shelf.open) > 1:
                yield from self._from_pool(number, work, shelf, target)
            for part in shelf.use(mass, source):
                yield Movement(
                    time=work.time, entry=number, source=part.node, target=target, wet_g=part.wet_g, dry_g=part.dry_g,
                    measured=part.measured, certain=part.certain,
                )  # fmt: skip

    def _source(self, one: Brought) -> Node | None:
        return Node(NodeKind.BATCH, one.heap) if one.heap else self._node(one.name)

    def _from_pool(self, number: int, work: Work, shelf: Shelf, target: Node) -> Iterator[Movement]:
        """Yield the ways from all open deliveries of a material into a node: any of them may have been used."""
        ways = self._pools.setdefault(shelf.material, OpenTogether(shelf.material)).ways(shelf.open)
        for source, into in (*ways.made, *((one, target) for one in ways.ends)):
            yield Movement(time=work.time, entry=number, source=source, target=into, wet_g=0, dry_g=0, certain=False)

    def _taken(
        self, number: int, work: Work, source: Node, target: Node, amount: Amount | None, *, whole: bool = False
    ) -> Iterator[Movement]:
        """Yield the movement of a part, or of all, of something that lies in the yard."""
        part_of_bed = source.kind is NodeKind.BED and not whole
        mass = self._weighed(
            "" if source.kind in (NodeKind.BATCH, NodeKind.UNRECORDED) else CASTINGS, amount, work.moisture
        )
        # What nobody wrote down comes from anywhere, so nothing is left of it.
        left = self._left.get(source) if source.kind is not NodeKind.UNRECORDED else None
        if whole and left is not None and not left.unclear:
            dry = None if left.undried else max(0, left.dry_g)
            if mass is None:
                wet = left.wet_g if dry is None else at_moisture(dry, work.moisture, left.wet_g)
                mass = Weighed(wet, dry, measured=False)
            else:
                yield from self._lost(number, work, source, mass, left)
        elif mass is not None and mass.dry_g is None and left is not None:
            # A part of a mixed heap has its share of the dry matter.
            mass = Weighed(mass.wet_g, left.share_of(mass.wet_g), mass.measured)
        yield from self._goes(number, work, source, target, mass, in_part=part_of_bed)

    def _goes(
        self, number: int, work: Work, source: Node, target: Node, mass: Weighed | None, *, in_part: bool = False
    ) -> Iterator[Movement]:
        """Yield the movement of a part; dry matter beyond all that was left of its source comes from nowhere."""
        left = self._left.get(source)
        more = 0
        if mass is not None and mass.dry_g is not None and left is not None and not left.boundless:
            more = mass.dry_g - max(0, left.dry_g) if source.kind in _HOLDS_NO_MORE else 0
        if mass is None or mass.dry_g is None or more <= 0:
            yield moved(number, work, source, target, mass, in_part=in_part)
            return
        there = Weighed(mass.wet_g, mass.dry_g - more, mass.measured)
        yield moved(number, work, source, target, there, in_part=in_part)
        yield moved(number, work, None, target, Weighed(0, more, mass.measured))

    def _lost(self, number: int, work: Work, source: Node, mass: Weighed, left: Left) -> Iterator[Movement]:
        """Yield the mass that is gone between two weighings."""
        wet = max(0, left.wet_g - mass.wet_g)
        dry = None if mass.dry_g is None or left.undried else max(0, left.dry_g - mass.dry_g)
        if wet or dry:
            yield moved(
                number, work, source, Node(NodeKind.GONE, str(number)), Weighed(wet, dry, measured=mass.measured)
            )

    def _gone_over(self, number: int, work: Work) -> Iterator[Movement]:
        """Yield the movement of a heap, or a part of one, onto another heap or into a bin."""
        if work.to == work.place:
            return
        (one,) = brought_by(work, self.yard.heaps, own=False)
        source = Node(NodeKind.BATCH, one.heap) if one.heap else Node(NodeKind.UNRECORDED, "")
        if work.to in self.yard.bins:
            target = self._bed(work.to, work.time)
        elif takers := self.yard.heaps.takers(work.place, work.to, work.time):
            *others, target = [Node(NodeKind.BATCH, one) for one in takers]
            for other in others:
                if other != source:
                    yield moved(number, work, source, other, Weighed(0, 0))._replace(certain=False)
        else:
            return
        left_now = self._left.get(source)
        if target == source:
            # It stays what it is; weighed on the way, it is known how much is gone since.
            mass = self._weighed("", amount_of(work), work.moisture)
            if mass is not None and left_now is not None and not left_now.unclear:
                yield from self._lost(number, work, source, mass, left_now)
            return
        yield from self._taken(number, work, source, target, one.amount, whole=one.whole)

    def _harvested(self, number: int, work: Work) -> Iterator[Movement]:
        node = self._harvests[work.place] = Node(NodeKind.HARVEST, harvest_id(number))
        mass = self._weighed(CASTINGS, amount_of(work), work.moisture)
        filled = work.place in self._beds
        bed = self._bed(work.place, work.time)
        left = self._left.get(bed, Left())
        known = mass is not None and mass.dry_g is not None and not left.undried
        if not filled or (known and mass is not None and (mass.dry_g or 0) > left.dry_g):
            # More comes out than ever went in by the record, so something lay there that nobody wrote down.
            earlier = Node(NodeKind.EARLIER, work.place)
            before = any(one.source == earlier for one in self.graph.into.get(bed, ()))
            yield moved(number, work, earlier if before else Node(NodeKind.UNRECORDED, ""), bed, None)
        yield moved(number, work, bed, node, mass, in_part=number not in self.whole)

    def _screened(self, number: int, work: Work) -> Iterator[Movement]:
        source = self._node(material_name(work))
        if source is None and work.place in self.yard.bins:
            source = self._harvests.get(work.place)
        elif source is None:
            heap = self.yard.heaps.lying(work.place, work.time) or self.yard.heaps.left(work.place, work.time)
            source = Node(NodeKind.BATCH, heap) if heap else None
        if source is None:
            return
        for fraction in FRACTIONS:
            amount = fraction_of(work, fraction)
            if amount is not None and amount.count:
                mass = self._weighed(CASTINGS, amount, work.moisture)
                part = Node(NodeKind.FRACTION, f"{source.id}/{fraction}")
                yield from self._goes(number, work, source, part, mass)

    def _emptied(self, number: int, work: Work) -> Iterator[Movement]:
        if work.place in self.yard.bins:
            source = self._beds.pop(work.place, None)
        else:
            left = self.yard.heaps.left(work.place, work.time)
            source = Node(NodeKind.BATCH, left) if left else None
        if source is not None:
            gone = Node(NodeKind.GONE, str(number))
            yield from self._taken(number, work, source, gone, amount_of(work), whole=True)

    def _made_lot(self, number: int, work: Work) -> Iterator[Movement]:
        lot = Node(NodeKind.LOT, work.lot)
        for one in brought_by(work, self.yard.heaps, own=True):
            source = self._source(one)
            if source is not None and source != lot:
                whole = one.amount is None and not self._is_unweighed_part(one.name, source)
                yield from self._taken(number, work, source, lot, one.amount, whole=whole)

    @staticmethod
    def _is_unweighed_part(name: str, source: Node) -> bool:
        """Return whether a name is of a part of a source that no screening weighed, so that nobody knows how much it is."""
        part = harvest_part(name)
        return part is not None and bool(part[1]) and source.id.casefold() != name.strip().casefold()

    def _given(self, number: int, work: Work) -> Iterator[Movement]:
        lot = self._node(work.lot)
        if lot is not None:
            yield from self._taken(number, work, lot, Node(NodeKind.GIVEN, str(number)), amount_of(work))

    def _bed(self, place: str, time: int) -> Node:
        bed = self._beds.get(place)
        if bed is None:
            day, count = f"{place}-{self.yard.day_of(time)}", 1
            id_ = day
            while id_.casefold() in self._nodes:
                count += 1
                id_ = f"{day}-{count}"
            bed = self._beds[place] = self._nodes[id_.casefold()] = Node(NodeKind.BED, id_)
            if not self._empty_before(place, time):
                # Nobody knows how much it was, nor whether any of it is still there.
                earlier = Node(NodeKind.EARLIER, place)
                self.add(Movement(time=time, entry=BEFORE_THE_LOG, source=earlier, target=bed, certain=False))
        return bed

    def _empty_before(self, place: str, time: int) -> bool:
        """Return whether a bin was surely empty when the first of a bed was laid into it, at an instant (UTC ms)."""
        emptied, begun = self.emptied.get(place), self.yard.begun.get(place)
        if emptied is not None and emptied <= time:
            return True
        if begun is None or (emptied is not None and self.yard.day_of(emptied) < begun):
            return False  # nobody said, or of a later bed
        return self.yard.day_of(time) <= begun

    def _node(self, name: str) -> Node | None:
        plain = name.strip().casefold()
        found = self._nodes.get(plain)
        if found is None and (part := harvest_part(plain)) is not None:
            found = self._nodes.get(part[0])  # worms that were picked out, or a fraction that nobody weighed
        return found

    def _shelf(self, material: str) -> Shelf:
        return self.shelves.setdefault(plain_name(material), Shelf(material))

    def _put_on_shelf(self, material: str, node: Node, time: int, mass: Weighed | None) -> None:
        wet, dry, measured = (None, None, False) if mass is None else (mass.wet_g, mass.dry_g, mass.measured)
        shelf = self._shelf_of[node] = self._shelf(material)
        shelf.receive(OnShelf(node, time, wet, dry, measured))

    def _weighed(self, material: str, amount: Amount | None, moisture: str = "") -> Weighed | None:
        if amount is None:
            return None
        mass = self.yard.scales.weigh(material, amount)
        if mass is not None and moisture:
            dry = round(mass.wet_g * (_PERCENT - float(moisture)) / _PERCENT)
            return Weighed(mass.wet_g, dry, mass.measured)
        return mass
