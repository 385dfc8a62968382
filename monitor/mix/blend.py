"""The figures of a mix whose amounts are known, each with the range that the materials' own ranges leave.

1. Sums of water, dry matter, carbon and nitrogen decide. C/N is never a mean of the materials' ratios: a barrow of wet grass
   holds little dry matter, and little carbon.
2. Loose volumes settle: the fine falls between the coarse. A mix fills 0.85 of the sum of its parts, within 0.75 and 1.0.
3. Free air by the volumes of water (1,000 kg/m³), organic matter (1,600) and ash (2,500).

Sources: moisture and C/N of a mixture as a university's composting pages give them (seen-2nd); settling: common practice, no
published source; free air: Richard et al. 2004 and Agnew and Leonard 2003, from memory. Check values in the tests.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from monitor.mix.materials import EVERYTHING, Feedstock, Figure

SETTLED = Figure(0.75, 0.85, 1.0)
"""The volume of a mix as a share of the loose volumes of its parts."""
WATER_KG_M3, ORGANIC_KG_M3, ASH_KG_M3 = 1000.0, 1600.0, 2500.0


@dataclass(frozen=True, slots=True)
class Part:
    """An amount of one feedstock: wet mass in grams."""

    material: Feedstock
    mass_g: int

    @property
    def volume_ml(self) -> int | None:
        """Its loose volume in millilitres; None if nobody knows its density."""
        density = self.material.density
        return None if density is None else round(self.mass_g * 1000 / density.typical)


@dataclass(frozen=True, slots=True, kw_only=True)
class BlendFigures:
    """The figures of a mix.

    Attributes:
        mass_g: With its water.
        volume_ml: Settled; None if the density of a part is unknown.
        moisture: % of wet mass.
        cn: Carbon to nitrogen by mass; None if there is no nitrogen.
        cn_without_wood: The same without what is in coarse wood; None if there is no coarse wood, or nothing else.
        density: Settled, kg/m³; None if the density of a part is unknown.
        free_air: % of the settled volume; None if the density of a part is unknown.
    """

    mass_g: int
    volume_ml: int | None
    moisture: Figure
    cn: Figure | None
    cn_without_wood: float | None
    density: Figure | None
    free_air: Figure | None


def figures_of(parts: Sequence[Part], water_g: int = 0) -> BlendFigures:
    """Work out a mix.

    Args:
        parts: Its parts, at least one of them more than nothing.
        water_g: Water added to them, in grams.

    Raises:
        ValueError: There is nothing in it.
    """
    mass = sum(part.mass_g for part in parts) + water_g
    if mass <= water_g:
        raise ValueError("a mix of nothing has no figures")
    moisture = _each(lambda end: (_water(parts, end) + water_g) / mass * EVERYTHING)
    loose = _loose_m3(parts)
    volume = None if loose is None else _each(lambda end: end(loose) * end(SETTLED))
    others = [part for part in parts if not part.material.woody]
    return BlendFigures(
        mass_g=mass,
        volume_ml=None if volume is None else round(volume.typical * 1e6),
        moisture=moisture,
        cn=_cn(parts),
        cn_without_wood=_typical(_cn(others)) if len(others) < len(parts) else None,
        density=None if volume is None else _each(lambda end: mass / 1000 / _other(end)(volume)),
        free_air=None if volume is None else _free_air(parts, water_g, volume),
    )


def solids_and_water_m3(material: Feedstock, moisture: float) -> float:
    """Return the volume in m³ that a kilogram of a feedstock takes up without its air.

    Args:
        material: The feedstock; unknown ash counts as none, which states rather too little free air.
        moisture: Its water, % of wet mass.
    """
    dry = 1 - moisture / EVERYTHING
    ash = 0.0 if material.ash is None else material.ash.typical / EVERYTHING
    return (1 - dry) / WATER_KG_M3 + dry * (1 - ash) / ORGANIC_KG_M3 + dry * ash / ASH_KG_M3


_End = Callable[[Figure], float]


def _low(figure: Figure) -> float:
    return figure.low


def _middle(figure: Figure) -> float:
    return figure.typical


def _high(figure: Figure) -> float:
    return figure.high


def _other(end: _End) -> _End:
    return _high if end is _low else _low if end is _high else end


def _each(worked_out: Callable[[_End], float]) -> Figure:
    """Return a figure whose ends are worked out from one end of each input."""
    return Figure(worked_out(_low), worked_out(_middle), worked_out(_high))


def _typical(figure: Figure | None) -> float | None:
    return None if figure is None else figure.typical


def _water(parts: Sequence[Part], end: _End) -> float:
    return sum(part.mass_g * end(part.material.moisture) for part in parts) / EVERYTHING


def _loose_m3(parts: Sequence[Part]) -> Figure | None:
    filled = [(part.mass_g / 1000, part.material.density) for part in parts if part.mass_g]
    known = [(mass, density) for mass, density in filled if density is not None]
    if len(known) < len(filled):
        return None
    return _each(lambda end: sum(mass / _other(end)(density) for mass, density in known))


def _free_air(parts: Sequence[Part], water_g: int, volume: Figure) -> Figure:
    def at(end: _End) -> float:
        # The wettest material in the smallest volume leaves the least air.
        wettest = _other(end)
        taken = sum(
            part.mass_g / 1000 * solids_and_water_m3(part.material, wettest(part.material.moisture)) for part in parts
        )
        # Where water and solids fill more than the volume, there is no air, and the mix stands in water.
        return max(0.0, (1 - (taken + water_g / 1000 / WATER_KG_M3) / end(volume)) * EVERYTHING)

    return _each(at)


def _cn(parts: Sequence[Part]) -> Figure | None:
    carbon = sum(part.mass_g * part.material.carbon_share for part in parts)
    nitrogen = sum(part.mass_g * part.material.nitrogen_share for part in parts)
    if not nitrogen:
        return None
    typical = carbon / nitrogen
    low, high = _furthest_cn(parts, _low), _furthest_cn(parts, _high)
    return Figure(min(low, typical), typical, max(high, typical))


def _furthest_cn(parts: Sequence[Part], end: _End) -> float:
    """Return the lowest or highest C/N that the ranges of the parts allow.

    Each part pulls with its nitrogen towards its own C/N. At the far end those beyond the mix pull as hard as they can and
    the others as little, so one of the cuts through the parts in order of their C/N is the answer.
    """
    sign = 1 if end is _high else -1
    bare, pulls = 0.0, []
    for part in parts:
        own = part.material
        dry = sorted((part.mass_g * (EVERYTHING - own.moisture.high), part.mass_g * (EVERYTHING - own.moisture.low)))
        if own.cn is not None:
            ratio, richness = end(own.cn), (own.nitrogen.low, own.nitrogen.high)
        else:
            assert own.carbon is not None
            least = _other(end)(own.nitrogen)
            if not least:
                if own.nitrogen.typical:
                    least = own.nitrogen.typical
                else:
                    bare += (dry[1] if sign > 0 else dry[0]) * end(own.carbon)
                    continue
            ratio, richness = end(own.carbon) / least, (least, least)
        pulls.append((ratio, dry[0] * richness[0], dry[1] * richness[1]))
    pulls.sort(key=lambda pull: -sign * pull[0])
    found = []
    for cut in range(len(pulls) + 1):
        weights = [most if number < cut else least for number, (_, least, most) in enumerate(pulls)]
        total = sum(weights)
        if total:
            ratios = zip(weights, pulls, strict=True)
            found.append((bare + sum(weight * pull[0] for weight, pull in ratios)) / total)
    return max(found) if sign > 0 else min(found)
