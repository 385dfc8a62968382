"""The sizes of a yard that questions about figures need and the engine's settings do not have: bins, and what things weigh."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.material import Scales, Weighed
from monitor.model.amounts import Amount, Dimension

_LB_G, _IN_MM, _L_ML, _GAL_ML = 453.59237, 25.4, 1000, 3785.411784
DEEPEST_MM = 1000
"""No worm bed is deeper than this (ours), so a bin whose rim nobody measured holds no more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BedSpace:
    """The space in a bin; None where nobody said.

    Attributes:
        surface_mm2: Its surface, square millimetres.
        rim_mm: The height of its rim above floor or grate.
        depth_mm: The depth of its bed by the configuration.
    """

    surface_mm2: int | None = None
    rim_mm: int | None = None
    depth_mm: int | None = None

    @property
    def volume_ml(self) -> int | None:
        """All that it can hold, mL; None if nobody measured its surface."""
        if self.surface_mm2 is None:
            return None
        return self.surface_mm2 * (self.rim_mm or DEEPEST_MM) // 1000


@dataclass(frozen=True, slots=True)
class NoScales:
    """Scales that know masses alone."""

    def weigh(self, material: str, amount: Amount) -> Weighed | None:
        """Return the mass of an amount that is one; None for any other."""
        del material
        return Weighed(amount.base) if amount.dimension is Dimension.MASS and amount.base is not None else None


@dataclass(frozen=True, slots=True)
class YardSizes:
    """The sizes of a yard.

    Attributes:
        beds: The space in each bin.
        scales: Tells the mass of amounts.
    """

    beds: Mapping[str, BedSpace] = field(default_factory=dict)
    scales: Scales = field(default_factory=NoScales)


def mass_words(grams: float, *, us: bool) -> str:
    """Return a mass in words: `300 lb`, `12.5 kg`."""
    return _rounded(grams / _LB_G, "lb") if us else _rounded(grams / 1000, "kg")


def depth_words(millimetres: float, *, us: bool) -> str:
    """Return a depth in words: `16 in`, `40 cm`."""
    return _rounded(millimetres / _IN_MM, "in") if us else _rounded(millimetres / 10, "cm")


def volume_words(millilitres: float, *, us: bool) -> str:
    """Return a volume in words: `120 gal`, `450 L`."""
    return _rounded(millilitres / _GAL_ML, "gal") if us else _rounded(millilitres / _L_ML, "L")


def _rounded(number: float, unit: str) -> str:
    return f"{number:.0f} {unit}" if number >= 20 else f"{number:.3g} {unit}"
