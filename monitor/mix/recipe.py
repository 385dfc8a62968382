"""Works out a mix: how much of each material, and how much water, within limits that are kept in a fixed order.

1. The materials of `whole` go in as they are; of the others as much as is needed, up to what there is.
2. First what must hold: moisture, density where somebody named one, C/N. Then what should: moisture, density, free air, C/N,
   and last its aim. Each is kept as well as those before it allow. Water can be added and never taken away.
3. Then what rots soonest is used up, as little as possible is bought, and of the rest as little as possible is used.
4. Where nothing fits, the nearest mix is returned, with the limits that it breaks and the smallest amount of one material that
   would mend it.

Amounts are whole grams, rounded at the very end.
"""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from monitor.mix.blend import SETTLED, WATER_KG_M3, BlendFigures, Part, figures_of, solids_and_water_m3
from monitor.mix.bounds import Bound, bounds_of
from monitor.mix.limits import Band, MixLimits
from monitor.mix.linear import LinearProgram
from monitor.mix.materials import EVERYTHING, Feedstock

_WATER = "the water"
_HEAVIEST_KG = 1e6
_MOST_TIMES = 20
"""How many times what goes in whole a mix may take of one material: beyond that it would be another heap. Ours."""
_TRACE = 2e-4
"""The share of what goes in whole below which nobody weighs anything out. Ours."""
_STEPS, _NO_STEP = 50, 1e-9


@dataclass(frozen=True, slots=True)
class Offer:
    """A material of which as much goes in as is needed: up to `most_g` grams, or None if more can be had."""

    material: Feedstock
    most_g: int | None = None


@dataclass(frozen=True, slots=True)
class Mending:
    """The smallest further amount of one material, in grams, with which the mix would keep what must hold."""

    material: Feedstock
    more_g: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """A mix.

    Attributes:
        fits: Whether its figures keep everything that must hold, as nearly as they are told (`bounds`).
        parts: Its materials in the order given, without those of which nothing goes in.
        water_g: Water to add, in grams.
        figures: Its figures.
        bounds: The limits that it reaches or breaks.
        limits: The limits that it was worked out for.
        mending: What would make it fit; None if it fits, or if no material would.
    """

    fits: bool
    parts: tuple[Part, ...]
    water_g: int
    figures: BlendFigures
    bounds: tuple[Bound, ...]
    limits: MixLimits
    mending: Mending | None = None


def work_out(
    whole: Sequence[Part], offers: Sequence[Offer], limits: MixLimits, others: Sequence[Feedstock] = ()
) -> Recipe:
    """Work out a mix.

    Args:
        whole: What goes in as it is, at least one part.
        offers: What may go in.
        limits: What the mix must and should be.
        others: Materials that could mend a mix that does not fit, beside the offers.

    Returns:
        The mix; where nothing fits, the nearest.

    Raises:
        ValueError: Nothing goes in, a material is named twice, or an amount is beyond a thousand tonnes.
        MisuseError: The solver is not installed.
    """
    _check(whole, offers)
    amounts, kept = _Mixing(whole, offers, limits).best()
    traces_g = _TRACE * sum(part.mass_g for part in whole)
    recipe = _weighed_out(whole, offers, limits, amounts, traces_g)
    if kept and not recipe.fits:
        recipe = _weighed_out(whole, offers, limits, amounts, 0.0)  # a trace of it decides
    if not kept and recipe.fits and limits.density_is_hard and recipe.figures.density is None:
        heavy = Bound("density", "most", limits.density_most, broken=True)
        recipe = replace(recipe, fits=False, bounds=(*recipe.bounds, heavy))
    return recipe if recipe.fits else replace(recipe, mending=_mending(whole, offers, limits, others))


def _weighed_out(
    whole: Sequence[Part],
    offers: Sequence[Offer],
    limits: MixLimits,
    amounts: Mapping[str, float],
    traces_g: float,
) -> Recipe:
    """Return the mix of some amounts (kg) in whole grams, less traces; it fits if none of its figures breaks a limit."""
    taken = [Part(offer.material, _grams(amounts[offer.material.name], offer.most_g, traces_g)) for offer in offers]
    parts = tuple(part for part in (*whole, *taken) if part.mass_g)
    water_g = _grams(amounts[_WATER], None, traces_g)
    figures = figures_of(parts, water_g)
    bounds = (*bounds_of(figures, limits), *_used_up(offers, taken))
    return Recipe(
        fits=not any(bound.broken for bound in bounds),
        parts=parts,
        water_g=water_g,
        figures=figures,
        bounds=bounds,
        limits=limits,
    )


