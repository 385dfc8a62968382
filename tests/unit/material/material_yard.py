"""A yard for tests of the graph: heaps by a naive book, amounts in kilograms, and dry matter at half of the mass."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.material import MaterialRecord, Weighed, YardOfMaterial, read_log
from monitor.model.amounts import Amount, Dimension
from monitor.model.times import DAY_MS
from monitor.model.work import Work, WorkKind

BINS = ("b1", "b2")


@dataclass
class NaiveHeaps:
    """Heaps by the simplest book that can be: each `built` begins one, whole ones go, emptied ones end."""

    works: list[Work]
    _names: dict[tuple[str, int], str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        lying: dict[str, str] = {}
        self._gone: dict[str, list[tuple[int, str]]] = {}
        self._after: list[tuple[int, dict[str, str]]] = [(-1, {})]
        for work in sorted(self.works, key=lambda one: one.time):
            if work.kind is WorkKind.BUILT or (work.kind is WorkKind.ADDED and work.place not in lying):
                lying[work.place] = f"{work.place}-{work.time}"
            elif work.kind in (WorkKind.MOVED, WorkKind.MERGED) and work.place in lying:
                gone = lying.pop(work.place)
                if work.to in lying:
                    self._gone[gone] = [(work.time, lying[work.to])]
                elif work.to not in BINS:
                    lying[work.to] = gone
            elif work.kind is WorkKind.SPLIT and work.place in lying and work.to not in BINS:
                lying.setdefault(work.to, f"{work.to}-{work.time}")
            elif work.kind is WorkKind.EMPTIED:
                lying.pop(work.place, None)
            self._after.append((work.time, dict(lying)))

    def left(self, place: str, time: int) -> str:
        return next(lying for at, lying in reversed(self._after) if at < time).get(place, "") or self.lying(place, time)

    def lying(self, place: str, time: int) -> str:
        return next(lying for at, lying in reversed(self._after) if at <= time).get(place, "")

    def there(self, place: str, time: int) -> list[str]:
        before = next(lying for at, lying in reversed(self._after) if at < time)
        then = [before, *(lying for at, lying in self._after if at == time)]
        return list(dict.fromkeys(lying[place] for lying in then if place in lying))

    def takers(self, place: str, to: str, time: int) -> list[str]:
        into = next((into for at, into in self._gone.get(self.left(place, time), ()) if at == time), "")
        found = into or self.lying(to, time) or self.left(to, time)
        return [found] if found else []

    def named(self, name: str) -> str:
        known = {one for _, lying in self._after for one in lying.values()}
        return next((one for one in known if one.casefold() == name.strip().casefold()), "")

    def belongs_to(self, batch: str, time: int) -> str:
        while into := next((into for at, into in self._gone.get(batch, ()) if at <= time), ""):
            batch = into
        return batch

    def built(self, batch: str) -> int:
        return int(batch.rpartition("-")[2])

    def split_off(self, batch: str) -> tuple[str, str, int] | None:
        return None  # by this book a part is a heap of its own from the beginning


class HalfDry:
    """Scales by which a litre weighs half a kilogram, a bucket nobody knows what, and feedstocks are half water."""

    def weigh(self, material: str, amount: Amount) -> Weighed | None:
        if amount.base is None:
            return None
        if amount.dimension is Dimension.MASS:
            return Weighed(amount.base, amount.base // 2 if material else None)
        return Weighed(amount.base // 2, amount.base // 4 if material else None, measured=False)


def record_of(*works: Work, begun: Mapping[str, str] | None = None) -> MaterialRecord:
    """Return the graph of some entries, which are numbered from 1.

    Args:
        works: The entries.
        begun: The day on which the bed of a bin was begun, such as `day03`; None: that of its first entry.
    """
    first: dict[str, str] = {}
    for work in sorted(works, key=lambda one: one.time):
        for place in (work.place, work.to):
            if place in BINS:
                first.setdefault(place, f"day{work.time // DAY_MS:02}")
    yard = YardOfMaterial(
        heaps=NaiveHeaps(list(works)), scales=HalfDry(), bins=BINS, day_of=lambda at: f"day{at // DAY_MS:02}",
        begun=first if begun is None else begun,
    )  # fmt: skip
    return read_log(enumerate(works, 1), yard)
