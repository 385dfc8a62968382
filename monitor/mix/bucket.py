"""The bucket test: a bucket of the mix, filled in thirds and settled each time, tells its density and its free air.

The mass in it by its volume is the density; the water that then fills it up to the brim, by its volume, is the free air.
Source: the figure of pounds a cubic yard from a 5-gal bucket follows from the exact units; the test itself is common practice,
no published source.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from monitor.mix.blend import BlendFigures, Part, solids_and_water_m3
from monitor.mix.bounds import Bound, air_bounds
from monitor.mix.materials import EVERYTHING, Figure
from monitor.mix.recipe import Recipe

BUCKET_ML = 18_927
"""A bucket of 5 US gallons, to the brim. A pound in it is 40.39 lb/yd³."""
LIGHTEST_KG_M3, HEAVIEST_KG_M3 = 30.0, 1_400.0
"""Between which densities a mix can be: beyond them a bucket was weighed wrong, or its volume is another. Ours."""


@dataclass(frozen=True, slots=True)
class BucketTest:
    """A bucket of the mix, filled and settled.

    Attributes:
        mass_g: The mix in it, without the bucket.
        bucket_ml: What it holds to the brim.
        water_ml: The water that filled it up; None if none was poured.

    Raises:
        ValueError: No mix is so light or heavy, or more water went in than the bucket holds.
    """

    mass_g: int
    bucket_ml: int = BUCKET_ML
    water_ml: int | None = None

    def __post_init__(self) -> None:
        """Refuse what no bucket of a mix can be."""
        if not LIGHTEST_KG_M3 <= self.density <= HEAVIEST_KG_M3:
            raise ValueError(
                f"a mix of {self.density:.0f} kg/m³ cannot be; weigh it without the bucket, and say what the bucket holds"
            )
        if self.water_ml is not None and self.water_ml >= self.bucket_ml:
            raise ValueError("more water went in than the bucket holds; it shows only the room that the mix leaves")

    @property
    def density(self) -> float:
        """The settled density, kg/m³."""
        return self.mass_g * 1000 / self.bucket_ml

    @property
    def free_air(self) -> float | None:
        """Free air, % of volume; None if no water was poured."""
        return None if self.water_ml is None else self.water_ml / self.bucket_ml * EVERYTHING


def measured(recipe: Recipe, test: BucketTest) -> Recipe:
    """Return a mix whose density and free air are those of a bucket of it, instead of those worked out.

    Args:
        recipe: The mix.
        test: The bucket. Where no water was poured, free air is worked out from the density that was measured.

    Returns:
        The mix with its volume, and with the limits that it then reaches or breaks.
    """
    air = test.free_air
    if air is None:
        air = max(
            0.0, EVERYTHING - _filled(recipe.parts, recipe.water_g, recipe.figures.mass_g) * test.density * EVERYTHING
        )
    figures: BlendFigures = replace(
        recipe.figures,
        volume_ml=round(recipe.figures.mass_g * test.bucket_ml / test.mass_g),
        density=Figure.known(test.density),
        free_air=Figure.known(air),
    )
    bounds: list[Bound] = [one for one in recipe.bounds if one.what not in ("density", "free air")]
    bounds += air_bounds(figures, recipe.limits)
    fits = not any(one.broken for one in bounds)
    mending = None if fits else recipe.mending
    return replace(recipe, figures=figures, bounds=tuple(bounds), fits=fits, mending=mending)


def _filled(parts: Sequence[Part], water_g: int, mass_g: int) -> float:
    """Return the volume in m³ that a kilogram of a mix takes up without its air."""
    taken = sum(part.mass_g * solids_and_water_m3(part.material, part.material.moisture.typical) for part in parts)
    return (taken + water_g / 1000) / mass_g