@dataclass(frozen=True, slots=True)
class _Ratio:
    """A figure of a mix as one sum over another: what a kilogram of each material adds to both.

    `scale` makes the figure of it (100 for percent); `water` is what a kilogram of water adds.
    """

    over: Callable[[Feedstock], float]
    under: Callable[[Feedstock], float]
    water: tuple[float, float]
    scale: float = 1.0


def _loose_m3(one: Feedstock) -> float:
    # A material of unknown density takes no room here; the mix then states no density.
    return 0.0 if one.density is None else SETTLED.typical / one.density.typical


_MOISTURE = _Ratio(lambda one: one.moisture.typical / EVERYTHING, lambda _: 1.0, (1.0, 1.0), EVERYTHING)
_CN = _Ratio(lambda one: one.carbon_share, lambda one: one.nitrogen_share, (0.0, 0.0))
_DENSITY = _Ratio(lambda one: 1.0 if one.density is not None else 0.0, _loose_m3, (1.0, 0.0))
_FILLED = _Ratio(
    lambda one: 0.0 if one.density is None else solids_and_water_m3(one, one.moisture.typical),
    _loose_m3,
    (1 / WATER_KG_M3, 0.0),
    EVERYTHING,
)
"""The part of the volume that is not air."""


def _ends(band: Band) -> tuple[tuple[int, float], ...]:
    """Return the ends of a band: (1, at most) and (-1, at least)."""
    return (1, band.high), (-1, band.low)


class _Mixing:
    """The linear program of a mix; amounts are in kilograms."""

    def __init__(self, whole: Sequence[Part], offers: Sequence[Offer], limits: MixLimits) -> None:
        self._whole, self._offers, self._limits = whole, offers, limits
        self._program = LinearProgram()
        most = _MOST_TIMES * sum(part.mass_g for part in whole) / 1000
        for offer in offers:
            there = most if offer.most_g is None else min(most, offer.most_g / 1000)
            self._program.unknown(offer.material.name, there)
        self._program.unknown(_WATER, most)
        self._stands = {offer.material.name: 0.0 for offer in offers} | {_WATER: 0.0}

    def best(self) -> tuple[dict[str, float], bool]:
        """Return the amounts, and whether everything holds that must."""
        limits, heavy = self._limits, Band(-math.inf, self._limits.density_most)
        must = [self._keep(_MOISTURE, limits.moisture)]
        if limits.density_is_hard:
            must.append(self._keep(_DENSITY, heavy))
        must.append(self._keep(_CN, limits.cn))
        self._keep(_MOISTURE, limits.moisture_aim)
        self._keep(_DENSITY, heavy)
        self._keep(_FILLED, Band(-math.inf, EVERYTHING - limits.free_air_least))
        self._keep(_CN, limits.cn_aim)
        self._keep(_CN, Band(limits.cn_goal, limits.cn_goal))
        for offer in self._rotting_first():
            self._reach({offer.material.name: -1.0})
        self._reach({offer.material.name: 1.0 for offer in self._offers if offer.most_g is None})
        self._reach({offer.material.name: 1.0 for offer in self._offers})
        return self._reach({_WATER: 1.0}), all(must)

    def least_of(self, name: str) -> float | None:
        """Return the least amount of one offer, in kg, with which everything holds that must; None if none does."""
        limits = self._limits
        must = [(_MOISTURE, limits.moisture), (_CN, limits.cn)]
        must += [(_DENSITY, Band(-math.inf, limits.density_most))] if limits.density_is_hard else []
        for ratio, band in must:
            for sign, end in _ends(band):
                self._demand(ratio, end, sign)
        found = self._program.least({name: 1.0})
        return None if found is None else found[name]

    def _keep(self, ratio: _Ratio, band: Band) -> bool:
        """Keep a figure in a band, or as near to it as can be, and return whether it lies there.

        The mixes that are left form a convex set, on which a ratio takes every value between two that it takes: if each end of
        the band can be kept, both can.
        """
        beyond = next((sign for sign, end in _ends(band) if not self._can_keep(ratio, end, sign)), 0)
        if not beyond:
            for sign, end in _ends(band):
                self._demand(ratio, end, sign)
            return True
        nearest = self._nearest(ratio, beyond)
        if nearest is not None:
            self._demand(ratio, nearest, beyond)
        return False

    def _can_keep(self, ratio: _Ratio, end: float, sign: int) -> bool:
        return math.isinf(end) or self._program.possible(*self._row(ratio, end, sign))

    def _nearest(self, ratio: _Ratio, sign: int) -> float | None:
        """Return the lowest (`sign` 1) or highest value that a ratio can take; None if nothing is under its line.

        Each step asks which mix is furthest beyond the value reached, and takes that mix's value (Dinkelbach 1967).
        """
        amounts = self._least(self._row(ratio, 0.0, 0)[0])
        reached = self._value(ratio, amounts)
        for _ in range(_STEPS):
            if reached is None:
                return None
            further = self._value(ratio, self._least(self._row(ratio, reached, sign)[0]))
            if further is None or sign * (reached - further) <= _NO_STEP * max(1.0, abs(reached)):
                return reached
            reached = further
        return reached

    def _row(self, ratio: _Ratio, value: float, sign: int) -> tuple[dict[str, float], float]:
        """Return the demand that a ratio is at most (`sign` 1) or at least (-1) a value; 0: the sum under its line, below 0."""
        held = value / ratio.scale

        def weight(over: float, under: float) -> float:
            return sign * (over - held * under) if sign else -under

        weights = {
            one.material.name: weight(ratio.over(one.material), ratio.under(one.material)) for one in self._offers
        }
        weights[_WATER] = weight(*ratio.water)
        stands = sum(weight(ratio.over(one.material), ratio.under(one.material)) * one.mass_g for one in self._whole)
        return weights, -stands / 1000

    def _value(self, ratio: _Ratio, amounts: Mapping[str, float]) -> float | None:
        parts = [(one.material, one.mass_g / 1000) for one in self._whole]
        parts += [(one.material, amounts[one.material.name]) for one in self._offers]
        over = sum(ratio.over(material) * mass for material, mass in parts) + ratio.water[0] * amounts[_WATER]
        under = sum(ratio.under(material) * mass for material, mass in parts) + ratio.water[1] * amounts[_WATER]
        return ratio.scale * over / under if under > 0 else None

    def _demand(self, ratio: _Ratio, value: float, sign: int) -> None:
        if math.isfinite(value):
            self._program.at_most(*self._row(ratio, value, sign))

    def _reach(self, goal: Mapping[str, float]) -> dict[str, float]:
        """Find the mix of the least weighted sum, and hold that sum from now on."""
        found = self._least(goal)
        if goal:
            self._program.at_most(goal, sum(weight * found[name] for name, weight in goal.items()))
        return found

    def _least(self, goal: Mapping[str, float]) -> dict[str, float]:
        found = self._program.least(goal)
        # Only what can be kept is ever demanded. Where that leaves a single point, rounding may hide even this from the solver.
        if found is not None:
            self._stands = found
        return self._stands

    def _rotting_first(self) -> list[Offer]:
        rotting = [one for one in self._offers if one.most_g is not None and one.material.spoils]
        return sorted(rotting, key=lambda one: (-one.material.moisture.typical, one.material.own_cn or math.inf))


