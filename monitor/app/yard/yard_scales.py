"""Tells what amounts weigh in this yard, and where heaps lay: what the log of material is read with."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from monitor.configuration import Configuration
from monitor.material import Weighed
from monitor.mix import Feedstock, known_feedstocks
from monitor.model.amounts import Amount, Dimension
from monitor.model.containers import Container
from monitor.model.settings import Settings
from monitor.model.work import Work
from monitor.model.work_kinds import Where, declared

if TYPE_CHECKING:
    from monitor.piles import Batch


@dataclass(frozen=True, slots=True)
class YardScales:
    """Tells the mass of amounts by the yard's own weighings, else by volume and loose density."""

    feedstocks: Mapping[str, Feedstock]
    containers: Mapping[str, Container] = field(default_factory=dict)

    def weigh(self, material: str, amount: Amount) -> Weighed | None:
        """Return the mass of an amount; None if nobody can say.

        Args:
            material: Its name; capitals do not matter.
            amount: The amount.
        """
        known = self.feedstocks.get(" ".join(material.casefold().split()))
        density = None if known is None or known.density is None else known.density.typical
        wet, measured = self._wet(material, amount, density)
        if wet is None:
            return None
        return Weighed(wet, None if known is None else round(wet * known.dry_share), measured)

    def _wet(self, material: str, amount: Amount, density: float | None) -> tuple[int | None, bool]:
        if amount.dimension is Dimension.MASS:
            return amount.base, True
        if amount.dimension is Dimension.VOLUME and amount.base is not None and density is not None:
            return round(amount.base * density / 1000), False
        if amount.dimension is Dimension.CONTAINERS and amount.unit in self.containers:
            held = self.containers[amount.unit].content(material, float(amount.count), density)
            if held is not None:
                return round(held.mass_g), held.weighed > 0
        return None, False


def feedstocks_by_name() -> dict[str, Feedstock]:
    """Return the known feedstocks by their names in small letters."""
    return {name.casefold(): one for name, one in known_feedstocks().items()}


def scales_of(configuration: Configuration) -> YardScales:
    """Return the scales of a yard, which tell the mass of amounts."""
    return YardScales(feedstocks_by_name(), configuration.containers)


def where_heaps_lay(batches: "Iterable[Batch]") -> list[Any]:
    """Return where the engine's batches lay, and what became of them, as plain values, which JSON can hold."""
    return [
        [one.batch, one.built, one.parent, one.merged_into, one.ended, [[s.pile, s.start, s.end] for s in one.spans]]
        for one in batches
    ]


def bins_of(settings: Settings, works: Iterable[Work]) -> Collection[str]:
    """Return the ids of the worm bins, also of former ones: only bins are fed and harvested."""
    found = set(settings.bins)
    for work in works:
        if declared(work.kind).where is Where.BIN and work.place not in settings.piles:
            found.add(work.place)
    return found
