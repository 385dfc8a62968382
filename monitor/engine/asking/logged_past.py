"""The log as it was before an entry, as far as questions about figures look into it: by kind and place, and the stock."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from monitor.engine.asking.stock_tally import StockTally, named_amounts, plain
from monitor.engine.asking.yard_sizes import YardSizes
from monitor.model.harvest_names import harvest_part, material_name
from monitor.model.mix_parts import parts_of
from monitor.model.work import Work, WorkKind
from monitor.model.work_entry import fraction_of
from monitor.model.work_kinds import FRACTIONS, declared

_KEPT = 24
"""So many of the newest entries of each kind and place are looked into."""


@dataclass(slots=True)
class LoggedPast:
    """The log before an entry; entries are taken in order of time."""

    sizes: YardSizes
    stock: StockTally = field(init=False)
    _alike: dict[tuple[str, str, str], list[Work]] = field(default_factory=lambda: defaultdict(list))
    _harvests: dict[int, Work] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Begin with an empty stock."""
        self.stock = StockTally(self.sizes)

    def take(self, number: int, work: Work) -> None:
        """Take an entry, which has this number (0: none yet)."""
        self.stock.take(number, work)
        if work.kind is WorkKind.HARVESTED and number:
            self._harvests[number] = work
        if work.kind is WorkKind.SCREENED:
            self._screened(work)
        some = self._alike[_key(work)]
        some.append(work)
        del some[:-_KEPT]

    def _screened(self, work: Work) -> None:
        found, part = self.harvest_of(work), harvest_part(work.what)
        name = found[0] if found is not None else "/".join(filter(None, part or ()))
        for fraction in FRACTIONS if name else ():
            if amount := fraction_of(work, fraction):
                self.stock.screened(f"{name}/{fraction}", amount)

    def alike(self, work: Work) -> Sequence[Work]:
        """Return the newest entries of the same kind, place and material, in order of time."""
        return self._alike.get(_key(work), ())

    def measured(self, place: str) -> Work | None:
        """Return the newest look into a bin at which the depth of its bed was measured; None if there is none."""
        looks = self._alike.get((WorkKind.INSPECTED, place, ""), ())
        return next((one for one in reversed(looks) if one.depth), None)

    def harvest_of(self, work: Work) -> tuple[str, Work] | None:
        """Return the harvest that a screening is of, with its name: the one that it names, else the newest of its bin."""
        part = harvest_part(material_name(work))
        if work.what.strip():
            if part is None or part[1]:
                return None  # of something else, or the second screening of a part
            number = int(part[0][1:]) if part[0][1:].isdigit() else 0
        else:
            number = max((one for one, harvest in self._harvests.items() if harvest.place == work.place), default=0)
        found = self._harvests.get(number)
        return None if found is None else (f"h{number}", found)


def past_of(entries: Iterable[tuple[int, Work]], sizes: YardSizes, asked: Work) -> LoggedPast:
    """Return the log as it was when a piece of work was done, as far as it bears on that.

    Args:
        entries: (number, work as corrected) of the entries that stand, in any order.
        sizes: The sizes of the yard.
        asked: The work; what was done at its very instant counts.
    """
    entries = [one for one in entries if one[1].time <= asked.time]
    names = _materials(entries, asked)
    bearing = [one for one in entries if _bears(one[1], asked, names)]
    past = LoggedPast(sizes)
    for number, work in sorted(bearing, key=lambda one: (one[1].time, one[0])):
        past.take(number, work)
    return past


def _materials(entries: Sequence[tuple[int, Work]], asked: Work) -> set[str]:
    """Return the names by which entries can speak of the materials of one: those materials, and the deliveries of each."""
    said = {plain(name) for name, _ in named_amounts(asked)}
    brought = [(f"d{number}", plain(work.what)) for number, work in entries if work.kind is WorkKind.DELIVERY]
    said |= {what for id_, what in brought if id_ in said}
    return said | {id_ for id_, what in brought if what in said}


def _bears(work: Work, asked: Work, names: set[str]) -> bool:
    if work.place == asked.place and work.kind in (asked.kind, WorkKind.INSPECTED):
        return True
    if work.kind in (WorkKind.HARVESTED, WorkKind.SCREENED):
        return True
    # Amounts are read only where a name fits: that takes longest.
    if work.parts:
        return any(plain(one.name) in names for one in parts_of(work.parts))
    return any(plain(one) in names for one in work.what.split(","))


def _key(work: Work) -> tuple[str, str, str]:
    # Of food it matters how much there is, and not of what; what else comes is compared with its like.
    by_name = not declared(work.kind).feeds and harvest_part(work.what) is None
    return work.kind, work.place, plain(work.what) if by_name else ""