def _check(whole: Sequence[Part], offers: Sequence[Offer]) -> None:
    if not any(part.mass_g > 0 for part in whole):
        raise ValueError("a mix needs a material that goes in whole; name its amount")
    names = [part.material.name for part in whole] + [offer.material.name for offer in offers]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise ValueError(f"{twice} is named twice; name each material once")
    if max(*(part.mass_g for part in whole), *(offer.most_g or 0 for offer in offers), 0) > _HEAVIEST_KG * 1000:
        raise ValueError("an amount is more than a thousand tonnes; is its unit right?")


def _grams(kilograms: float, most_g: int | None, traces_g: float) -> int:
    grams = round(kilograms * 1000)
    if grams < traces_g:
        return 0
    return grams if most_g is None else min(grams, most_g)


def _used_up(offers: Sequence[Offer], taken: Sequence[Part]) -> Iterator[Bound]:
    """Yield the materials that are used up."""
    for offer, part in zip(offers, taken, strict=True):
        if offer.most_g and part.mass_g >= offer.most_g:
            yield Bound(offer.material.name, "most", offer.most_g / 1000)


def _mending(
    whole: Sequence[Part], offers: Sequence[Offer], limits: MixLimits, others: Sequence[Feedstock]
) -> Mending | None:
    """Return the smallest further amount of one material with which everything holds that must; None if there is none."""
    limited = [offer for offer in offers if offer.most_g is not None]
    found = [_more_of(whole, offers, limits, offer.material) for offer in limited]
    if not any(found):
        # Nothing of what is there would do, however much there were of it.
        named = {offer.material.name for offer in offers} | {part.material.name for part in whole}
        found = [_more_of(whole, offers, limits, material) for material in others if material.name not in named]
    return min((one for one in found if one is not None), key=lambda one: one.more_g, default=None)


def _more_of(whole: Sequence[Part], offers: Sequence[Offer], limits: MixLimits, material: Feedstock) -> Mending | None:
    there = next((offer.most_g or 0 for offer in offers if offer.material is material), 0)
    freed = [*(offer for offer in offers if offer.material is not material), Offer(material)]
    least = _Mixing(whole, freed, limits).least_of(material.name)
    return None if least is None else Mending(material, math.ceil(least * 1000 - there))
