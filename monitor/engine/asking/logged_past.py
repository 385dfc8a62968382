"""The log as it was before an entry, as far as questions about figures look into it: by kind and place, and the stock."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from monitor.engine.asking.stock_tally import StockTally, plain
from monitor.engine.asking.yard_sizes import YardSizes
from monitor.model.harvest_names import harvest_part, material_name
from monitor.model.settings import YARD
from monitor.model.work import Work, WorkKind

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
        some = self._alike[_key(work)]
        some.append(work)
        del some[:-_KEPT]

    def alike(self, work: Work) -> Sequence[Work]:
        """Return the newest entries of the same kind, place and material, in order of time."""
        return self._alike.get(_key(work), ())

    def newest(self, kind: WorkKind, place: str) -> Work | None:
        """Return the newest entry of a kind at a place that names no material; None if there is none."""
        some = self._alike.get((kind, place, ""), ())
        return some[-1] if some else None

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


def past_of(entries: Iterable[tuple[int, Work]], sizes: YardSizes, until: int) -> LoggedPast:
    """Return the log as it was at an instant.

    Args:
        entries: (number, work as corrected) of the entries that stand, in any order.
        sizes: The sizes of the yard.
        until: The instant, UTC ms; what was done then counts.
    """
    past = LoggedPast(sizes)
    for number, work in sorted((one for one in entries if one[1].time <= until), key=lambda one: (one[1].time, one[0])):
        past.take(number, work)
    return past


def _key(work: Work) -> tuple[str, str, str]:
    return work.kind, work.place, plain(work.what) if work.place == YARD or not harvest_part(work.what) else ""
