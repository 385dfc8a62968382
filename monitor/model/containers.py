"""The yard's containers: what a full bucket, barrow or bag holds, as weighed or by its volume."""

import math
import statistics
from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.model.amounts import UNITS, Dimension

CONTAINERS: tuple[str, ...] = tuple(unit.id for unit in UNITS.values() if unit.dimension is Dimension.CONTAINERS)
"""The containers that amounts are given in."""


@dataclass(frozen=True, slots=True)
class Content:
    """The mass of some containers of one material, in grams.

    Attributes:
        mass_g: The mass.
        error_g: Its standard error, from the spread of the weighings; None where it was not weighed twice.
        weighed: How many full ones were weighed; 0: it is estimated by volume and density.
    """

    mass_g: float
    error_g: float | None
    weighed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Container:
    """A container of the yard.

    Attributes:
        volume_ml: Volume, filled level; None if nobody said.
        tare_g: Its own mass, empty.
        full_g: By material, the masses of full ones with the container, as weighed.
    """

    volume_ml: int | None = None
    tare_g: int = 0
    full_g: Mapping[str, tuple[int, ...]] = field(default_factory=dict)

    def content(self, material: str, count: float, density_kg_m3: float | None) -> Content | None:
        """Return the content of full containers of a material; None if nobody can say.

        Weighings count before the volume: their mean less the tare, and as its error the standard error of the mean times the
        number of containers.

        Args:
            material: Its name; capitals do not matter.
            count: How many containers, parts of one too.
            density_kg_m3: The material's loose density, kg/m³; None if unknown.
        """
        weighed = next((masses for name, masses in self.full_g.items() if name.casefold() == material.casefold()), ())
        if weighed:
            error = statistics.stdev(weighed) / math.sqrt(len(weighed)) if len(weighed) > 1 else None
            mass = (statistics.fmean(weighed) - self.tare_g) * count
            return Content(mass, None if error is None else error * count, len(weighed))
        if self.volume_ml is None or density_kg_m3 is None:
            return None
        return Content(self.volume_ml * density_kg_m3 / 1000 * count, None, 0)
