"""Masses, volumes and heights as a yard reads them."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.mix import Part
from monitor.model.containers import Container

OFTEN = 12
"""How often a person fills a container of one kind before a larger one is named."""
LEAST_OF_ONE = 0.25
"""The least share of a container that is told: less than that nobody measures with it."""
_LB_G, _FT3_ML, _YD3_ML, _GAL_ML, _IN_MM = 453.59237, 28_316.846592, 764_554.857984, 3_785.411784, 25.4
_FT2_MM2 = 92_903.04
KG_M3_PER_LB_YD3 = _LB_G / 1000 / (_YD3_ML / 1e6)


@dataclass(frozen=True, slots=True)
class Measures:
    """The measures of a yard: US or metric, and its containers."""

    us: bool = False
    containers: Mapping[str, Container] = field(default_factory=dict)

    def carried(self, part: Part) -> str:
        """Return an amount in one of the yard's containers: `3.5 barrows`.

        It is "" if nobody knows what one holds, or if it is too little for any. An amount by volume and density is *about*
        right; one by weighed containers is not called so.
        """
        density = None if part.material.density is None else part.material.density.typical
        held = {
            name: content
            for name, one in self.containers.items()
            if (content := one.content(part.material.name, 1, density)) is not None and content.mass_g > 0
        }
        if not held:
            return ""
        # Of those that were weighed, else of all, the smallest that need not be filled too often; else the largest.
        weighed = [one for one in held if held[one].weighed]
        sizes = sorted(weighed or held, key=lambda one: held[one].mass_g)
        name = next((one for one in sizes if part.mass_g <= OFTEN * held[one].mass_g), sizes[-1])
        count = part.mass_g / held[name].mass_g
        if count < LEAST_OF_ONE:
            return ""
        about = "" if held[name].weighed else "about "
        return f"{about}{_rounded(count, name if abs(count - 1) < 0.05 else name + 's')}"

    def mass(self, grams: float) -> str:
        """Return a mass in kg or lb."""
        return _rounded(grams / _LB_G, "lb") if self.us else _rounded(grams / 1000, "kg")

    def mass_written(self, grams: float) -> str:
        """Return a mass as the log keeps it, to a tenth of its unit: `661.4 lb`, `300 kg`."""
        return _tenths(grams / _LB_G, "lb") if self.us else _tenths(grams / 1000, "kg")

    def water_written(self, grams: float) -> str:
        """Return an amount of water as the log keeps it: `12.5 gal`, `47.3 L`."""
        return _tenths(grams / _GAL_ML, "gal") if self.us else _tenths(grams / 1000, "L")

    def volume(self, millilitres: float) -> str:
        """Return a volume of material in L or m³, or in ft³ or yd³."""
        if self.us:
            yards = millilitres / _YD3_ML
            return f"{yards:.1f} yd³" if yards >= 1 else _rounded(millilitres / _FT3_ML, "ft³")
        return f"{millilitres / 1e6:.1f} m³" if millilitres >= 1e6 else _rounded(millilitres / 1000, "L")

    def water(self, grams: float) -> str:
        """Return an amount of water in L or gal."""
        return _rounded(grams / _GAL_ML, "gal") if self.us else _rounded(grams / 1000, "L")

    def height(self, millimetres: float) -> str:
        """Return a height in m or ft."""
        return f"{millimetres / _IN_MM / 12:.1f} ft" if self.us else f"{millimetres / 1000:.1f} m"

    def layer(self, millimetres: float) -> str:
        """Return the thickness of a layer in mm or in."""
        return f"{millimetres / _IN_MM:.1f} in" if self.us else f"{millimetres:.0f} mm"

    def depth(self, millimetres: float) -> str:
        """Return the depth of a bed in cm or in."""
        return _rounded(millimetres / _IN_MM, "in") if self.us else _rounded(millimetres / 10, "cm")

    def area(self, square_mm: float) -> str:
        """Return an area in m² or ft²."""
        return _rounded(square_mm / _FT2_MM2, "ft²") if self.us else _rounded(square_mm / 1e6, "m²")

    def stocking(self, grams: float, square_mm: float) -> str:
        """Return a mass on an area in kg/m² or lb/ft²."""
        if self.us:
            return f"{grams / _LB_G / (square_mm / _FT2_MM2):.2g} lb/ft²"
        return f"{grams / 1000 / (square_mm / 1e6):.2g} kg/m²"

    def density(self, kg_m3: float) -> str:
        """Return a density in kg/m³ or lb/yd³."""
        return f"{kg_m3 / KG_M3_PER_LB_YD3:.0f} lb/yd³" if self.us else f"{kg_m3:.0f} kg/m³"


def _tenths(value: float, unit: str) -> str:
    return f"{value:.1f}".removesuffix(".0") + f" {unit}"


def _rounded(value: float, unit: str) -> str:
    return f"{value:.0f} {unit}" if value >= 100 else _tenths(value, unit)
